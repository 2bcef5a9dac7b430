"""Design power, chain pull, shaft torque and the pressure on a key.

The numbers are taken as checked: `DriveInput` and the records of `drives.place` do that.
"""

import math


def design_power_kw(power_kw: float, *, service_factor: float | None) -> float:
    """Power that the chain must be rated for; a factor that is not known counts as 1.

    Source: Shigley, 9th ed., eq. 17-38 without its design factor: H Ks.
    """
    return power_kw if service_factor is None else power_kw * service_factor


def tension_n(power_kw: float, chain_speed_m_s: float) -> float:
    """Pull of the tight strand over all strands, without the centrifugal part: F = 1000 P / v."""
    return 1000 * power_kw / chain_speed_m_s


def shaft_torque_nm(power_kw: float, speed_rpm: float) -> float:
    """T = 60000 P / (2 pi n); handbooks round the factor to 9550."""
    return 30_000 * power_kw / (math.pi * speed_rpm)


def hub_torque_nm(torque_nm: float, *, teeth: float, other_teeth: float) -> float:
    """Torque in a hub from that of its mate: one chain pull on two pitch circles, losses left out."""
    return torque_nm * teeth / other_teeth


def key_bearing_mpa(
    torque_nm: float, *, shaft_diameter_mm: float, bearing_depth_mm: float, length_mm: float
) -> float:
    """Pressure on the flank of one parallel key, p = 2 T / (d t L), with the depth t in the weaker part.

    Source: Shigley, 9th ed., sec. 7-7, with t = h/2; t = h - t1 in the hub of a metric key.
    """
    return 2000 * torque_nm / (shaft_diameter_mm * bearing_depth_mm * length_mm)
