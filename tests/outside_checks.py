"""Which check values come from outside, and which were computed with the equation that they check.

A value that somebody printed checks the code. One that was recomputed, derived or fitted pins it: it catches a change, and shows
nothing about the world. Both are kept; only the first are counted as outside checks.
"""

from collections.abc import Iterable, Mapping
from typing import Any

import pytest

PIN = "pin"


def is_printed(row: Mapping[str, str]) -> bool:
    """The value was read in the source that the row names."""
    return row["confidence"].startswith("found")


def named_checks(rows: Iterable[Mapping[str, str]], key: str = "id") -> list[Any]:
    """Parameters of a test, by the row's number; a pin says so in its name."""
    return [pytest.param(row, id=row[key] if is_printed(row) else f"{row[key]}-{PIN}") for row in rows]
