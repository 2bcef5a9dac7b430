"""One formula for each dimension of a sprocket's teeth; lengths in mm.

`teeth` are effective teeth (`tooth_counts`), `roller_diameter_mm` is the largest roller or bush d1. The numbers are
taken as checked: `tooth_form` and the records of `inventory.interchange` do that.

Source: ISO 606, as in GB/T 1243 worked sheets, where a formula names no other; "the catalogue" is ISO/R 606 as quoted
in a printed transmission catalogue.
"""

from math import cos, pi, sin, tan

from inventory.standards.sizes import MM_PER_INCH

NARROW_PITCH_MM = 12.7
"""Up to and including this pitch the ISO rim is a little narrower. Source: the catalogue."""

HUB_CLEARANCE_ISO_MM = 0.76
HUB_CLEARANCE_ASME_IN = 0.030
FLANGE_CLEARANCE_ASME_IN = 0.006
MOST_STRANDS_OF_FLANGE_RULE = 3


def pitch_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """p / sin(180/z). Also ASME B29.1; checked on its table for 1 inch pitch, 8 to 152 teeth."""
    return pitch_mm / sin(pi / teeth)


def across_gaps_mm(pitch_diameter_mm: float, gaps: int) -> float:
    """Between the roller centres of the two gaps most nearly opposite: d, for odd z d cos(90/z). Source: ASME B29.1."""
    return pitch_diameter_mm * cos(pi / (2 * gaps)) if gaps % 2 else pitch_diameter_mm


def root_diameter_minus_tolerance_mm(root_diameter_mm: float) -> float | None:
    """How far the root may lie below nominal; None above 250 mm, where the limit is h11. Source: the catalogue."""
    if root_diameter_mm <= 127:
        return 0.25
    return 0.30 if root_diameter_mm <= 250 else None


def tip_diameter_max_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """d + 1.25 p - d1"""
    return pitch_diameter_mm(pitch_mm, teeth) + 1.25 * pitch_mm - roller_diameter_mm


def tip_diameter_min_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """d + p (1 - 1.6/z) - d1"""
    return pitch_diameter_mm(pitch_mm, teeth) + pitch_mm * (1.0 - 1.6 / teeth) - roller_diameter_mm


def outside_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """p (0.6 + cot(180/z)) of a turned sprocket; makers stay within a few per cent. Source: ASME B29.1."""
    return pitch_mm * (0.6 + 1.0 / tan(pi / teeth))


def chain_on_wheel_mm(pitch_mm: float, *, teeth: float, plate_height_mm: float) -> float:
    """d + h2: over the plates of a chain that lies on the wheel; the pins sit on the pitch circle."""
    return pitch_diameter_mm(pitch_mm, teeth) + plate_height_mm


def seating_radius_min_mm(roller_diameter_mm: float) -> float:
    """0.505 d1. Source: the catalogue."""
    return 0.505 * roller_diameter_mm


ROOT_OF_SEAT, LOWER_ROOT, HIGHER_ROOT = 3.0, 2.0, 4.0
"""In the largest seating radius: 0.069 was read in the catalogue, the cube root is from memory. Its neighbours are possible, judgement."""


def seating_radius_max_mm(roller_diameter_mm: float, root: float = ROOT_OF_SEAT) -> float:
    """0.505 d1 + 0.069 cbrt(d1). Source: the catalogue, but for the root."""
    return float(seating_radius_min_mm(roller_diameter_mm) + 0.069 * roller_diameter_mm ** (1 / root))


def seating_angle_min_deg(teeth: float) -> float:
    """120 - 90/z, of the largest gap. Source: the catalogue."""
    return 120.0 - 90.0 / teeth


def seating_angle_max_deg(teeth: float) -> float:
    """140 - 90/z, of the smallest gap. Source: the catalogue, completed from memory."""
    return 140.0 - 90.0 / teeth


def flank_radius_min_mm(roller_diameter_mm: float, teeth: float) -> float:
    """0.12 d1 (z + 2), of the smallest gap. Source: the catalogue."""
    return 0.12 * roller_diameter_mm * (teeth + 2.0)


def flank_radius_max_mm(roller_diameter_mm: float, teeth: float) -> float:
    """0.008 d1 (z^2 + 180), of the largest gap. Source: the catalogue."""
    return 0.008 * roller_diameter_mm * (teeth**2 + 180.0)


def tooth_width_mm(base_pitch_mm: float, *, inner_width_mm: float, strands: int) -> float:
    """Width of one row of teeth as a share of b1, h14; half the double pitch is the base pitch.

    Source: the catalogue, checked on 16 chains.
    """
    shares = (0.93, 0.91, 0.88) if base_pitch_mm <= NARROW_PITCH_MM else (0.95, 0.93, 0.90)
    return (shares[0] if strands == 1 else shares[1] if strands <= 3 else shares[2]) * inner_width_mm


def flange_thickness_asme_mm(inner_width_nominal_in: float, strands: int) -> float | None:
    """0.93 W - 0.006 in, for two or three strands 0.90 W - 0.006 in; no rule was seen for more.

    Source: ASME B29.1 thickness tables; all 13 sizes 35 to 240 on a sprocket maker's tolerance page.
    """
    if strands > MOST_STRANDS_OF_FLANGE_RULE:
        return None
    share = 0.93 if strands == 1 else 0.90
    return (share * inner_width_nominal_in - FLANGE_CLEARANCE_ASME_IN) * MM_PER_INCH


def width_over_strands_mm(tooth_width_mm: float, *, transverse_pitch_mm: float, strands: int) -> float:
    """(n - 1) pt + bf1. Checked on duplex and triplex rims of the catalogue."""
    return (strands - 1) * transverse_pitch_mm + tooth_width_mm


def max_hub_diameter_iso_mm(pitch_mm: float, *, teeth: float, plate_height_mm: float) -> float:
    """p cot(180/z) - 1.04 h2 - 0.76 mm, which clears the plates."""
    return pitch_mm / tan(pi / teeth) - 1.04 * plate_height_mm - HUB_CLEARANCE_ISO_MM


def max_hub_diameter_asme_mm(pitch_mm: float, teeth: float) -> float:
    """p (cot(180/z) - 1) - 0.030 in. Source: ASME B29.1; Machinery's Handbook 31st ed. p. 2631, Table 10."""
    return pitch_mm * (1.0 / tan(pi / teeth) - 1.0) - HUB_CLEARANCE_ASME_IN * MM_PER_INCH
