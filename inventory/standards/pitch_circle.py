"""Pitch circle, root and the measurements taken over gaps; every length in millimetres.

Teeth may be half an integer, because a double-cut sprocket for double-pitch chain counts that way.
"""

from math import cos, radians, sin, sqrt

from inventory.number_checks import positive
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_counts import form_teeth


def half_angle(teeth: float) -> float:
    """Half the angle of one pitch, 180/z.

    Parameters
    ----------
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Angle [rad].

    Raises
    ------
    ValueError
        If `teeth` is outside its range.

    Examples
    --------
    >>> round(half_angle(18), 4)
    0.1745
    """
    return radians(180.0 / form_teeth("teeth", teeth))


def is_odd(teeth: float) -> bool:
    """Whether no gap lies opposite a gap.

    Parameters
    ----------
    teeth : float
        Gaps around the rim.

    Returns
    -------
    bool
        True for an odd whole count.

    Examples
    --------
    >>> is_odd(17), is_odd(18)
    (True, False)
    """
    return teeth % 2 == 1


def pitch_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """Pitch diameter of a sprocket: p / sin(180/z).

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Pitch diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606 and ASME B29.1; the pitch-diameter table for 1 inch pitch, 8 to 152 teeth.

    Examples
    --------
    >>> round(pitch_diameter_mm(25.4, 20), 3)
    162.368
    """
    return positive("pitch_mm", pitch_mm) / sin(half_angle(teeth))


def root_diameter_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Root (bottom) diameter: the pitch diameter less the roller.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Root diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheet.

    Examples
    --------
    >>> round(root_diameter_mm(12.7, teeth=14, roller_diameter_mm=7.92), 2)
    49.15
    """
    return pitch_diameter_mm(pitch_mm, teeth) - positive("roller_diameter_mm", roller_diameter_mm)


def root_diameter_minus_tolerance_mm(root_diameter_mm: float) -> float | None:
    """How far below nominal the root diameter may lie; the plus tolerance is zero.

    Parameters
    ----------
    root_diameter_mm : float
        Root diameter [mm].

    Returns
    -------
    float or None
        Tolerance [mm] as a positive figure; None above 250 mm, where the limit is h11.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> root_diameter_minus_tolerance_mm(100), root_diameter_minus_tolerance_mm(200)
    (0.25, 0.3)
    """
    size = positive("root_diameter_mm", root_diameter_mm)
    if size <= 127:
        return 0.25
    return 0.30 if size <= 250 else None


def across_gaps_mm(pitch_diameter_mm: float, gaps: float) -> float:
    """Distance between the roller centres of the two gaps that lie most nearly opposite.

    Parameters
    ----------
    pitch_diameter_mm : float
        Pitch diameter [mm].
    gaps : float
        Gaps around the rim, a whole number from 3 to 400.

    Returns
    -------
    float
        The pitch diameter for an even count, times cos(90/z) for an odd one [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `gaps` is not a whole number in its range.

    Source
    ------
    ASME B29.1 caliper factor, cos(90/z) / sin(180/z) for unit pitch.

    Examples
    --------
    >>> across_gaps_mm(100.0, 20)
    100.0
    """
    size = positive("pitch_diameter_mm", pitch_diameter_mm)
    if gaps != int(form_teeth("gaps", gaps)):
        raise ValueError(f"`gaps` must be a whole number, got {gaps!r}")
    return size * cos(radians(90.0 / gaps)) if is_odd(gaps) else size


def caliper_diameter_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Caliper diameter: bottom to the bottom most nearly opposite.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Root diameter for even teeth, d cos(90/z) - d1 for odd teeth [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ASME B29.1 (odd-tooth factor); ISO 606.

    Examples
    --------
    >>> round(caliper_diameter_mm(25.4, teeth=9, roller_diameter_mm=15.88), 3)
    57.256
    """
    diameter = pitch_diameter_mm(pitch_mm, teeth)
    return across_gaps_mm(diameter, teeth) - positive("roller_diameter_mm", roller_diameter_mm)


def caliper_minus_tolerance_precision_mm(pitch_mm: float, teeth: float) -> float:
    """How far below nominal the caliper diameter of a precision sprocket may lie.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Tolerance [mm] as a positive figure; the plus tolerance is zero.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ANSI/ASME B29.1M: 0.003 + 0.001 P sqrt(N) in; 64 of 65 published cells.

    Examples
    --------
    >>> round(caliper_minus_tolerance_precision_mm(25.4, 16), 4)
    0.1778
    """
    pitch = positive("pitch_mm", pitch_mm)
    return 0.003 * MM_PER_INCH + 0.001 * pitch * sqrt(form_teeth("teeth", teeth))


def caliper_minus_tolerance_commercial_mm(pitch_mm: float, teeth: float) -> float:
    """How far below nominal the caliper diameter of a commercial sprocket may lie.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Tolerance [mm] as a positive figure; the plus tolerance is zero.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ANSI/ASME B29.1M: 0.006 + 0.002 P sqrt(N) in; formula found, no table value seen.

    Examples
    --------
    >>> round(caliper_minus_tolerance_commercial_mm(25.4, 16), 4)
    0.3556
    """
    pitch = positive("pitch_mm", pitch_mm)
    return 0.006 * MM_PER_INCH + 0.002 * pitch * sqrt(form_teeth("teeth", teeth))


def measuring_pin_diameter_mm(roller_diameter_mm: float) -> float:
    """Diameter of the measuring pins: that of the roller, +0.01/0 mm.

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Pin diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheet.

    Examples
    --------
    >>> measuring_pin_diameter_mm(7.92)
    7.92
    """
    return positive("roller_diameter_mm", roller_diameter_mm)


def over_pins_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Measurement over two pins laid in gaps most nearly opposite.

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Measurement [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheet (even and odd teeth).

    Examples
    --------
    >>> round(over_pins_mm(12.7, teeth=14, roller_diameter_mm=7.92), 2)
    64.99
    """
    diameter = pitch_diameter_mm(pitch_mm, teeth)
    return across_gaps_mm(diameter, teeth) + measuring_pin_diameter_mm(roller_diameter_mm)


def chord_over_two_teeth_mm(base_pitch_mm: float, teeth: float) -> float:
    """Straight distance over two teeth of a single-pitch sprocket: 2 p cos(180/z).

    Parameters
    ----------
    base_pitch_mm : float
        Pitch of the base chain [mm], half the double pitch.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Distance [mm], always below the double pitch that the chain needs.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    Geometry of the pitch polygon.

    Examples
    --------
    >>> round(chord_over_two_teeth_mm(12.7, 16), 4)
    24.9119
    """
    return 2.0 * positive("base_pitch_mm", base_pitch_mm) * cos(half_angle(teeth))


def double_pitch_chord_error(teeth: float) -> float:
    """Share by which a single-pitch sprocket falls short of a double-pitch chain: 1 - cos(180/z).

    Parameters
    ----------
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Ratio, 0 to 1. No published least tooth count was found, so the limit is a setting of the caller.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    Geometry of the pitch polygon.

    Examples
    --------
    >>> round(double_pitch_chord_error(30), 4)
    0.0055
    """
    return 1.0 - cos(half_angle(teeth))
