import pytest

from drives.chain.wear import elongation_limit_percent


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


@pytest.mark.parametrize("bad", [0, 4, 401, "80", True])
def test_a_count_that_is_no_sprocket_is_refused(bad):
    with pytest.raises(ValueError, match="`largest_teeth` must"):
        elongation_limit_percent(bad)
