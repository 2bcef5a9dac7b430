"""Ratio, speed, diameters, wrap and least centre distance of a two-sprocket drive."""

from __future__ import annotations

import math

from inventory.number_checks import quantity
from inventory.standards.tooth_counts import drive_teeth


def ratio(driver_teeth: float, driven_teeth: float) -> float:
    """Speed ratio, driven teeth over driver teeth: above 1 the drive slows down.

    Parameters
    ----------
    driver_teeth, driven_teeth : float
        Teeth [-], from 5.

    Returns
    -------
    float
        Ratio [-].

    Raises
    ------
    ValueError
        If a count is out of range.

    Source
    ------
    Definition; ISO 10823, i = z2 / z1.

    Examples
    --------
    >>> ratio(17, 34)
    2.0
    """
    return drive_teeth("driven_teeth", driven_teeth) / drive_teeth("driver_teeth", driver_teeth)


def driven_speed_rpm(driver_speed_rpm: float, *, driver_teeth: float, driven_teeth: float) -> float:
    """Speed of the driven shaft.

    Parameters
    ----------
    driver_speed_rpm : float
        Speed of the driver [rev/min], above 0.
    driver_teeth, driven_teeth : float
        Teeth [-].

    Returns
    -------
    float
        Speed [rev/min].

    Raises
    ------
    ValueError
        If a value is not positive or a count is out of range.

    Source
    ------
    Definition; ISO 10823.

    Examples
    --------
    >>> driven_speed_rpm(900, driver_teeth=17, driven_teeth=34)
    450.0
    """
    return quantity("driver_speed_rpm", driver_speed_rpm) / ratio(driver_teeth, driven_teeth)


def chain_speed_m_s(pitch_mm: float, *, teeth: float, speed_rpm: float) -> float:
    """Mean speed of the chain.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm], above 0.
    teeth : float
        Teeth of one sprocket [-].
    speed_rpm : float
        Speed of the same sprocket [rev/min], above 0.

    Returns
    -------
    float
        Chain speed [m/s].

    Raises
    ------
    ValueError
        If a value is not positive or the count is out of range.

    Source
    ------
    v = z p n / 60000, ISO 10823.

    Examples
    --------
    >>> chain_speed_m_s(19.05, teeth=25, speed_rpm=1000)
    7.9375
    """
    z = drive_teeth("teeth", teeth)
    return z * quantity("pitch_mm", pitch_mm) * quantity("speed_rpm", speed_rpm) / 60_000


def effective_teeth(actual_teeth: float, *, double_cut: bool) -> float:
    """Chain pitches that a double-pitch sprocket moves in one turn.

    Parameters
    ----------
    actual_teeth : float
        Teeth counted on the rim [-].
    double_cut : bool
        True where the chain uses every second gap.

    Returns
    -------
    float
        Effective teeth [-]; a half where the actual count of a double-cut sprocket is odd.

    Raises
    ------
    ValueError
        If a count, actual or effective, is out of range.

    Source
    ------
    ISO 1275, definition of the effective number of teeth.

    Examples
    --------
    >>> effective_teeth(25, double_cut=True)
    12.5
    """
    actual = drive_teeth("actual_teeth", actual_teeth)
    return drive_teeth("actual_teeth", actual / 2) if double_cut else actual


def pitch_diameter_mm(pitch_mm: float, teeth: float) -> float:
    """Pitch diameter of a sprocket.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm], above 0.
    teeth : float
        Teeth, effective ones for double pitch [-].

    Returns
    -------
    float
        Pitch diameter [mm].

    Raises
    ------
    ValueError
        If the pitch is not positive or the count is out of range.

    Source
    ------
    d = p / sin(180/z), ISO 606; ASME B29.1.

    Examples
    --------
    >>> round(pitch_diameter_mm(19.05, 17), 3)
    103.674
    """
    return quantity("pitch_mm", pitch_mm) / math.sin(math.pi / drive_teeth("teeth", teeth))


def wrap_angle_deg(diameter_mm: float, *, other_diameter_mm: float, centre_mm: float) -> float:
    """Angle over which the chain lies on one of two pitch circles.

    Parameters
    ----------
    diameter_mm : float
        Pitch diameter of this sprocket [mm].
    other_diameter_mm : float
        Pitch diameter of its mate [mm].
    centre_mm : float
        Centre distance [mm], above half the difference of the diameters.

    Returns
    -------
    float
        Wrap [degrees], below 180 on the smaller circle.

    Raises
    ------
    ValueError
        If a size is not positive or one circle lies inside the other.

    Source
    ------
    180 - 2 asin((D2 - D1) / 2C), tangent geometry.

    Examples
    --------
    >>> round(wrap_angle_deg(100, other_diameter_mm=300, centre_mm=200), 6)
    120.0
    """
    difference = quantity("other_diameter_mm", other_diameter_mm) - quantity("diameter_mm", diameter_mm)
    sine = difference / (2 * quantity("centre_mm", centre_mm))
    if abs(sine) >= 1:
        least = abs(difference) / 2
        raise ValueError(f"`centre_mm` must be more than {least:.3f} mm here, not {centre_mm:g}.")
    return 180 - 2 * math.degrees(math.asin(sine))


