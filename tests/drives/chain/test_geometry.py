import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.geometry import chain_speed_m_s, driven_speed_rpm, minimum_centre_mm, ratio, wrap_driver_deg
from inventory.standards.chains import find_chain
from inventory.standards.tooth_form import tooth_form

NO_40 = find_chain("40")
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


def test_equal_sprockets_wrap_half_a_turn():
    assert wrap_driver_deg(12.7, driver_teeth=19, driven_teeth=19, centre_mm=500) == 180.0


@given(z1=TEETH, z2=TEETH)
def test_the_two_wraps_make_one_turn(z1, z2):
    drive = {"driver_teeth": z1, "driven_teeth": z2, "centre_mm": 1000}
    back = {"driver_teeth": z2, "driven_teeth": z1, "centre_mm": 1000}
    assert wrap_driver_deg(12.7, **drive) + wrap_driver_deg(12.7, **back) == pytest.approx(360)


@given(small=st.integers(min_value=9, max_value=50), times=st.floats(min_value=1, max_value=3))
def test_a_ratio_up_to_3_never_wraps_less_than_120_degrees(small, times):
    large = math.floor(small * times)
    centre = minimum_centre_mm(NO_40, small, large)
    assert wrap_driver_deg(12.7, driver_teeth=small, driven_teeth=large, centre_mm=centre) >= 120


def test_a_larger_driver_wraps_more_than_half_a_turn():
    assert wrap_driver_deg(12.7, driver_teeth=57, driven_teeth=19, centre_mm=500) > 180


@pytest.mark.parametrize("name", ["40", "08B", "2040"])
def test_the_least_centre_lies_halfway_between_the_largest_tips_of_the_standard(name):
    chain = find_chain(name)
    tips = [tooth_form(chain, z).outside_diameter_max_mm for z in (17, 65)]
    assert minimum_centre_mm(chain, 17, 65) == pytest.approx(sum(tips) / 2)


def test_a_circle_inside_another_has_no_wrap():
    with pytest.raises(ValueError, match=r"`centre_mm` must be more than 96\.876 mm here, not 90"):
        wrap_driver_deg(12.7, driver_teeth=17, driven_teeth=65, centre_mm=90)
