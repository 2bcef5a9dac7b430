import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drives.chain.length import centre_exact_pitches
from drives.chain.take_up import TakeUp, is_taken_up, take_up_lengths
from tests.drives.chain.checks_reader import rows
from tests.drives.chain.test_length_checks import changed, inputs, teeth

SHIFTS = [row for row in rows("chain_length_checks.csv") if row["what"] == "centre shift in pitches"]
# The exact and the handbook shift part by less than this at ratio 6, the worst of the published rows.
EXACT_AGAINST_HANDBOOK = 0.005
TEETH = st.integers(min_value=13, max_value=40)


def take_up(pitch_mm: float, **drive) -> TakeUp:
    """On the best length."""
    return take_up_lengths(pitch_mm, **drive)[0]


def centre_shift_mm(pitch_mm, *, links, z1, z2, new_z1, new_z2, new_links=None):
    old = centre_exact_pitches(links, z1=z1, z2=z2)
    return (centre_exact_pitches(new_links or links, z1=new_z1, z2=new_z2) - old) * pitch_mm


@pytest.mark.parametrize("row", SHIFTS, ids=lambda row: row["id"])
def test_the_exact_shift_stays_near_the_published_handbook_shift(row):
    start = inputs(row)
    links, pair = changed(start)
    new = {"new_z1": pair["z1"], "new_z2": pair["z2"], "new_links": links}
    shift = centre_shift_mm(1.0, links=float(start["L"]), **teeth(start), **new)
    assert shift == pytest.approx(float(row["expected"]), abs=EXACT_AGAINST_HANDBOOK)


def test_one_tooth_more_on_an_equal_pair_moves_the_shafts_a_quarter_pitch_closer():
    shift = centre_shift_mm(25.4, links=80, z1=17, z2=17, new_z1=18, new_z2=17)
    assert shift == pytest.approx(-6.4, abs=0.05)


@pytest.mark.parametrize(
    ("pitch", "one_tooth"),
    [
        (9.525, 2.4),
        (12.7, 3.2),
        (15.875, 4.0),
        (19.05, 4.8),
        (25.4, 6.4),
        (31.75, 7.9),
        (38.1, 9.5),
        (50.8, 12.7),
    ],
)
def test_the_shift_by_pitch_is_the_published_one(pitch, one_tooth):
    shift = centre_shift_mm(pitch, links=80, z1=17, z2=17, new_z1=18, new_z2=17)
    assert -shift == pytest.approx(one_tooth, abs=0.06)


def test_a_take_up_with_room_keeps_the_chain():
    found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(-15, 0))
    assert (found.fits, found.keeps_chain, found.links) == (True, True, 80)
    assert found.centre_shift_mm == pytest.approx(-3.18, abs=0.01)


def test_a_take_up_that_only_goes_apart_asks_for_two_links_more():
    found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(0, 15))
    assert (found.fits, found.keeps_chain, found.links) == (True, False, 82)
    assert found.centre_shift_mm == pytest.approx(9.52, abs=0.01)


def test_a_fixed_centre_takes_no_single_tooth():
    found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(0, 0))
    assert (found.fits, found.keeps_chain) == (False, False)


def test_a_fixed_centre_takes_four_teeth_and_two_links():
    found = take_up(12.7, z1=17, z2=34, links=100, new_z1=19, new_z2=36, adjustment_mm=(0, 0))
    assert (found.fits, found.keeps_chain, found.links) == (True, False, 102)
    assert found.centre_shift_mm == pytest.approx(0, abs=1e-6)


def test_a_chain_a_little_long_stays_as_slack():
    found = take_up(12.7, z1=17, z2=51, links=110, new_z1=18, new_z2=48, adjustment_mm=(0, 7.0))
    assert (found.fits, found.keeps_chain) == (True, True)
    assert found.centre_shift_mm > 7.0


