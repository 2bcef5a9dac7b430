"""What is measured over and under a keyseat, worked out from a row of the key table to compare it with print.

Source: ISO 773; ASME B17.1, with the clearance of 0.005 in over a parallel key in the hub.
"""

from math import sqrt

from inventory.standards.keys import KeySeat
from tests.inventory.standards.published import MM_PER_INCH

CLEARANCE_MM = 0.005 * MM_PER_INCH


def over_the_keyseat_mm(bore_mm: float, seat: KeySeat) -> float | None:
    """d + t2; in ASME B17.1 T = (D + H + sqrt(D^2 - W^2)) / 2 + C."""
    if seat.standard != "ASME B17.1":
        return None if seat.hub_depth_mm is None else bore_mm + seat.hub_depth_mm
    return (_half_chord_sum_mm(bore_mm, seat) + (seat.height_mm or 0.0)) / 2 + CLEARANCE_MM


def under_the_keyseat_mm(shaft_mm: float, seat: KeySeat) -> float | None:
    """d - t1; in ASME B17.1 S = (D - H + sqrt(D^2 - W^2)) / 2."""
    if seat.standard != "ASME B17.1":
        return None if seat.shaft_depth_mm is None else shaft_mm - seat.shaft_depth_mm
    return (_half_chord_sum_mm(shaft_mm, seat) - (seat.height_mm or 0.0)) / 2


def _half_chord_sum_mm(diameter_mm: float, seat: KeySeat) -> float:
    return diameter_mm + sqrt(diameter_mm**2 - seat.width_mm**2)
