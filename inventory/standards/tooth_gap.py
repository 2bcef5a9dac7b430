"""Form of the tooth gap: seating, angles and flanks; every length in millimetres."""

from math import cbrt

from inventory.number_checks import positive
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_counts import form_teeth


def seating_radius_min_mm(roller_diameter_mm: float) -> float:
    """Smallest roller seating radius: 0.505 d1.

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Radius [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> round(seating_radius_min_mm(7.92), 4)
    3.9996
    """
    return 0.505 * positive("roller_diameter_mm", roller_diameter_mm)


def seating_radius_max_mm(roller_diameter_mm: float) -> float:
    """Largest roller seating radius: 0.505 d1 + 0.069 times the cube root of d1.

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Radius [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue; the cube root completed from memory.

    Examples
    --------
    >>> round(seating_radius_max_mm(7.92), 4)
    4.1371
    """
    return seating_radius_min_mm(roller_diameter_mm) + 0.069 * cbrt(roller_diameter_mm)


def seating_angle_for_min_form_deg(teeth: float) -> float:
    """Roller seating angle of the smallest tooth gap: 140 - 90/z.

    Parameters
    ----------
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Angle [deg].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue; the smallest-gap angle completed from memory.

    Examples
    --------
    >>> seating_angle_for_min_form_deg(20)
    135.5
    """
    return 140.0 - 90.0 / form_teeth("teeth", teeth)


def seating_angle_for_max_form_deg(teeth: float) -> float:
    """Roller seating angle of the largest tooth gap: 120 - 90/z.

    Parameters
    ----------
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Angle [deg].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue; the smallest-gap angle completed from memory.

    Examples
    --------
    >>> seating_angle_for_max_form_deg(20)
    115.5
    """
    return 120.0 - 90.0 / form_teeth("teeth", teeth)


def flank_radius_min_mm(roller_diameter_mm: float, teeth: float) -> float:
    """Tooth flank radius of the smallest gap: 0.12 d1 (z + 2).

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Radius [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> round(flank_radius_min_mm(7.92, 20), 4)
    20.9088
    """
    return 0.12 * positive("roller_diameter_mm", roller_diameter_mm) * (form_teeth("teeth", teeth) + 2.0)


def flank_radius_max_mm(roller_diameter_mm: float, teeth: float) -> float:
    """Tooth flank radius of the largest gap: 0.008 d1 (z squared + 180).

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].
    teeth : float
        Teeth, 3 to 400; effective teeth for double pitch.

    Returns
    -------
    float
        Radius [mm].

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    ISO/R 606 as quoted in a printed transmission catalogue.

    Examples
    --------
    >>> round(flank_radius_max_mm(7.92, 20), 4)
    36.7488
    """
    return (
        0.008 * positive("roller_diameter_mm", roller_diameter_mm) * (form_teeth("teeth", teeth) ** 2 + 180.0)
    )


def seating_diameter_asme_mm(roller_diameter_mm: float) -> float:
    """Least seating curve diameter of the ASME tooth: 1.005 Dr + 0.003 in.

    Parameters
    ----------
    roller_diameter_mm : float
        Largest roller (or bush) diameter d1 [mm].

    Returns
    -------
    float
        Diameter [mm]; the minus tolerance is zero.

    Raises
    ------
    ValueError
        If a size is not a finite number above zero, or `teeth` is outside its range.

    Source
    ------
    JIS B 1801 S form, which carries the ASME B29.1 constants.

    Examples
    --------
    >>> round(seating_diameter_asme_mm(7.92), 4)
    8.0358
    """
    return 1.005 * positive("roller_diameter_mm", roller_diameter_mm) + 0.003 * MM_PER_INCH
