import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drives.chain.basis import BY_PITCH, HEAVY, find_basis, rated_chains
from drives.chain.factors import strand_factor
from drives.chain.rating import (
    KW_PER_HP,
    MM_PER_IN,
    N_PER_LBF,
    NEWER_GENERATION_25,
    OLDER_GENERATION,
    Rating,
    compare_ratings,
    galling_speed_rpm,
    galling_tension_n,
    life_adjusted_kw,
    rate,
    rate_no25_newer,
    roller_bushing_kw,
)
from tests.drives.chain.checks_reader import rows
from tests.drives.chain.test_rating_checks import single_strand_hp

PRINTED = rows("printed_ratings.csv")
# A printed cell is rounded to 0.01 hp; the cells that were checked lie within half of that.
HALF_DIGIT_HP = 0.005
# The fit of the newer No. 25 cells has 0.5 % rms; a single cell may lie twice that away, or half a digit.
FIT_SHARE = 0.01
NO_40 = find_basis(0.5, asme_designation="40")
ROWS = st.sampled_from(rated_chains())
TEETH = st.integers(min_value=9, max_value=60)
SPEEDS = st.floats(min_value=10, max_value=5000)


def basis_of(row):
    return find_basis(row.pitch_in, asme_designation=row.asme_designation)


def cells(generation):
    found = [row for row in PRINTED if row["generation"] == generation]
    return [pytest.param(row, id=f"{row['asme_designation']}-{row['speed_rpm']}") for row in found]


@pytest.mark.parametrize("row", cells("older"))
def test_the_older_equations_give_the_printed_cells(row):
    found = single_strand_hp(row["asme_designation"], teeth=17, speed_rpm=float(row["speed_rpm"]))
    assert abs(found - float(row["rated_power_hp"])) <= HALF_DIGIT_HP


@pytest.mark.parametrize("row", cells("newer"))
def test_the_newer_fit_gives_the_printed_cells_of_no_25(row):
    rating = rate_no25_newer(17, speed_rpm=float(row["speed_rpm"]))
    printed = float(row["rated_power_hp"])
    assert abs(rating.rated_power_kw / KW_PER_HP - printed) <= max(HALF_DIGIT_HP, FIT_SHARE * printed)
    assert rating.generation == NEWER_GENERATION_25


def test_the_older_equation_falls_short_of_the_newer_no_25_print():
    shortfalls = [
        1 - single_strand_hp("25", teeth=17, speed_rpm=n) / hp
        for n, hp in [(100, 0.10), (300, 0.29), (900, 0.82), (1800, 1.60), (3000, 2.61)]
    ]
    assert min(shortfalls) > 0.05
    assert max(shortfalls) < 0.32


def test_both_generations_of_no_25_meet_after_the_extreme():
    newer = rate_no25_newer(17, speed_rpm=5000)
    assert newer.limited_by == "roller_bushing"
    assert newer.rated_power_kw == pytest.approx(single_strand_hp("25", teeth=17, speed_rpm=5000) * KW_PER_HP)


@pytest.mark.parametrize("speed", [49, 5001])
def test_the_newer_fit_is_not_stretched_beyond_the_speeds_seen(speed):
    rating = rate_no25_newer(17, speed_rpm=speed)
    assert rating.rated_power_kw is None
    assert rating.notes[0].startswith("No rating: the newer No. 25 table was seen from 50 to 5000 rpm")


@pytest.mark.parametrize(("strands", "chain"), [(1, "200"), (2, "160"), (3, "140"), (4, "140")])
def test_shigley_example_17_5_picks_the_published_chains(strands, chain):
    wanted = 90 * KW_PER_HP * 1.3 * 1.5 / strand_factor(strands, method="ASME")
    enough = [
        row for row in rated_chains() if rate(basis_of(row), teeth=17, speed_rpm=300).rated_power_kw >= wanted
    ]
    assert enough[0].asme_designation == chain


def test_shigley_example_17_5_ratings_are_the_published_ones():
    found = [single_strand_hp(chain, teeth=17, speed_rpm=300) for chain in ("200", "160", "140", "120")]
    assert found == pytest.approx([192.5, 105.0, 72.4, 46.8], abs=0.06)


@pytest.mark.parametrize(
    ("pitch", "pull_lbf", "speed"), [(0.5, 500, 7291), (1.0, 1000, 2342), (1.75, 3700, 728)]
)
def test_the_galling_speed_is_the_published_one(pitch, pull_lbf, speed):
    assert round(galling_speed_rpm(17, pitch_in=pitch, tension_n=pull_lbf * N_PER_LBF)) == speed


