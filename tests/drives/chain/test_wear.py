import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.wear import elongation_limit_percent, elongation_percent, length_at_elongation_mm, slack


@pytest.mark.parametrize(
    ("teeth", "limit"),
    [(17, 3.0), (66, 3.0), (67, 2.985), (80, 2.5), (100, 2.0), (114, 1.754), (120, 1.667), (150, 1.333)],
)
def test_the_limit_falls_from_67_teeth(teeth, limit):
    assert elongation_limit_percent(teeth) == pytest.approx(limit, abs=0.0005)


@pytest.mark.parametrize("special", ["fixed_centres", "double_pitch", "parallel_chains"])
def test_special_drives_wear_out_at_one_and_a_half_percent(special):
    assert elongation_limit_percent(57, **{special: True}) == 1.5


def test_a_very_large_sprocket_stays_below_the_special_limit():
    assert elongation_limit_percent(150, fixed_centres=True) == pytest.approx(1.333, abs=0.0005)


def test_24_pitches_of_one_inch_read_24_72_in_at_three_percent():
    assert length_at_elongation_mm(3, pitches=24, pitch_mm=25.4) == pytest.approx(24.72 * 25.4)


def test_24_75_in_over_24_pitches_is_more_than_three_percent():
    assert elongation_percent(24.75 * 25.4, pitches=24, pitch_mm=25.4) == pytest.approx(3.125)


def test_a_short_reading_is_a_negative_elongation():
    assert elongation_percent(99, pitches=10, pitch_mm=10) == pytest.approx(-1)


@given(
    wear=st.floats(min_value=0, max_value=10),
    pitches=st.integers(min_value=1, max_value=200),
    pitch=st.floats(min_value=4, max_value=120),
)
def test_measuring_undoes_predicting(wear, pitches, pitch):
    reading = length_at_elongation_mm(wear, pitches=pitches, pitch_mm=pitch)
    assert elongation_percent(reading, pitches=pitches, pitch_mm=pitch) == pytest.approx(wear, abs=1e-9)


@pytest.mark.parametrize(
    ("centre", "angle", "least", "most"),
    [(1000, 0, 30, 50), (500, 45, 15, 25), (1000, 60, 30, 30), (1000, 90, 30, 30)],
)
def test_slack_is_40_give_or_take_10_mm_per_metre_and_the_lower_bound_when_steep(centre, angle, least, most):
    found = slack(centre, inclination_deg=angle)
    assert (found.least_mm, found.most_mm) == pytest.approx((least, most))
    assert found.test_force_n == 160.0


@pytest.mark.parametrize("angle", [-1, 91, math.nan])
def test_an_angle_beyond_upright_is_refused(angle):
    with pytest.raises(ValueError, match="`inclination_deg` must be"):
        slack(1000, inclination_deg=angle)


@pytest.mark.parametrize("bad", [0, 24.5, -24])
def test_a_reading_over_no_whole_pitches_is_refused(bad):
    with pytest.raises(ValueError, match="`pitches` must be"):
        elongation_percent(600, pitches=bad, pitch_mm=25.4)
