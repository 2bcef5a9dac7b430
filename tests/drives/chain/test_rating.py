import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from drives.chain.rating import OLDER_GENERATION, STRAND_FACTORS, Rating, rate
from drives.chain.rating_basis import BY_PITCH, HEAVY, find_basis, rated_chains
from drives.chain.rating_formulas import (
    KW_PER_HP,
    N_PER_LBF,
    galling_speed_rpm,
    galling_tension_n,
    roller_bushing_kw,
)
from inventory.facts import Fact, fact
from inventory.standards.chains import chains, find_chain
from tests.drives.chain.checks_reader import rows
from tests.drives.chain.test_rating_checks import single_strand_hp

PRINTED = rows("printed_ratings.csv")
# A printed cell is rounded to 0.01 hp; the cells that were checked lie within half of that.
HALF_DIGIT_HP = 0.005
# The constants are printed with two digits; one of 544 cells, No. 41 with 15 teeth at 25 rpm, needs this much.
ROUNDED_CONSTANT = 0.0015
NO_40 = find_chain("40")
RATED = [find_chain(row.asme_designation) for row in rated_chains()]
CHAINS = st.sampled_from(RATED)
TEETH = st.integers(min_value=9, max_value=60)
SPEEDS = st.floats(min_value=10, max_value=5000)


OLDER = [
    pytest.param(row, id=f"{row['asme_designation']}-{row['speed_rpm']}")
    for row in PRINTED
    if row["generation"] == "older"
]


@pytest.mark.parametrize("row", OLDER)
def test_the_older_equations_give_the_printed_cells(row):
    found = single_strand_hp(row["asme_designation"], teeth=17, speed_rpm=float(row["speed_rpm"]))
    assert abs(found - float(row["rated_power_hp"])) <= HALF_DIGIT_HP


PRINTED_TABLES = [
    pytest.param(row, id=f"{row['asme_designation']}-{row['teeth']}")
    for row in rows("printed_rating_tables.csv")
]


@pytest.mark.parametrize("row", PRINTED_TABLES)
def test_the_rows_of_printed_tables_are_met_within_their_rounding(row):
    """No. 25 in print is the newer generation; its rollers, which decide from 4000 rpm, did not change."""
    number, teeth = row["asme_designation"], int(row["teeth"])
    for speed, cell in zip(row["speeds_rpm"].split(), row["rated_powers_hp"].split(), strict=True):
        if number == "25":
            rollers = {"speed_rpm": float(speed), "pitch_in": 0.25, "roller_constant": 29.0}
            found = roller_bushing_kw(teeth, **rollers) / KW_PER_HP
        else:
            found = single_strand_hp(number, teeth=teeth, speed_rpm=float(speed))
        half_digit = 0.5 * 10 ** -len(cell.partition(".")[2])
        assert abs(found - float(cell)) <= half_digit + ROUNDED_CONSTANT * found, (speed, cell)


@pytest.mark.parametrize(("strands", "factor"), [(1, 1.0), (2, 1.7), (3, 2.5), (4, 3.3)])
def test_the_strand_factors_are_those_printed_above_the_rating_tables(strands, factor):
    assert STRAND_FACTORS[strands] == factor


def test_the_older_equation_falls_short_of_the_newer_no_25_print():
    newer = [
        row for row in PRINTED if row["generation"] == "newer" and 100 <= float(row["speed_rpm"]) <= 3000
    ]
    shortfalls = [
        1 - single_strand_hp("25", teeth=17, speed_rpm=float(row["speed_rpm"])) / float(row["rated_power_hp"])
        for row in newer
    ]
    assert min(shortfalls) > 0.05
    assert max(shortfalls) < 0.32


@pytest.mark.parametrize(("strands", "chain"), [(1, "200"), (2, "160"), (3, "140"), (4, "140")])
def test_shigley_example_17_5_picks_the_published_chains(strands, chain):
    wanted = 90 * KW_PER_HP * 1.3 * 1.5 / STRAND_FACTORS[strands]
    enough = [size for size in RATED if rate(size, teeth=17, speed_rpm=300).rated_power_kw >= wanted]
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


@given(chain=CHAINS, teeth=TEETH, pull=st.floats(min_value=10, max_value=50_000))
def test_the_galling_pull_undoes_the_galling_speed(chain, teeth, pull):
    pitch_in = chain.pitch_mm / 25.4
    speed = galling_speed_rpm(teeth, pitch_in=pitch_in, tension_n=pull)
    assert galling_tension_n(teeth, pitch_in=pitch_in, speed_rpm=speed) == pytest.approx(pull, abs=0.01)


def test_a_large_chain_at_speed_is_limited_by_galling():
    rating = rate(find_chain("240"), teeth=17, speed_rpm=300)
    assert rating.limited_by == "galling"
    assert rating.rated_power_kw / KW_PER_HP == pytest.approx(123.6, abs=0.1)
    (note,) = rating.notes
    assert note.code == "galling_limits_rating"
    assert note.values["power_without_galling_kw"] == pytest.approx(231, abs=0.5)


