"""Whether two typed numbers are a key section or a keyway, by the key tables."""

from functools import cache

from inventory.standards.keys import key_seats

KEY_TOLERANCE_MM = 0.06
"""Half of the smallest step between two key widths or depths in the tables, rounded down."""
LEAST_KEY_RATIO, GREATEST_KEY_RATIO, GREATEST_KEY_RATIO_SMALL = 0.17, 0.42, 0.5
"""Of key width to bore, the last up to `SMALL_BORE_MM`: every row of the key tables lies within. Others are another dimension."""
SMALL_BORE_MM = 12.7


@cache
def _seats() -> tuple[tuple[float, float | None, float | None], ...]:
    return tuple(
        sorted({(seat.width_mm, seat.height_mm, seat.hub_depth_mm) for seat in key_seats()}, key=str)
    )


def is_key_width(width_mm: float) -> bool:
    return any(abs(width - width_mm) <= KEY_TOLERANCE_MM for width, _, _ in _seats())


def least_shaft_mm(width_mm: float) -> float | None:
    """The smallest shaft that takes a key of that width; None where no table has it."""
    shafts = [seat.shaft_over_mm for seat in key_seats() if abs(seat.width_mm - width_mm) <= KEY_TOLERANCE_MM]
    return min(shafts, default=None)


def second_size(width_mm: float, other_mm: float) -> str | None:
    """What the second number of a pair is: the height of the key (8 x 7), or the depth in the hub (14 x 3.8, 3/8 x 3/16)."""
    rows = [seat for seat in _seats() if abs(seat[0] - width_mm) <= KEY_TOLERANCE_MM]
    if any(height is not None and abs(height - other_mm) <= KEY_TOLERANCE_MM for _, height, _ in rows):
        half = abs(other_mm * 2 - width_mm) <= KEY_TOLERANCE_MM
        return "keyway_depth_mm" if half else "key_height_mm"
    if any(depth is not None and abs(depth - other_mm) <= KEY_TOLERANCE_MM for _, _, depth in rows):
        return "keyway_depth_mm"
    if rows and abs(other_mm * 2 - width_mm) <= KEY_TOLERANCE_MM:
        return "keyway_depth_mm"
    return None


def suits_bore(width_mm: float, bore_mm: float) -> bool:
    greatest = GREATEST_KEY_RATIO_SMALL if bore_mm <= SMALL_BORE_MM else GREATEST_KEY_RATIO
    return LEAST_KEY_RATIO <= width_mm / bore_mm <= greatest
