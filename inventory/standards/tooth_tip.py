"""Tip and outside diameters and tooth height; every length in millimetres."""

from math import tan

from inventory.number_checks import positive
from inventory.standards.pitch_circle import half_angle, pitch_diameter_mm
from inventory.standards.tooth_counts import form_teeth


def _cot(angle: float) -> float:
    return 1.0 / tan(angle)


def tip_diameter_max_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Largest tip diameter: d + 1.25 p - d1.

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
        Tip diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheets.

    Examples
    --------
    >>> round(tip_diameter_max_mm(12.7, teeth=14, roller_diameter_mm=7.92), 2)
    65.03
    """
    roller = positive("roller_diameter_mm", roller_diameter_mm)
    return pitch_diameter_mm(pitch_mm, teeth) + 1.25 * pitch_mm - roller


def tip_diameter_min_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Smallest tip diameter: d + p (1 - 1.6/z) - d1.

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
        Tip diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO 606; GB/T 1243 worked sheets.

    Examples
    --------
    >>> round(tip_diameter_min_mm(12.7, teeth=14, roller_diameter_mm=7.92), 2)
    60.4
    """
    roller = positive("roller_diameter_mm", roller_diameter_mm)
    return pitch_diameter_mm(pitch_mm, teeth) + pitch_mm * (1.0 - 1.6 / teeth) - roller


def tooth_height_max_mm(pitch_mm: float, *, teeth: float, roller_diameter_mm: float) -> float:
    """Largest tooth height above the pitch polygon: 0.625 p - 0.5 d1 + 0.8 p/z.

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
        Height [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> round(tooth_height_max_mm(12.7, teeth=20, roller_diameter_mm=7.92), 4)
    4.4855
    """
    pitch, roller = positive("pitch_mm", pitch_mm), positive("roller_diameter_mm", roller_diameter_mm)
    return 0.625 * pitch - 0.5 * roller + 0.8 * pitch / form_teeth("teeth", teeth)


def tooth_height_min_mm(pitch_mm: float, roller_diameter_mm: float) -> float:
    """Smallest tooth height above the pitch polygon: 0.5 (p - d1).

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Height [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> round(tooth_height_min_mm(12.7, 7.92), 2)
    2.39
    """
    return 0.5 * (positive("pitch_mm", pitch_mm) - positive("roller_diameter_mm", roller_diameter_mm))


def outside_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """Outside diameter of a turned sprocket: p (0.6 + cot(180/z)).

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Outside diameter [mm]; makers stay within a few per cent of it.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ASME B29.1, turned sprockets.

    Examples
    --------
    >>> round(outside_diameter_mm(25.4, 20), 2)
    175.61
    """
    return positive("pitch_mm", pitch_mm) * (0.6 + _cot(half_angle(teeth)))


def three_arc_tip_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """Tip diameter of the three-arc tooth form: p (0.54 + cot(180/z)).

    Parameters
    ----------
    pitch_mm : float
        Pitch [mm], above zero.
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Tip diameter [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    GB/T 1243 worked sheet.

    Examples
    --------
    >>> round(three_arc_tip_diameter_mm(12.7, 14), 2)
    62.5
    """
    return positive("pitch_mm", pitch_mm) * (0.54 + _cot(half_angle(teeth)))
