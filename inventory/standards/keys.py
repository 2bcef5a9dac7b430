"""Keys and keyseats by shaft diameter, in four systems that must never be mixed up."""

from dataclasses import dataclass
from functools import cache
from math import sqrt
from typing import Literal

from inventory.number_checks import positive
from inventory.standards.rows import CONFIRMED, optional_number, source_titles, table_rows
from inventory.standards.sizes import FLOAT_SLACK_MM, MM_PER_INCH, SAME_NOMINAL_TOLERANCE_MM

KeyStandard = Literal["ISO 773", "ISO 773 low", "ASME B17.1", "BS 46"]
KEY_STANDARDS: tuple[KeyStandard, ...] = ("ISO 773", "ISO 773 low", "ASME B17.1", "BS 46")

LIMIT_SLACK_MM = 1e-6
"""A shaft this close to a row limit counts as on it: lengths are kept to six decimals."""

PARALLEL_KEY_CLEARANCE_IN = 0.005
"""Clearance C over a parallel key in the hub. Source: ASME B17.1, proved on the pairs of Machinery's Handbook
31st ed. p. 2552."""


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
    shaft_depth_plus_mm: float | None
    hub_depth_plus_mm: float | None
    shaft_width_class: str
    hub_width_class: str
    close_width_class: str
    key_width_class: str
    key_height_class: str
    source: str
    confidence: str
    note: str

    @property
    def is_confirmed(self) -> bool:
        return self.confidence in CONFIRMED

    def takes_shaft(self, diameter_mm: float) -> bool:
        """Whether the shaft belongs to this row: over the lower limit, up to and including the upper."""
        lowest = (
            self.shaft_over_mm - LIMIT_SLACK_MM
            if self.lower_inclusive
            else self.shaft_over_mm + LIMIT_SLACK_MM
        )
        return lowest < diameter_mm <= self.shaft_to_mm + LIMIT_SLACK_MM


Key = KeySeat


def _key_seat(row: dict[str, str]) -> KeySeat:
    return KeySeat(
        standard=row["standard"],
        shaft_over_mm=float(row["shaft_over_mm"]),
        shaft_to_mm=float(row["shaft_to_mm"]),
        lower_inclusive=row["lower_inclusive"] == "yes",
        key_type=row["key_type"],
        size=row["size"],
        width_mm=float(row["width_mm"]),
        height_mm=optional_number(row["height_mm"]),
        shaft_depth_mm=optional_number(row["shaft_depth_mm"]),
        hub_depth_mm=optional_number(row["hub_depth_mm"]),
        shaft_depth_plus_mm=optional_number(row["shaft_depth_plus_mm"]),
        hub_depth_plus_mm=optional_number(row["hub_depth_plus_mm"]),
        shaft_width_class=row["shaft_width_class"],
        hub_width_class=row["hub_width_class"],
        close_width_class=row["close_width_class"],
        key_width_class=row["key_width_class"],
        key_height_class=row["key_height_class"],
        source=source_titles(row["source"]),
        confidence=row["confidence"],
        note=row["note"],
    )


@cache
def key_seats() -> tuple[KeySeat, ...]:
    """Every row of the four key tables.

    Returns
    -------
    tuple of KeySeat
        Frozen rows, read once.

    Source
    ------
    Each row names its own.

    Examples
    --------
    >>> len(key_seats())
    81
    """
    return tuple(_key_seat(row) for row in table_rows("keys"))


def key_seats_of(standard: str, *, square: bool = True) -> tuple[KeySeat, ...]:
    """Rows of one key table in order of shaft diameter.

    Parameters
    ----------
    standard : {'ISO 773', 'ISO 773 low', 'ASME B17.1', 'BS 46'}
        Key system.
    square : bool
        Matters in ASME B17.1 only, which lists a square and a rectangular key side by side.

    Returns
    -------
    tuple of KeySeat
        One row per shaft range.

    Raises
    ------
    ValueError
        If the system is not one of the four.

    Source
    ------
    Each row names its own.

    Examples
    --------
    >>> key_seats_of("BS 46")[0].width_mm
    3.175
    """
    if standard not in KEY_STANDARDS:
        raise ValueError(f"`standard` must be one of {', '.join(KEY_STANDARDS)}, got {standard!r}")
    rows = [row for row in key_seats() if row.standard == standard]
    if standard == "ASME B17.1":
        rows = [row for row in rows if row.key_type == ("square" if square else "rectangular")]
    return tuple(rows)