def wrap_small_deg(pitch_mm: float, *, z1: float, z2: float, centre_mm: float) -> float:
    """Wrap on the smaller sprocket.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    z1, z2 : float
        Teeth [-].
    centre_mm : float
        Centre distance [mm].

    Returns
    -------
    float
        Wrap [degrees], at most 180.

    Raises
    ------
    ValueError
        If a size is not positive or one sprocket lies inside the other.

    Source
    ------
    180 - 2 asin((D2 - D1) / 2C) on the pitch circles, tangent geometry.

    Examples
    --------
    >>> round(wrap_small_deg(12.7, z1=17, z2=65, centre_mm=30.54 * 12.7), 1)
    151.1
    """
    small, large = sorted((drive_teeth("z1", z1), drive_teeth("z2", z2)))
    return wrap_driver_deg(pitch_mm, driver_teeth=small, driven_teeth=large, centre_mm=centre_mm)


def wrap_driver_deg(pitch_mm: float, *, driver_teeth: float, driven_teeth: float, centre_mm: float) -> float:
    """Wrap on the driver, above 180 degrees where it is the larger sprocket.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    driver_teeth, driven_teeth : float
        Teeth [-].
    centre_mm : float
        Centre distance [mm].

    Returns
    -------
    float
        Wrap [degrees].

    Raises
    ------
    ValueError
        If a size is not positive or one sprocket lies inside the other.

    Source
    ------
    180 - 2 asin((D2 - D1) / 2C) on the pitch circles, tangent geometry.

    Examples
    --------
    >>> wrap_driver_deg(12.7, driver_teeth=19, driven_teeth=19, centre_mm=500)
    180.0
    """
    return wrap_angle_deg(
        pitch_diameter_mm(pitch_mm, driver_teeth),
        other_diameter_mm=pitch_diameter_mm(pitch_mm, driven_teeth),
        centre_mm=centre_mm,
    )


def largest_tip_diameter_mm(
    pitch_mm: float, *, teeth: float, roller_diameter_mm: float, is_double_pitch: bool = False
) -> float:
    """Largest tip diameter that the standard allows.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    teeth : float
        Teeth, effective ones for double pitch [-].
    roller_diameter_mm : float
        Largest roller diameter of the chain [mm].
    is_double_pitch : bool
        True for double-pitch chain, whose teeth are as high as those of its base chain.

    Returns
    -------
    float
        Tip diameter [mm].

    Raises
    ------
    ValueError
        If a size is not positive or the count is out of range.

    Source
    ------
    da max = d + 1.25 p - d1, ISO 606, sprocket clause; half the pitch in the tooth height of double-pitch
    sprockets is our reading, not seen in print.

    Examples
    --------
    >>> round(largest_tip_diameter_mm(12.7, teeth=17, roller_diameter_mm=7.92), 2)
    77.07
    """
    diameter = pitch_diameter_mm(pitch_mm, teeth)
    base_pitch = quantity("pitch_mm", pitch_mm) / (2 if is_double_pitch else 1)
    return diameter + 1.25 * base_pitch - quantity("roller_diameter_mm", roller_diameter_mm)


def minimum_centre_mm(
    pitch_mm: float, *, z1: float, z2: float, roller_diameter_mm: float, is_double_pitch: bool = False
) -> float:
    """Centre distance at which the largest allowed tips of two sprockets in line would touch.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    z1, z2 : float
        Teeth [-].
    roller_diameter_mm : float
        Largest roller diameter of the chain [mm].
    is_double_pitch : bool
        True for double-pitch chain.

    Returns
    -------
    float
        Centre distance [mm]; the drive must stay above it.

    Raises
    ------
    ValueError
        If a size is not positive or a count is out of range.

    Source
    ------
    Half the sum of the largest tip diameters of ISO 606.

    Examples
    --------
    >>> round(minimum_centre_mm(12.7, z1=17, z2=17, roller_diameter_mm=7.92), 2)
    77.07
    """
    first, second = (
        largest_tip_diameter_mm(
            pitch_mm, teeth=z, roller_diameter_mm=roller_diameter_mm, is_double_pitch=is_double_pitch
        )
        for z in (z1, z2)
    )
    return (first + second) / 2
