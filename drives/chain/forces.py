"""Chain pull, shaft torque, and what a key carries."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from inventory.number_checks import quantity, quantity_or_zero
from inventory.standards.tooth_counts import drive_teeth

# Two keys carry 1.5 times one key and three carry twice, because the load is not shared evenly: course texts on
# parallel keys, two copies read.
KEY_SHARE = {1: 1.0, 2: 1.5, 3: 2.0}
# The Complete Guide to Chain: never above a sixth of the ultimate strength in steady service, and never above half
# of it even once.


@dataclass(frozen=True)
class KeyCapacity:
    """The torque that the keys of one seat carry, and what decides it."""

    torque_nm: float
    shear_torque_nm: float
    bearing_torque_nm: float
    limited_by: Literal["shear", "bearing"]


def tension_n(power_kw: float, chain_speed_m_s: float) -> float:
    """Pull of the tight strand that the power asks for.

    Parameters
    ----------
    power_kw : float
        Power [kW], above 0.
    chain_speed_m_s : float
        Chain speed [m/s], above 0.

    Returns
    -------
    float
        Tension over all strands [N], without the centrifugal part.

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    F = 1000 P / v, definition of power.

    Examples
    --------
    >>> tension_n(10, 5)
    2000.0
    """
    return 1000 * quantity("power_kw", power_kw) / quantity("chain_speed_m_s", chain_speed_m_s)


def centrifugal_n(mass_kg_per_m: float, chain_speed_m_s: float) -> float:
    """Pull that the moving mass of the chain adds in both strands.

    Parameters
    ----------
    mass_kg_per_m : float
        Mass of the chain, all strands [kg/m], above 0.
    chain_speed_m_s : float
        Chain speed [m/s], above 0.

    Returns
    -------
    float
        Tension [N].

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    F = q v**2, momentum of the turning strand.

    Examples
    --------
    >>> centrifugal_n(1.5, 4)
    24.0
    """
    return quantity("mass_kg_per_m", mass_kg_per_m) * quantity("chain_speed_m_s", chain_speed_m_s) ** 2


def shaft_torque_nm(power_kw: float, speed_rpm: float) -> float:
    """Torque of a shaft.

    Parameters
    ----------
    power_kw : float
        Power [kW], above 0.
    speed_rpm : float
        Shaft speed [rev/min], above 0.

    Returns
    -------
    float
        Torque [Nm].

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    T = 60000 P / (2 pi n), definition; handbooks round the factor to 9550.

    Examples
    --------
    >>> round(shaft_torque_nm(7.5, 1450), 2)
    49.39
    """
    return 30_000 * quantity("power_kw", power_kw) / (math.pi * quantity("speed_rpm", speed_rpm))


def hub_torque_nm(torque_nm: float, *, teeth: float, other_teeth: float) -> float:
    """Torque in the hub of one sprocket from the torque in the hub of its mate.

    Parameters
    ----------
    torque_nm : float
        Torque of the mate [Nm], above 0.
    teeth : float
        Teeth of this sprocket [-].
    other_teeth : float
        Teeth of the mate [-].

    Returns
    -------
    float
        Torque [Nm]; a larger driven sprocket carries more at the same chain pull.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    T2 = T1 z2 / z1: one chain pull on two pitch circles, losses left out.

    Examples
    --------
    >>> hub_torque_nm(100, teeth=57, other_teeth=19)
    300.0
    """
    torque = quantity("torque_nm", torque_nm)
    return torque * drive_teeth("teeth", teeth) / drive_teeth("other_teeth", other_teeth)


def static_factor(breaking_load_n: float, pull_n: float) -> float:
    """How many times the pull goes into the breaking load.

    Parameters
    ----------
    breaking_load_n : float
        Least breaking load of the chain, all strands [N], above 0.
    pull_n : float
        Pull of the tight strand [N], above 0.

    Returns
    -------
    float
        Factor [-]; 6 is the least for steady service, 2 for a single overload.

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    Definition; limits of The Complete Guide to Chain.

    Examples
    --------
    >>> static_factor(22_200, 1850)
    12.0
    """
    return quantity("breaking_load_n", breaking_load_n) / quantity("pull_n", pull_n)


def key_shear_mpa(
    torque_nm: float, *, shaft_diameter_mm: float, key_width_mm: float, length_mm: float
) -> float:
    """Shear stress in one parallel key.

    Parameters
    ----------
    torque_nm : float
        Torque [Nm], zero or more.
    shaft_diameter_mm, key_width_mm, length_mm : float
        Shaft diameter, key width and bearing length [mm], above 0.

    Returns
    -------
    float
        Stress [MPa].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    tau = 2 T / (d b L); Shigley's Mechanical Engineering Design, 9th ed., sec. 7-7.

    Examples
    --------
    >>> key_shear_mpa(200, shaft_diameter_mm=40, key_width_mm=10, length_mm=50)
    20.0
    """
    torque = quantity_or_zero("torque_nm", torque_nm)
    width, length = quantity("key_width_mm", key_width_mm), quantity("length_mm", length_mm)
    return 2000 * torque / (quantity("shaft_diameter_mm", shaft_diameter_mm) * width * length)


def key_bearing_mpa(
    torque_nm: float, *, shaft_diameter_mm: float, bearing_depth_mm: float, length_mm: float
) -> float:
    """Pressure on the flank of one parallel key.

    Parameters
    ----------
    torque_nm : float
        Torque [Nm], zero or more.
    shaft_diameter_mm, length_mm : float
        Shaft diameter and bearing length [mm], above 0.
    bearing_depth_mm : float
        Depth of key in the weaker part [mm]: half the height for a symmetric key, h - t1 in the hub of a metric one.

    Returns
    -------
    float
        Pressure [MPa].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    p = 2 T / (d t L), with t = h/2 as in Shigley, 9th ed., sec. 7-7, or t = h - t1 for a metric keyway.

    Examples
    --------
    >>> key_bearing_mpa(200, shaft_diameter_mm=40, bearing_depth_mm=4, length_mm=50)
    50.0
    """
    torque = quantity_or_zero("torque_nm", torque_nm)
    depth, length = quantity("bearing_depth_mm", bearing_depth_mm), quantity("length_mm", length_mm)
    return 2000 * torque / (quantity("shaft_diameter_mm", shaft_diameter_mm) * depth * length)


def key_torque_capacity(
    shaft_diameter_mm: float,
    *,
    key_width_mm: float,
    bearing_depth_mm: float,
    length_mm: float,
    allowable_shear_mpa: float,
    allowable_bearing_mpa: float,
    keys: int = 1,
) -> KeyCapacity:
    """Torque that the parallel keys of one seat carry at stresses which the caller allows.

    Parameters
    ----------
    shaft_diameter_mm, key_width_mm, length_mm : float
        Shaft diameter, key width and bearing length [mm], above 0.
    bearing_depth_mm : float
        Depth of key in the weaker part [mm], above 0.
    allowable_shear_mpa, allowable_bearing_mpa : float
        Stresses allowed in the weaker of key, shaft and hub [MPa], above 0; there is no default.
    keys : int
        Keys on the circumference [-], 1 to 3.

    Returns
    -------
    KeyCapacity
        Torque, both partial torques and which one decides.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    T = tau d b L / 2 and T = p d t L / 2, Shigley, 9th ed., sec. 7-7; share of several keys from course texts.

    Examples
    --------
    >>> seat = {"key_width_mm": 10, "bearing_depth_mm": 4, "length_mm": 50}
    >>> key_torque_capacity(40, **seat, allowable_shear_mpa=60, allowable_bearing_mpa=100).torque_nm
    400.0
    """
    if keys not in KEY_SHARE:
        raise ValueError(f"`keys` must be 1, 2 or 3, not {keys!r}.")
    lever = quantity("shaft_diameter_mm", shaft_diameter_mm) * quantity("length_mm", length_mm) / 2000
    shear_mpa = quantity("allowable_shear_mpa", allowable_shear_mpa)
    bearing_mpa = quantity("allowable_bearing_mpa", allowable_bearing_mpa)
    shear = KEY_SHARE[keys] * lever * quantity("key_width_mm", key_width_mm) * shear_mpa
    bearing = KEY_SHARE[keys] * lever * quantity("bearing_depth_mm", bearing_depth_mm) * bearing_mpa
    return KeyCapacity(min(shear, bearing), shear, bearing, "shear" if shear <= bearing else "bearing")