def key_for_shaft(diameter_mm: float, standard: str, *, square: bool = True) -> KeySeat | None:
    """The key that a shaft diameter takes.

    Parameters
    ----------
    diameter_mm : float
        Shaft or bore diameter [mm], above zero.
    standard : {'ISO 773', 'ISO 773 low', 'ASME B17.1', 'BS 46'}
        Key system.
    square : bool
        Square or rectangular key in ASME B17.1 (square is preferred to 6 1/2 in); ignored elsewhere.

    Returns
    -------
    KeySeat or None
        The row with over < d <= to; None where the table has none. Only the first ISO row includes its lower limit.

    Raises
    ------
    ValueError
        If the diameter is not a finite number above zero, or the system is unknown.

    Source
    ------
    ISO 773 as in GB/T 1095, DIN 6885-3, ASME B17.1, BS 46-1:1958; see each row.

    Examples
    --------
    >>> key_for_shaft(22, "ISO 773").size, key_for_shaft(22.225, "BS 46").width_mm
    ('6 x 6 mm', 6.35)
    """
    diameter = positive("diameter_mm", diameter_mm)
    rows = key_seats_of(standard, square=square)
    return next((row for row in rows if row.takes_shaft(diameter)), None)


def keys_by_width(width_mm: float, *, tolerance_mm: float = SAME_NOMINAL_TOLERANCE_MM) -> tuple[KeySeat, ...]:
    """Every row of every system whose key has this width.

    Parameters
    ----------
    width_mm : float
        Key width [mm], above zero.
    tolerance_mm : float
        Largest difference [mm] that still counts as the same width.

    Returns
    -------
    tuple of KeySeat
        Rows in table order, empty where no key has the width.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    Each row names its own.

    Examples
    --------
    >>> [row.size for row in keys_by_width(8)]
    ['8 x 7 mm']
    """
    width, within = positive("width_mm", width_mm), positive("tolerance_mm", tolerance_mm)
    return tuple(row for row in key_seats() if abs(row.width_mm - width) <= within + FLOAT_SLACK_MM)


def _half_chord_sum_mm(diameter_mm: float, width_mm: float) -> float:
    """Shaft diameter plus the height of the flank where the keyseat leaves it, ASME B17.1."""
    if width_mm >= diameter_mm:
        raise ValueError(f"`diameter_mm` must be above the key width {width_mm:g}, got {diameter_mm!r}")
    return diameter_mm + sqrt(diameter_mm**2 - width_mm**2)


def hub_check_dimension_mm(diameter_mm: float, seat: KeySeat) -> float | None:
    """Bore measured over the keyseat: from the bottom of the keyseat to the opposite wall.

    Parameters
    ----------
    diameter_mm : float
        Bore [mm], above zero.
    seat : KeySeat
        Row of a key table.

    Returns
    -------
    float or None
        d + t2 [mm]; in ASME B17.1 T = (D + H + sqrt(D^2 - W^2)) / 2 + 0.005 in. None where the depth is not seen.

    Raises
    ------
    ValueError
        If the diameter is not a finite number above zero, or no larger than an ASME key.

    Source
    ------
    ISO 773; ASME B17.1, all 33 pairs of Machinery's Handbook 31st ed. p. 2552 within 0.001 in.

    Examples
    --------
    >>> hub_check_dimension_mm(35, key_for_shaft(35, "ISO 773"))
    38.3
    """
    diameter = positive("diameter_mm", diameter_mm)
    if seat.standard != "ASME B17.1":
        return None if seat.hub_depth_mm is None else diameter + seat.hub_depth_mm
    if seat.height_mm is None:
        return None
    across = _half_chord_sum_mm(diameter, seat.width_mm)
    return (across + seat.height_mm) / 2.0 + PARALLEL_KEY_CLEARANCE_IN * MM_PER_INCH


def shaft_check_dimension_mm(diameter_mm: float, seat: KeySeat) -> float | None:
    """Shaft measured under the keyseat: from the bottom of the keyseat to the opposite side.

    Parameters
    ----------
    diameter_mm : float
        Shaft [mm], above zero.
    seat : KeySeat
        Row of a key table.

    Returns
    -------
    float or None
        d - t1 [mm]; in ASME B17.1 S = (D - H + sqrt(D^2 - W^2)) / 2. None where the depth is not seen.

    Raises
    ------
    ValueError
        If the diameter is not a finite number above zero, or no larger than an ASME key.

    Source
    ------
    ISO 773; ASME B17.1, all 33 pairs of Machinery's Handbook 31st ed. p. 2552 within 0.001 in.

    Examples
    --------
    >>> shaft_check_dimension_mm(35, key_for_shaft(35, "ISO 773"))
    30.0
    """
    diameter = positive("diameter_mm", diameter_mm)
    if seat.standard != "ASME B17.1":
        return None if seat.shaft_depth_mm is None else diameter - seat.shaft_depth_mm
    if seat.height_mm is None:
        return None
    return (_half_chord_sum_mm(diameter, seat.width_mm) - seat.height_mm) / 2.0