def test_a_chain_a_little_short_does_not_fit():
    found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(-3.1, 0))
    assert found.fits is False


def test_an_unrecorded_adjustment_is_not_taken_for_room():
    found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19)
    assert found.fits is None
    assert found.links == 80


@pytest.mark.parametrize("recorded_mm", [None, 385.0, 390.0])
def test_the_centre_is_that_of_the_length_and_moves_from_what_the_present_length_gives(recorded_mm):
    found = take_up(
        12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, centre_mm=recorded_mm, adjustment_mm=(-15, 15)
    )
    # Equal sprockets: C = (L - z) / 2 pitches, so 80 links on 19 and 19 teeth give 387.35 mm.
    assert found.centre_mm - found.centre_shift_mm == pytest.approx(387.35)
    assert found.centre_mm == pytest.approx(centre_exact_pitches(80, z1=20, z2=19) * 12.7)


def test_every_length_that_fits_is_there_the_present_one_first():
    # One tooth more brings the shafts a quarter pitch closer; two links more put them one pitch further apart.
    found = take_up_lengths(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(-10, 10))
    assert [(one.links, one.keeps_chain) for one in found if one.fits] == [(80, True), (82, False)]


def test_a_chain_that_no_longer_goes_round_gives_way_to_a_longer_one():
    found = take_up(12.7, z1=17, z2=34, links=60, new_z1=17, new_z2=80, adjustment_mm=(-5, 400))
    assert (found.fits, found.keeps_chain) == (True, False)
    assert found.links > 80


@pytest.mark.parametrize(("adjustment", "links"), [((0, 15), 82), ((-15, 0), 81)])
def test_a_cranked_link_may_stay_but_is_never_proposed(adjustment, links):
    assert (
        take_up(12.7, z1=19, z2=19, links=81, new_z1=20, new_z2=19, adjustment_mm=adjustment).links == links
    )


def test_limits_in_the_wrong_order_are_refused():
    with pytest.raises(ValueError, match="`adjustment_mm` must run from 0 or below to 0 or above"):
        take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(5, -5))


@given(z1=TEETH, z2=TEETH)
def test_the_same_teeth_keep_the_chain_where_it_is(z1, z2):
    found = take_up(12.7, z1=z1, z2=z2, links=120, new_z1=z1, new_z2=z2, adjustment_mm=(0, 0))
    assert (found.keeps_chain, found.links) == (True, 120)
    assert found.centre_shift_mm == pytest.approx(0, abs=1e-9)


@given(z1=TEETH, z2=TEETH, extra=st.integers(min_value=-4, max_value=4))
def test_the_chosen_length_closes_the_loop_on_the_new_teeth(z1, z2, extra):
    found = take_up(12.7, z1=z1, z2=z2, links=120, new_z1=z1 + extra, new_z2=z2, adjustment_mm=(-20, 20))
    shift = centre_shift_mm(
        12.7, links=120, z1=z1, z2=z2, new_z1=z1 + extra, new_z2=z2, new_links=found.links
    )
    assert found.fits
    assert found.centre_shift_mm == pytest.approx(shift, abs=1e-9)


@given(
    teeth=st.tuples(*[st.integers(min_value=9, max_value=80)] * 4),
    links=st.integers(min_value=40, max_value=240),
    reach=st.none() | st.tuples(st.floats(min_value=-60, max_value=0), st.floats(min_value=0, max_value=60)),
    touching_mm=st.floats(min_value=0, max_value=900),
)
def test_it_is_taken_up_where_one_of_all_lengths_fits(teeth, links, reach, touching_mm):
    names = ("z1", "z2", "new_z1", "new_z2")
    asked = dict(zip(names, teeth, strict=True), links=links, adjustment_mm=reach, touching_mm=touching_mm)
    assume(links > max(teeth[:2]))
    every = take_up_lengths(12.7, **asked)
    assert is_taken_up(12.7, **asked) is any(one.fits is not False for one in every)