def test_the_galling_speed_follows_the_equation_as_it_is_printed():
    p, n, f = 1.25, 21, 2400
    bracket = 82.5 / (7.95**p * 1.0278**n * 1.323 ** (f / 1000))
    plain = 1000 * bracket ** (1 / (1.59 * math.log10(p) + 1.873))
    assert galling_speed_rpm(n, pitch_in=p, tension_n=f * N_PER_LBF) == pytest.approx(plain)


@given(row=ROWS, teeth=TEETH, pull=st.floats(min_value=10, max_value=50_000))
def test_the_galling_pull_undoes_the_galling_speed(row, teeth, pull):
    speed = galling_speed_rpm(teeth, pitch_in=row.pitch_in, tension_n=pull)
    assert galling_tension_n(teeth, pitch_in=row.pitch_in, speed_rpm=speed) == pytest.approx(pull, abs=0.01)


def test_a_large_chain_at_speed_is_limited_by_galling():
    rating = rate(find_basis(3.0, asme_designation="240"), teeth=17, speed_rpm=300)
    assert rating.limited_by == "galling"
    assert rating.rated_power_kw / KW_PER_HP == pytest.approx(123.6, abs=0.1)
    assert (
        rating.notes[-1]
        == "Plates and rollers alone would carry 231 kW; in the galling region the maker decides."
    )


def test_a_speed_beyond_galling_without_load_rates_zero():
    rating = rate(find_basis(3.0, asme_designation="240"), teeth=17, speed_rpm=3000)
    assert (rating.rated_power_kw, rating.limited_by) == (0.0, "galling")


@given(row=ROWS, teeth=TEETH, speed=SPEEDS)
def test_more_teeth_carry_more_before_galling(row, teeth, speed):
    fewer = rate(basis_of(row), teeth=teeth, speed_rpm=speed)
    more = rate(basis_of(row), teeth=teeth + 1, speed_rpm=speed)
    assume("galling" not in (fewer.limited_by, more.limited_by))
    assert more.rated_power_kw > fewer.rated_power_kw


@given(row=ROWS, teeth=TEETH, speed=SPEEDS)
def test_power_rises_with_speed_while_plates_decide_and_falls_while_rollers_do(row, teeth, speed):
    slow = rate(basis_of(row), teeth=teeth, speed_rpm=speed)
    fast = rate(basis_of(row), teeth=teeth, speed_rpm=speed * 1.01)
    assume(slow.limited_by == fast.limited_by != "galling")
    assert (fast.rated_power_kw > slow.rated_power_kw) == (slow.limited_by == "plate_fatigue")


@given(row=ROWS, teeth=TEETH, speed=SPEEDS, strands=st.sampled_from([2, 3, 4, 5, 6, 8]))
def test_strands_multiply_the_rating_by_the_asme_factor(row, teeth, speed, strands):
    one = rate(basis_of(row), teeth=teeth, speed_rpm=speed)
    many = rate(basis_of(row), teeth=teeth, speed_rpm=speed, strands=strands)
    assert many.rated_power_kw == pytest.approx(one.rated_power_kw * strand_factor(strands, method="ASME"))
    assert many.limited_by == one.limited_by


def test_seven_strands_have_no_rating():
    rating = rate(NO_40, teeth=17, speed_rpm=900, strands=7)
    assert rating.rated_power_kw is None
    assert rating.notes == ("No rating: no ASME strand factor is printed for 7 strands.",)


def test_a_longer_life_lowers_the_roller_limit_and_leaves_the_plates():
    base, longer = (rate(NO_40, teeth=17, speed_rpm=2000, hours=h) for h in (15_000, 30_000))
    plates, longer_plates = (rate(NO_40, teeth=17, speed_rpm=300, hours=h) for h in (15_000, 30_000))
    assert longer.rated_power_kw / base.rated_power_kw == pytest.approx(0.5**0.4)
    assert longer_plates.rated_power_kw == plates.rated_power_kw


@given(
    links=st.integers(min_value=60, max_value=200),
    hours=st.floats(min_value=1000, max_value=60_000),
    teeth=TEETH,
)
def test_the_life_equation_keeps_its_constant(links, hours, teeth):
    def constant(power, teeth, links, hours):
        return power**2.5 * hours / (teeth**3.75 * links)

    rating = {"speed_rpm": 2000, "pitch_in": 0.5, "roller_constant": 17}
    base = roller_bushing_kw(17, **rating)
    other = roller_bushing_kw(teeth, **rating, links=links, hours=hours)
    assert constant(other, teeth, links, hours) == pytest.approx(constant(base, 17, 100, 15_000))


def test_a_life_without_hours_is_refused():
    with pytest.raises(ValueError, match="`hours` must be more than 0, not 0"):
        life_adjusted_kw(7.72, links=100, hours=0)


