"""The ball bearing that usually turns on a pin."""

from dataclasses import dataclass
from functools import cache

from inventory.standards.table_rows import table_rows, value_of_row


@dataclass(frozen=True, slots=True)
class Bearing:
    """A deep-groove ball bearing of ISO 15, diameter series 2 (62); lengths in mm."""

    bore_mm: float
    outside_diameter_mm: float
    source: str
    confidence: str
    note: str


@cache
def bearings() -> tuple[Bearing, ...]:
    """In order of their bores."""
    return tuple(value_of_row(Bearing, row) for row in table_rows("bearings"))


def usual_bearing(pin_mm: float) -> Bearing | None:
    """Of the pin's own size, else of the next smaller listed one; None below the first.

    >>> usual_bearing(25.0).outside_diameter_mm
    52.0
    """
    return max(
        (one for one in bearings() if one.bore_mm <= pin_mm), key=lambda one: one.bore_mm, default=None
    )
