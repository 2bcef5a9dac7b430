"""Ratio, speed, wrap and least centre distance of a two-sprocket drive.

Teeth are effective teeth. The numbers are taken as checked: `DriveInput` and `drives.place.duty.Duty` do that.

Source: ISO 10823 (i = z2 / z1) and tangent geometry on the pitch circles.
"""

import math

from inventory.interchange.requirement import Engagement
from inventory.standards.chains import Chain
from inventory.standards.tooth_formulas import pitch_diameter_mm


def ratio(driver_teeth: float, driven_teeth: float) -> float:
    """Above 1 the drive slows down."""
    return driven_teeth / driver_teeth


def driven_speed_rpm(driver_speed_rpm: float, *, driver_teeth: float, driven_teeth: float) -> float:
    return driver_speed_rpm / ratio(driver_teeth, driven_teeth)


def chain_speed_m_s(pitch_mm: float, *, teeth: float, speed_rpm: float) -> float:
    """v = z p n / 60000, with the speed of the same sprocket."""
    return teeth * pitch_mm * speed_rpm / 60_000


def wrap_driver_deg(pitch_mm: float, *, driver_teeth: float, driven_teeth: float, centre_mm: float) -> float:
    """180 - 2 asin((D2 - D1) / 2C), above 180 degrees where the driver is the larger sprocket."""
    driver, driven = pitch_diameter_mm(pitch_mm, driver_teeth), pitch_diameter_mm(pitch_mm, driven_teeth)
    sine = (driven - driver) / (2 * centre_mm)
    if abs(sine) >= 1:
        least = abs(driven - driver) / 2
        raise ValueError(f"`centre_mm` must be more than {least:.3f} mm here, not {centre_mm:g}.")
    return 180 - 2 * math.degrees(math.asin(sine))


def touching_centre_mm(chain: Chain | Engagement, z1: float, z2: float) -> float:
    """Centre distance at which even the smallest tips of two sprockets in line touch.

    Source: ISO 606, da min = d + p (1 - 1.6/z) - d1; double pitch as in `minimum_centre_mm`.
    """
    gaps = 2 if chain.is_double_pitch else 1
    return (
        sum(
            pitch_diameter_mm(chain.pitch_mm, z)
            + chain.pitch_mm / gaps * (1 - 1.6 / (gaps * z))
            - chain.roller_diameter_mm
            for z in (z1, z2)
        )
        / 2
    )


def minimum_centre_mm(chain: Chain | Engagement, z1: float, z2: float) -> float:
    """Centre distance at which the largest tips of two sprockets in line would touch.

    Source: ISO 606, da max = d + 1.25 p - d1; half the pitch in the tooth height of double-pitch sprockets is our
    reading, not seen in print.
    """
    height = 1.25 * chain.pitch_mm / (2 if chain.is_double_pitch else 1)
    first, second = (
        pitch_diameter_mm(chain.pitch_mm, z) + height - chain.roller_diameter_mm for z in (z1, z2)
    )
    return (first + second) / 2