def test_a_b_series_chain_is_rated_by_pitch_and_says_so():
    rating = rate(find_basis(0.5, series="B"), teeth=17, speed_rpm=900)
    assert rating.rated_power_kw == rate(NO_40, teeth=17, speed_rpm=900).rated_power_kw
    assert rating.confidence == BY_PITCH
    assert "by pitch to a B-series chain" in rating.notes[0]


def test_a_06b_roller_is_not_taken_for_the_bush_of_no_35():
    b_series = rate(find_basis(0.375, series="B"), teeth=17, speed_rpm=3500)
    no_35 = rate(find_basis(0.375, asme_designation="35"), teeth=17, speed_rpm=3500)
    assert b_series.rated_power_kw / no_35.rated_power_kw == pytest.approx(17 / 29)


def test_a_metric_pitch_is_rated_at_its_own_size():
    basis = find_basis(8 / MM_PER_IN, series="B")
    assert basis.pitch_in == pytest.approx(0.31496, abs=1e-5)
    assert basis.row.asme_designation == "35"


def test_heavy_plates_rate_as_standard_ones_and_say_so():
    rating = rate(find_basis(0.75, asme_designation="60H", series="H"), teeth=17, speed_rpm=300)
    assert rating.rated_power_kw / KW_PER_HP == pytest.approx(6.20, abs=HALF_DIGIT_HP)
    assert rating.confidence == HEAVY


@pytest.mark.parametrize(
    ("chain", "reason"),
    [
        ({"pitch_in": 1.0, "asme_designation": "2040", "is_double_pitch": True}, "double-pitch chain"),
        ({"pitch_in": 0.1875, "asme_designation": "15", "series": "A"}, "not No. 15"),
        ({"pitch_in": 0.5, "series": "light half-inch"}, "not a chain of series light half-inch"),
        ({"pitch_in": 0.625, "series": "motorcycle"}, "not a chain of series motorcycle"),
        ({"pitch_in": 0.5}, "not a chain of series unknown"),
        ({"pitch_in": 4.5, "series": "B"}, "the pitch 4.5 in is outside 0.25 to 3 in"),
        ({"pitch_in": 6 / 25.4, "series": "B"}, "is outside 0.25 to 3 in"),
    ],
)
def test_a_chain_that_no_equation_covers_has_no_rating_and_a_reason(chain, reason):
    rating = rate(find_basis(**chain), teeth=17, speed_rpm=300)
    assert (rating.rated_power_kw, rating.limited_by) == (None, None)
    assert reason in rating.notes[0]
    assert rating.generation == OLDER_GENERATION


def test_a_number_with_the_pitch_of_another_is_refused():
    with pytest.raises(ValueError, match=r"`pitch_in` must be 0\.5 for No\. 40, not 0\.625"):
        find_basis(0.625, asme_designation="40")


def test_a_tooth_more_compares_by_the_plate_exponent():
    old, new = (rate(NO_40, teeth=z, speed_rpm=300) for z in (19, 20))
    assert compare_ratings(old, new) == pytest.approx((20 / 19) ** 1.08)


def test_ratings_of_two_generations_are_not_compared():
    old = rate(find_basis(0.25, asme_designation="25"), teeth=17, speed_rpm=900)
    with pytest.raises(ValueError, match="`new` must be of the same rating generation as `old`"):
        compare_ratings(old, rate_no25_newer(17, speed_rpm=900))


def test_a_missing_rating_is_not_compared():
    rated = rate(NO_40, teeth=17, speed_rpm=300)
    unrated = rate(find_basis(1.0, is_double_pitch=True), teeth=17, speed_rpm=300)
    with pytest.raises(ValueError, match="`old` must have a rating above 0"):
        compare_ratings(unrated, rated)
    with pytest.raises(ValueError, match="`new` must have a rating"):
        compare_ratings(rated, unrated)


def test_a_rating_without_a_generation_is_refused():
    with pytest.raises(ValueError, match="`generation` must name the rating generation"):
        Rating(1.0, "plate_fatigue", "", "source", "found")


def test_a_rating_without_its_limit_is_refused():
    with pytest.raises(ValueError, match="`limited_by` must be given where `rated_power_kw` is"):
        Rating(1.0, None, OLDER_GENERATION, "source", "found")


@pytest.mark.parametrize("bad", [0, -900, math.nan, math.inf, "900", True])
def test_a_speed_that_is_no_speed_is_refused(bad):
    with pytest.raises(ValueError, match="`speed_rpm` must"):
        rate(NO_40, teeth=17, speed_rpm=bad)
