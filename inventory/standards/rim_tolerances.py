"""Tolerances of the rim that ISO 606 refers to ISO 286-1 for, and when two chains run on one rim. Lengths in mm."""

from math import cbrt

SAME_RIM_MM = 0.05
"""Editions print rollers and widths of one chain up to this far apart (08A roller 7.92 and 7.95 mm)."""

IT14_MM = ((3, 0.25), (6, 0.30), (10, 0.36), (18, 0.43), (30, 0.52), (50, 0.62), (80, 0.74), (120, 0.87))
"""Up to this size, this tolerance: ISO 606 gives tooth widths h14. Source: grade IT14 of ISO 286-1, seen on two public pages of its table."""


def it14_mm(size_mm: float) -> float:
    return next((width for up_to, width in IT14_MM if size_mm <= up_to), IT14_MM[-1][1])


def it11_mm(size_mm: float) -> float:
    """100 i with i = 0.45 cbrt(D) + 0.001 D in 0.001 mm, without the steps of sizes; for roots above 250 mm.

    Source: the formula of ISO 286-1, from memory; within 8 % of the steps 0.29, 0.32, 0.36 and 0.40 mm from 180 to 500 mm.
    """
    return 0.1 * (0.45 * float(cbrt(size_mm)) + 0.001 * size_mm)
