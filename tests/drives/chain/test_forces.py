import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.forces import hub_torque_nm, key_bearing_mpa, shaft_torque_nm, tension_n
from drives.chain.geometry import chain_speed_m_s
from tests.drives.chain.test_rating_checks import CHECKS, MM_PER_INCH, MPA_PER_KPSI, NM_PER_LBF_IN, close

SIZES = st.floats(min_value=0.5, max_value=500)
# Shigley's Mechanical Engineering Design, 9th ed., ex. 7-6: 4200 lbf.in on 1 7/16 in, a 3/8 in square key, factor 2.8.
# The book rounds the force to 5850 lbf, within the tolerance of the check rows.
TORQUE_NM = 4200 * NM_PER_LBF_IN
SHAFT_MM = 1.4375 * MM_PER_INCH
KEY_MM = 0.375 * MM_PER_INCH


def test_r65_the_key_length_by_crushing():
    allowed = 65 * MPA_PER_KPSI / 2.8
    per_inch = key_bearing_mpa(
        TORQUE_NM, shaft_diameter_mm=SHAFT_MM, bearing_depth_mm=KEY_MM / 2, length_mm=MM_PER_INCH
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
