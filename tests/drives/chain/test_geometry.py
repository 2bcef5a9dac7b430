import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.geometry import (
    chain_speed_m_s,
    driven_speed_rpm,
    effective_teeth,
    largest_tip_diameter_mm,
    minimum_centre_mm,
    pitch_diameter_mm,
    ratio,
    wrap_angle_deg,
    wrap_driver_deg,
    wrap_small_deg,
)

TEETH = st.integers(min_value=9, max_value=150)


def test_a_driver_of_half_the_teeth_halves_the_speed():
    assert ratio(17, 34) == 2.0
    assert driven_speed_rpm(900, driver_teeth=17, driven_teeth=34) == 450.0


def test_a_larger_driver_speeds_the_drive_up():
    assert ratio(34, 17) == 0.5
    assert driven_speed_rpm(900, driver_teeth=34, driven_teeth=17) == 1800.0


@given(z1=TEETH, z2=TEETH, rpm=st.floats(min_value=1, max_value=3000))
def test_both_sprockets_see_the_same_chain_speed(z1, z2, rpm):
    slow = driven_speed_rpm(rpm, driver_teeth=z1, driven_teeth=z2)
    first = chain_speed_m_s(12.7, teeth=z1, speed_rpm=rpm)
    assert chain_speed_m_s(12.7, teeth=z2, speed_rpm=slow) == pytest.approx(first)


def test_a_double_cut_sprocket_moves_half_its_teeth():
    assert effective_teeth(25, double_cut=True) == 12.5
    assert effective_teeth(25, double_cut=False) == 25.0


def test_a_double_cut_sprocket_with_too_few_teeth_is_refused():
    with pytest.raises(ValueError, match="`actual_teeth` must be from 5 to 400, not 4"):
        effective_teeth(8, double_cut=True)


@given(teeth=TEETH)
def test_the_pitch_diameter_makes_every_chord_one_pitch(teeth):
    radius = pitch_diameter_mm(12.7, teeth) / 2
    assert 2 * radius * math.sin(math.pi / teeth) == pytest.approx(12.7)


def test_equal_sprockets_wrap_half_a_turn():
    assert wrap_small_deg(12.7, z1=19, z2=19, centre_mm=500) == 180.0


@given(z1=TEETH, z2=TEETH)
def test_the_two_wraps_make_one_turn(z1, z2):
    drive = {"driver_teeth": z1, "driven_teeth": z2, "centre_mm": 1000}
    back = {"driver_teeth": z2, "driven_teeth": z1, "centre_mm": 1000}
    assert wrap_driver_deg(12.7, **drive) + wrap_driver_deg(12.7, **back) == pytest.approx(360)


@given(small=st.integers(min_value=9, max_value=50), times=st.floats(min_value=1, max_value=3))
def test_a_ratio_up_to_3_never_wraps_less_than_120_degrees(small, times):
    large = math.floor(small * times)
    centre = minimum_centre_mm(12.7, z1=small, z2=large, roller_diameter_mm=7.92)
    assert wrap_small_deg(12.7, z1=large, z2=small, centre_mm=centre) >= 120


def test_a_larger_driver_wraps_more_than_half_a_turn():
    assert wrap_driver_deg(12.7, driver_teeth=57, driven_teeth=19, centre_mm=500) > 180


def test_the_tip_limit_is_the_standard_one():
    tip = largest_tip_diameter_mm(12.7, teeth=17, roller_diameter_mm=7.92)
    assert tip == pytest.approx(12.7 / math.sin(math.pi / 17) + 1.25 * 12.7 - 7.92)


def test_the_least_centre_lies_halfway_between_the_two_tips():
    tips = [largest_tip_diameter_mm(12.7, teeth=z, roller_diameter_mm=7.92) for z in (17, 65)]
    assert minimum_centre_mm(12.7, z1=17, z2=65, roller_diameter_mm=7.92) == pytest.approx(sum(tips) / 2)


def test_a_circle_inside_another_has_no_wrap():
    with pytest.raises(ValueError, match=r"`centre_mm` must be more than 100\.000 mm here, not 90"):
        wrap_angle_deg(100, other_diameter_mm=300, centre_mm=90)


@pytest.mark.parametrize("bad", [0, -12.7, math.nan, math.inf, "12.7", True])
def test_a_pitch_that_is_no_size_is_refused(bad):
    with pytest.raises(ValueError, match="`pitch_mm` must"):
        chain_speed_m_s(bad, teeth=17, speed_rpm=900)


@pytest.mark.parametrize("bad", [0, -900, math.nan, -math.inf])
def test_a_speed_that_does_not_turn_is_refused(bad):
    with pytest.raises(ValueError, match="`driver_speed_rpm` must"):
        driven_speed_rpm(bad, driver_teeth=17, driven_teeth=34)
