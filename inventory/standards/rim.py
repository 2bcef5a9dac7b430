"""Width of the teeth and the room for a hub beside them; every length in millimetres."""

from math import tan

from inventory.number_checks import positive
from inventory.standards.pitch_circle import half_angle
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_counts import strand_count

NARROW_PITCH_MM = 12.7
"""Up to and including this pitch the ISO rim is a little narrower. Source: ISO/R 606 as quoted in a catalogue."""

HUB_CLEARANCE_ISO_MM = 0.76
"""Clearance of the ISO hub rule, in millimetres. Source: GB/T 1243 worked sheet."""

HUB_CLEARANCE_ASME_IN = 0.030
"""Clearance of the ASME hub rule, in inches. Source: ASME B29.1."""

FLANGE_CLEARANCE_ASME_IN = 0.006
"""Side clearance of the ASME flange thickness, in inches. Source: ASME B29.1 thickness tables."""


def _cot(angle: float) -> float:
    return 1.0 / tan(angle)


def tooth_width_mm(base_pitch_mm: float, *, inner_width_mm: float, strands: int) -> float:
    """Width of one row of teeth, ISO rule: a share of the inner width, tolerance h14.

    Parameters
    ----------
    base_pitch_mm : float
        Pitch of the base chain [mm], half the double pitch.
    inner_width_mm : float
        Least inner width of the chain b1 [mm].
    strands : int
        Strands, 1 to 10.

    Returns
    -------
    float
        Width bf1 [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `strands` is outside 1 to 10.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue, checked on 16 chains.

    Examples
    --------
    >>> round(tooth_width_mm(12.7, inner_width_mm=7.85, strands=1), 4)
    7.3005
    """
    is_narrow = positive("base_pitch_mm", base_pitch_mm) <= NARROW_PITCH_MM
    count = strand_count("strands", strands)
    shares = (0.93, 0.91, 0.88) if is_narrow else (0.95, 0.93, 0.90)
    share = shares[0] if count == 1 else shares[1] if count <= 3 else shares[2]
    return share * positive("inner_width_mm", inner_width_mm)


def flange_thickness_asme_mm(inner_width_nominal_in: float, strands: int) -> float | None:
    """Flange (tooth) thickness, ASME rule: 0.93 W - 0.006 in for one strand, 0.90 W - 0.006 in for two or three.

    Parameters
    ----------
    inner_width_nominal_in : float
        Nominal inner width W [in].
    strands : int
        Strands, 1 to 10.

    Returns
    -------
    float or None
        Thickness [mm]; None for four strands and more, for which no published rule was seen.

    Raises
    ------
    ValueError
        If the width is not a finite number above zero, or `strands` is outside 1 to 10.

    Source
    ------
    ASME B29.1 thickness tables; all 13 sizes 35 to 240 on a sprocket maker's tolerance page.

    Examples
    --------
    >>> round(flange_thickness_asme_mm(0.3125, 1) or 0, 3)
    7.229
    """
    width = positive("inner_width_nominal_in", inner_width_nominal_in)
    count = strand_count("strands", strands)
    if count > 3:
        return None
    share = 0.93 if count == 1 else 0.90
    return (share * width - FLANGE_CLEARANCE_ASME_IN) * MM_PER_INCH


def width_over_strands_mm(tooth_width_mm: float, *, transverse_pitch_mm: float, strands: int) -> float:
    """Width over all rows of teeth: (n - 1) pt + bf1.

    Parameters
    ----------
    tooth_width_mm : float
        Width of one row of teeth [mm].
    transverse_pitch_mm : float
        Transverse pitch [mm].
    strands : int
        Strands, 1 to 10.

    Returns
    -------
    float
        Width bfn [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `strands` is outside 1 to 10.

    Source
    ------
    ISO 606; duplex and triplex rims of a printed transmission catalogue.

    Examples
    --------
    >>> round(width_over_strands_mm(7.0, transverse_pitch_mm=14.38, strands=2), 2)
    21.38
    """
    count = strand_count("strands", strands)
    width = positive("tooth_width_mm", tooth_width_mm)
    return (count - 1) * positive("transverse_pitch_mm", transverse_pitch_mm) + width


def max_hub_diameter_iso_mm(pitch_mm: float, *, teeth: float, plate_height_mm: float) -> float:
    """Largest hub (shroud) diameter that clears the plates: p cot(180/z) - 1.04 h2 - 0.76 mm.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.
    plate_height_mm : float
        Largest inner plate height h2 [mm].

    Returns
    -------
    float
        Diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheet.

    Examples
    --------
    >>> round(max_hub_diameter_iso_mm(12.7, teeth=14, plate_height_mm=12.07), 2)
    42.33
    """
    height = positive("plate_height_mm", plate_height_mm)
    return positive("pitch_mm", pitch_mm) * _cot(half_angle(teeth)) - 1.04 * height - HUB_CLEARANCE_ISO_MM


def max_hub_diameter_asme_mm(pitch_mm: float, teeth: float) -> float:
    """Largest hub (groove) diameter that clears the plates: p (cot(180/z) - 1) - 0.030 in.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ASME B29.1; Machinery's Handbook 31st ed. p. 2631, Table 10.

    Examples
    --------
    >>> round(max_hub_diameter_asme_mm(12.7, 14), 2)
    42.18
    """
    pitch = positive("pitch_mm", pitch_mm)
    return pitch * (_cot(half_angle(teeth)) - 1.0) - HUB_CLEARANCE_ASME_IN * MM_PER_INCH
