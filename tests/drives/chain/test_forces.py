import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.forces import (
    centrifugal_n,
    hub_torque_nm,
    key_bearing_mpa,
    key_shear_mpa,
    key_torque_capacity,
    shaft_torque_nm,
    static_factor,
    tension_n,
)
from drives.chain.geometry import chain_speed_m_s
from tests.drives.chain.test_rating_checks import CHECKS, MM_PER_IN, MPA_PER_KPSI, NM_PER_LBF_IN, close

SIZES = st.floats(min_value=0.5, max_value=500)
SEAT = {"key_width_mm": 10, "bearing_depth_mm": 4, "length_mm": 50}
STRESSES = {"allowable_shear_mpa": 60, "allowable_bearing_mpa": 100}
# Shigley's Mechanical Engineering Design, 9th ed., ex. 7-6: 4200 lbf.in on 1 7/16 in, a 3/8 in square key, factor 2.8.
# The book rounds the force to 5850 lbf, within the tolerance of the check rows.
TORQUE_NM = 4200 * NM_PER_LBF_IN
SHAFT_MM = 1.4375 * MM_PER_IN
KEY_MM = 0.375 * MM_PER_IN


def test_r64_the_key_length_by_shear():
    allowed = 37.5 * MPA_PER_KPSI / 2.8
    per_inch = key_shear_mpa(TORQUE_NM, shaft_diameter_mm=SHAFT_MM, key_width_mm=KEY_MM, length_mm=MM_PER_IN)
    assert close(per_inch / allowed, CHECKS["R64"])


def test_r65_the_key_length_by_crushing():
    allowed = 65 * MPA_PER_KPSI / 2.8
    per_inch = key_bearing_mpa(
        TORQUE_NM, shaft_diameter_mm=SHAFT_MM, bearing_depth_mm=KEY_MM / 2, length_mm=MM_PER_IN
    )
    assert close(per_inch / allowed, CHECKS["R65"])


@given(teeth=st.integers(min_value=9, max_value=60), power=SIZES, speed=SIZES)
def test_pull_and_torque_tell_of_the_same_power(teeth, power, speed):
    pull = tension_n(power, chain_speed_m_s(12.7, teeth=teeth, speed_rpm=speed))
    lever_m = teeth * 12.7 / (2 * math.pi) / 1000
    assert pull * lever_m == pytest.approx(shaft_torque_nm(power, speed))


def test_a_smaller_driver_pulls_the_chain_harder():
    small, large = (tension_n(10, chain_speed_m_s(12.7, teeth=z, speed_rpm=300)) for z in (17, 34))
    assert small == pytest.approx(2 * large)


def test_a_larger_driven_sprocket_carries_more_torque_at_the_same_pull():
    assert hub_torque_nm(100, teeth=57, other_teeth=19) == 300.0


def test_the_mass_of_the_chain_pulls_with_the_square_of_its_speed():
    assert centrifugal_n(1.5, 8) == 4 * centrifugal_n(1.5, 4)


def test_a_breaking_load_of_twelve_pulls_is_a_static_factor_of_twelve():
    assert static_factor(22_200, 1850) == 12.0


def test_the_weaker_of_shear_and_pressure_decides_the_key():
    found = key_torque_capacity(40, **SEAT, **STRESSES)
    assert (found.torque_nm, found.limited_by) == (400.0, "bearing")
    assert found.shear_torque_nm == 600.0


def test_a_deep_soft_key_shears():
    found = key_torque_capacity(40, **SEAT, allowable_shear_mpa=30, allowable_bearing_mpa=100)
    assert (found.torque_nm, found.limited_by) == (300.0, "shear")


def test_two_keys_carry_half_as_much_again_and_three_twice():
    one, two, three = (key_torque_capacity(40, **SEAT, **STRESSES, keys=n).torque_nm for n in (1, 2, 3))
    assert (two / one, three / one) == (1.5, 2.0)


@given(diameter=SIZES, width=SIZES, depth=SIZES, length=SIZES)
def test_a_key_at_its_capacity_is_just_at_the_allowed_stress(diameter, width, depth, length):
    seat = {"key_width_mm": width, "bearing_depth_mm": depth, "length_mm": length}
    found = key_torque_capacity(diameter, **seat, **STRESSES)
    shear = key_shear_mpa(found.torque_nm, shaft_diameter_mm=diameter, key_width_mm=width, length_mm=length)
    pressure = key_bearing_mpa(
        found.torque_nm, shaft_diameter_mm=diameter, bearing_depth_mm=depth, length_mm=length
    )
    assert max(shear / 60, pressure / 100) == pytest.approx(1)


def test_allowed_stresses_have_no_default():
    with pytest.raises(TypeError, match="allowable_shear_mpa"):
        key_torque_capacity(40, **SEAT)


def test_four_keys_are_refused():
    with pytest.raises(ValueError, match="`keys` must be 1, 2 or 3, not 4"):
        key_torque_capacity(40, **SEAT, **STRESSES, keys=4)


@pytest.mark.parametrize("bad", [0, -5, math.nan, math.inf])
def test_a_power_that_is_none_is_refused(bad):
    with pytest.raises(ValueError, match="`power_kw` must"):
        tension_n(bad, 5)
