"""Seating torques of socket set screws by size, alloy steel and cup point; each row names its source."""

from dataclasses import dataclass
from functools import cache
from typing import Literal

from inventory.standards.table_rows import table_rows, value_of_row


@dataclass(frozen=True, slots=True)
class SetScrew:
    """`hex_key` tells in the hand which screw it is."""

    size: str
    thread: Literal["metric", "inch"]
    hex_key: str
    hex_key_mm: float
    torque_nm: float
    source: str
    confidence: str
    note: str


@cache
def set_screws() -> tuple[SetScrew, ...]:
    """Those usual in hubs of sprockets, metric sizes first."""
    return tuple(value_of_row(SetScrew, row) for row in table_rows("set_screws"))
