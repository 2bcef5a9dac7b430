"""Keys and keyseats by shaft diameter, in four systems that must never be mixed up."""

from dataclasses import dataclass
from functools import cache

from inventory.number_checks import positive
from inventory.standards.table_rows import CONFIRMED, table_rows, value_of_row

KEY_STANDARDS = ("ISO 773", "ISO 773 low", "ASME B17.1", "BS 46")

LIMIT_SLACK_MM = 1e-6
"""A shaft this close to a row limit counts as on it: lengths are kept to six decimals."""


@dataclass(frozen=True, slots=True)
class KeySeat:
    """One row of a key table; lengths in mm. A figure that no source shows is None.

    `shaft_depth_mm` and `hub_depth_mm` are t1 and t2 in ISO 773 and BS 46; in ASME B17.1 both are half the
    key height, measured at the side of the keyseat.
    """

    standard: str
    shaft_over_mm: float
    shaft_to_mm: float
    lower_inclusive: bool
    key_type: str
    size: str
    width_mm: float
    height_mm: float | None
    shaft_depth_mm: float | None
    hub_depth_mm: float | None
    source: str
    confidence: str
    note: str

    @property
    def is_confirmed(self) -> bool:
        """Whether the row was read in a source."""
        return self.confidence in CONFIRMED

    @property
    def is_second_choice(self) -> bool:
        return self.standard == "ASME B17.1" and self.key_type != "square"

    def takes_shaft(self, diameter_mm: float) -> bool:
        """Whether the shaft belongs to this row: over the lower limit, up to and including the upper."""
        lowest = (
            self.shaft_over_mm - LIMIT_SLACK_MM
            if self.lower_inclusive
            else self.shaft_over_mm + LIMIT_SLACK_MM
        )
        return lowest < diameter_mm <= self.shaft_to_mm + LIMIT_SLACK_MM


@cache
def key_seats() -> tuple[KeySeat, ...]:
    """Every row of the four key tables, read once; each names its source."""
    return tuple(value_of_row(KeySeat, row) for row in table_rows("keys"))


def key_seats_of(standard: str) -> tuple[KeySeat, ...]:
    """Rows of one key table in order of shaft diameter; of ASME B17.1, which lists two keys side by side, the square ones."""
    if standard not in KEY_STANDARDS:
        raise ValueError(f"`standard` must be one of {', '.join(KEY_STANDARDS)}, got {standard!r}")
    return tuple(row for row in key_seats() if row.standard == standard and not row.is_second_choice)


def key_for_shaft(diameter_mm: float, standard: str) -> KeySeat | None:
    """The key that a shaft or bore takes: over < d <= to, None where the table has none.

    Source: ISO 773 as in GB/T 1095, DIN 6885-3, ASME B17.1, BS 46-1:1958; see each row.

    >>> key_for_shaft(22, "ISO 773").size, key_for_shaft(22.225, "BS 46").width_mm
    ('6 x 6 mm', 6.35)
    """
    diameter = positive("diameter_mm", diameter_mm)
    return next((row for row in key_seats_of(standard) if row.takes_shaft(diameter)), None)


def hub_wall_over_keyseat_mm(hub_diameter_mm: float, *, bore_mm: float, hub_depth_mm: float) -> float:
    """Wall between keyseat and outside of the hub; zero or less where the keyseat breaks through. Sizes as checked."""
    return (hub_diameter_mm - bore_mm) / 2.0 - hub_depth_mm