def test_a_speed_beyond_galling_without_load_rates_zero():
    rating = rate(find_chain("240"), teeth=17, speed_rpm=3000)
    assert (rating.rated_power_kw, rating.limited_by) == (0.0, "galling")


@given(chain=CHAINS, teeth=TEETH, speed=SPEEDS)
def test_more_teeth_carry_more_before_galling(chain, teeth, speed):
    fewer = rate(chain, teeth=teeth, speed_rpm=speed)
    more = rate(chain, teeth=teeth + 1, speed_rpm=speed)
    assume("galling" not in (fewer.limited_by, more.limited_by))
    assert more.rated_power_kw > fewer.rated_power_kw


@given(chain=CHAINS, teeth=TEETH, speed=SPEEDS)
def test_power_rises_with_speed_while_plates_decide_and_falls_while_rollers_do(chain, teeth, speed):
    slow = rate(chain, teeth=teeth, speed_rpm=speed)
    fast = rate(chain, teeth=teeth, speed_rpm=speed * 1.01)
    assume(slow.limited_by == fast.limited_by != "galling")
    assert (fast.rated_power_kw > slow.rated_power_kw) == (slow.limited_by == "plate_fatigue")


@given(chain=CHAINS, teeth=TEETH, speed=SPEEDS, strands=st.sampled_from([2, 3, 4, 5, 6, 8]))
def test_strands_multiply_the_rating_by_the_asme_factor(chain, teeth, speed, strands):
    one = rate(chain, teeth=teeth, speed_rpm=speed)
    many = rate(chain, teeth=teeth, speed_rpm=speed, strands=strands)
    assert many.rated_power_kw == pytest.approx(one.rated_power_kw * STRAND_FACTORS[strands])
    assert many.limited_by == one.limited_by


def test_seven_strands_have_no_rating():
    assert rate(NO_40, teeth=17, speed_rpm=900, strands=7) == fact("no_rating_for_strands", strands=7)


def test_a_b_series_chain_is_rated_by_pitch_and_says_so():
    rating = rate(find_chain("08B"), teeth=17, speed_rpm=900)
    assert rating.rated_power_kw == rate(NO_40, teeth=17, speed_rpm=900).rated_power_kw
    assert rating.confidence == BY_PITCH
    assert rating.notes == (fact("rated_by_pitch"),)


def test_a_06b_roller_is_not_taken_for_the_bush_of_no_35():
    b_series = rate(find_chain("06B"), teeth=17, speed_rpm=3500)
    no_35 = rate(find_chain("35"), teeth=17, speed_rpm=3500)
    assert b_series.rated_power_kw / no_35.rated_power_kw == pytest.approx(17 / 29)


def test_heavy_plates_rate_as_standard_ones_and_say_so():
    rating = rate(find_chain("60H"), teeth=17, speed_rpm=300)
    assert rating.rated_power_kw / KW_PER_HP == pytest.approx(6.20, abs=HALF_DIGIT_HP)
    assert rating.confidence == HEAVY
    assert rating.notes == (fact("rated_as_standard_plates"),)


def test_a_metric_pitch_is_rated_at_its_own_size():
    basis = find_basis(find_chain("05B"))
    assert basis.pitch_in == pytest.approx(0.31496, abs=1e-5)
    assert basis.row.asme_designation == "35"


@pytest.mark.parametrize(
    ("name", "code"),
    [
        ("2040", "no_rating_for_double_pitch"),
        ("15", "no_rating_for_chain"),
        ("415", "no_rating_for_chain"),
        ("520", "no_rating_for_chain"),
        ("72B", "no_rating_for_chain"),
        ("04B", "no_rating_for_chain"),
    ],
)
def test_a_chain_that_no_equation_covers_has_no_rating_and_a_reason(name, code):
    chain = find_chain(name)
    assert rate(chain, teeth=17, speed_rpm=300) == fact(code, chain=chain.designation)


@pytest.mark.parametrize("chain", chains(), ids=lambda chain: chain.designation)
def test_a_rated_number_has_the_pitch_of_its_chain(chain):
    basis = find_basis(chain)
    if not isinstance(basis, Fact) and basis.confidence != BY_PITCH:
        assert basis.row.pitch_in * 25.4 == pytest.approx(chain.pitch_mm, abs=0.001)


def test_a_rating_names_its_generation():
    rating = rate(NO_40, teeth=17, speed_rpm=900)
    assert isinstance(rating, Rating)
    assert rating.generation == OLDER_GENERATION


@pytest.mark.parametrize("bad", [0, -900, math.nan, math.inf, "900", True])
def test_a_speed_that_is_no_speed_is_refused(bad):
    with pytest.raises(ValueError, match="`speed_rpm` must"):
        rate(NO_40, teeth=17, speed_rpm=bad)
