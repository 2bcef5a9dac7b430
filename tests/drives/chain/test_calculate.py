import math
from dataclasses import FrozenInstanceError, fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.calculate import calculate
from drives.chain.drive import DriveInput, DriveResult, PlainChain
from drives.chain.length import even_links
from drives.chain.rating import KW_PER_HP, OLDER_GENERATION
from inventory.standards.chains import chains, find_chain

NO_40 = PlainChain(12.7, 7.92, "40", "A")
NO_240 = PlainChain(76.2, 47.63, "240", "A")
DOUBLE = PlainChain(25.4, 7.92, "2040", "double-pitch transmission", is_double_pitch=True)
RUNNING = {"driver_speed_rpm": 900, "power_kw": 2.2, "service_factor": 1.3, "lubrication": "B"}


def drive(chain=NO_40, *, teeth=(17, 34), **given_fields):
    if "links" not in given_fields:
        given_fields.setdefault("centre_distance_mm", 40 * chain.pitch_mm)
    return DriveInput(chain=chain, driver_teeth=teeth[0], driven_teeth=teeth[1], **given_fields)


def advice(*args, **given_fields):
    return " ".join(calculate(drive(*args, **given_fields)).advice)


def test_the_answer_carries_every_name_of_the_contract():
    contract = {
        *("ratio", "driven_speed_rpm", "chain_speed_m_s", "links_exact", "links", "centre_distance_mm"),
        *("wrap_driver_deg", "rated_power_kw", "limited_by", "design_power_kw", "utilisation"),
        *("tight_side_tension_n", "advice", "generation", "lubrication_class", "wear_limit_percent"),
    }
    assert contract <= {field.name for field in fields(DriveResult)}


def test_a_textbook_drive_comes_out_as_published():
    found = calculate(drive(PlainChain(12.7, 7.92, "40", "A"), teeth=(21, 63), centre_distance_mm=500))
    assert found.links_exact == pytest.approx(121.875, abs=0.004)
    assert (found.links, found.ratio) == (122, 3.0)
    assert found.centre_distance_mm == pytest.approx(500.80, abs=0.02)


def test_the_numbers_of_a_running_drive_belong_together():
    found = calculate(drive(**RUNNING))
    assert (found.driven_speed_rpm, found.chain_speed_m_s) == (450.0, pytest.approx(3.2385))
    assert found.rated_power_kw / KW_PER_HP == pytest.approx(4.98, abs=0.005)
    assert (found.limited_by, found.generation) == ("plate_fatigue", OLDER_GENERATION)
    assert found.utilisation == pytest.approx(2.2 * 1.3 / found.rated_power_kw)
    assert found.tight_side_tension_n == pytest.approx(2200 / 3.2385)
    assert (found.lubrication_class, found.wear_limit_percent) == ("B", 3.0)


def test_a_quiet_drive_gets_little_advice():
    found = calculate(drive(teeth=(19, 38), links=118, **RUNNING))
    assert found.advice == ()


def test_the_centre_is_the_one_for_the_even_count():
    found = calculate(drive(centre_distance_mm=508))
    assert found.links == 106
    assert "508.0 mm ask for 105.68 links; 106 links are taut at 510.0 mm" in " ".join(found.advice)


def test_a_speed_up_drive_is_rated_on_its_small_fast_sprocket():
    down = calculate(drive(teeth=(17, 34), driver_speed_rpm=900))
    up = calculate(drive(teeth=(34, 17), driver_speed_rpm=450))
    assert up.rated_power_kw == pytest.approx(down.rated_power_kw)
    assert up.driven_speed_rpm == 900
    assert up.wrap_driver_deg > 180 > down.wrap_driver_deg


def test_without_speed_only_the_geometry_is_known():
    found = calculate(drive(power_kw=2.2, service_factor=1.3))
    unknown = (found.driven_speed_rpm, found.chain_speed_m_s, found.rated_power_kw, found.limited_by)
    assert unknown == (None, None, None, None)
    assert (found.utilisation, found.tight_side_tension_n, found.lubrication_class) == (None, None, None)
    assert found.design_power_kw == pytest.approx(2.86)
    assert "The speed is not given: speeds, rating, pull and lubrication were not checked." in found.advice


def test_without_power_the_load_is_unknown_and_the_rating_known():
    found = calculate(drive(driver_speed_rpm=900))
    assert (found.design_power_kw, found.utilisation, found.tight_side_tension_n) == (None, None, None)
    assert found.rated_power_kw is not None
    assert "The power is not given: design power, utilisation and pull were not checked." in found.advice


def test_a_missing_service_factor_is_said_not_hidden():
    found = calculate(drive(driver_speed_rpm=900, power_kw=2.2))
    assert found.design_power_kw == 2.2
    assert any(sentence.startswith("No service factor is given: 1.0 was taken") for sentence in found.advice)


def test_odd_links_are_answered_with_an_even_count():
    found = calculate(drive(teeth=(21, 84), links=135))
    assert (found.links_exact, found.links) == (135.0, 136)
    assert any("135 links need a cranked link" in sentence for sentence in found.advice)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ({"teeth": (17, 120), "centre_distance_mm": 600}, "The ratio of 7.06 is above 6"),
        ({"teeth": (104, 17), "centre_distance_mm": 600}, "The ratio of 6.12 is above 6"),
        ({"teeth": (17, 120), "centre_distance_mm": 280}, "the small sprocket; at least 120 are wanted"),
        ({"teeth": (17, 34), "centre_distance_mm": 110}, "The tips of the teeth overlap"),
        ({"teeth": (13, 26), "driver_speed_rpm": 900}, "13 teeth are few unless the drive is very slow"),
        ({"teeth": (25, 130), "centre_distance_mm": 700}, "130 teeth are more than the 120"),
        ({"teeth": (18, 36), "links": 120}, "120 links and 18 teeth share the factor 6"),
        ({"centre_distance_mm": 20 * 12.7}, "pitches apart; 30 to 50 suit most drives"),
        ({"centre_distance_mm": 90 * 12.7}, "above 80: guides or a tensioner are needed"),
        ({"driver_speed_rpm": 900, "power_kw": 5}, "The chain is overloaded: 5 kW are asked of 3.71 kW"),
        ({**RUNNING, "lubrication": "drip"}, "Lubrication of class A is too little: class B"),
        (
            {"driver_speed_rpm": 900},
            "presumes lubrication of class B, oil bath or slinger disc; what the drive has",
        ),
    ],
)
def test_each_weakness_is_said(case, words):
    assert words in advice(**case)


@pytest.mark.parametrize(
    ("case", "words"),
    [
        ({"teeth": (17, 102), "centre_distance_mm": 600}, "The ratio"),
        ({"teeth": (13, 26), "driver_speed_rpm": 30}, "teeth are few"),
        ({"teeth": (17, 34), "links": 106}, "share the factor"),
        ({"centre_distance_mm": 40 * 12.7}, "pitches apart"),
        ({**RUNNING, "lubrication": "stream"}, "ubrication"),
        ({**RUNNING, "links": 106}, "cranked link"),
    ],
)
def test_a_drive_within_the_rule_is_left_alone(case, words):
    assert words not in advice(**case)


def test_every_sentence_of_doubt_names_a_source():
    found = calculate(drive(teeth=(13, 130), links=201, driver_speed_rpm=1400, power_kw=9, lubrication="A"))
    assert len(found.advice) >= 6
    assert all(
        "(" in sentence and sentence.endswith(".") for sentence in found.advice if "not given" not in sentence
    )


def test_the_galling_region_asks_the_maker_and_never_passes():
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=50, service_factor=1, lubrication="C"))
    assert (found.limited_by, found.lubrication_class) == ("galling", "C prime")
    assert any("class C prime" in sentence and "ask the maker" in sentence for sentence in found.advice)


def test_a_pull_beyond_the_galling_limit_is_said_with_the_speed():
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=130, service_factor=1))
    assert found.utilisation > 1
    assert any("300 rev/min is beyond the galling limit of 261 rev/min" in line for line in found.advice)


@given(power=st.floats(min_value=1, max_value=400), strands=st.sampled_from([1, 2, 3]))
def test_the_galling_sentence_comes_exactly_when_galling_limits_and_is_overrun(power, strands):
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=power, service_factor=1, strands=strands))
    beyond = any("beyond the galling limit" in line for line in found.advice)
    assert beyond == (found.utilisation > 1)


def test_a_speed_beyond_galling_carries_nothing():
    found = calculate(drive(NO_240, driver_speed_rpm=3000, power_kw=50, service_factor=1))
    assert (found.rated_power_kw, found.utilisation) == (0.0, None)
    assert found.advice[0].startswith("No power can be carried at this speed")


def test_double_pitch_has_no_rating_and_says_why():
    found = calculate(drive(DOUBLE, teeth=(12, 24), driver_speed_rpm=100, power_kw=1, service_factor=1))
    assert (found.rated_power_kw, found.limited_by, found.utilisation) == (None, None, None)
    assert found.tight_side_tension_n is not None
    assert found.wear_limit_percent == 1.5
    assert any("no rating equation for double-pitch chain" in line for line in found.advice)


def test_a_double_cut_rim_counts_half_its_teeth():
    on_the_rim = calculate(drive(DOUBLE, teeth=(25, 50), double_cut=True, driver_speed_rpm=100))
    effective = calculate(drive(DOUBLE, teeth=(12.5, 25), driver_speed_rpm=100))
    assert on_the_rim.links_exact == effective.links_exact
    assert on_the_rim.chain_speed_m_s == effective.chain_speed_m_s


def test_no_25_says_that_newer_tables_rate_higher():
    assert "Newer tables rate No. 25 higher" in advice(PlainChain(6.35, 3.3, "25", "A"), driver_speed_rpm=900)


def test_seven_strands_have_no_rating_but_an_answer():
    found = calculate(drive(strands=7, **RUNNING))
    assert (found.rated_power_kw, found.utilisation) == (None, None)
    assert "No rating: no ASME strand factor is printed for 7 strands." in found.advice


def test_fixed_centres_wear_out_earlier():
    assert calculate(drive(fixed_centres=True)).wear_limit_percent == 1.5


@pytest.mark.parametrize("both", [{"links": None}, {"links": 106, "centre_distance_mm": 508}])
def test_links_or_centre_must_be_given_and_not_both(both):
    with pytest.raises(ValueError, match="`links` or `centre_distance_mm` must be given, and not both"):
        DriveInput(chain=NO_40, driver_teeth=17, driven_teeth=34, **both)


@pytest.mark.parametrize(
    ("field", "bad"),
    [
        *(
            (name, bad)
            for name in ("driver_speed_rpm", "power_kw", "service_factor")
            for bad in (0, -1, math.nan)
        ),
        *(("centre_distance_mm", bad) for bad in (0, math.inf, "500")),
        *(("strands", bad) for bad in (0, 1.5, True)),
        *(("lubrication", bad) for bad in ("grease", "C prime", 3)),
    ],
)
def test_a_field_out_of_range_is_named(field, bad):
    with pytest.raises(ValueError, match=f"`{field}` must"):
        drive(**{field: bad})


@pytest.mark.parametrize(("field", "teeth"), [("driver_teeth", (17.5, 34)), ("driven_teeth", (17, 4))])
def test_a_count_that_is_no_sprocket_is_named(field, teeth):
    with pytest.raises(ValueError, match=f"`{field}` must"):
        drive(teeth=teeth)


def test_half_teeth_on_the_rim_are_refused():
    with pytest.raises(ValueError, match=r"`driver_teeth` must be a whole number of teeth, not 12\.5"):
        drive(DOUBLE, teeth=(12.5, 25), double_cut=True)


def test_only_double_pitch_sprockets_are_double_cut():
    with pytest.raises(ValueError, match="`double_cut` must be false"):
        drive(double_cut=True)


def test_one_sprocket_inside_the_other_is_refused():
    with pytest.raises(ValueError, match=r"`centre_distance_mm` must be more than 97\.0 mm"):
        calculate(drive(teeth=(17, 65), centre_distance_mm=90))


def test_a_chain_that_does_not_go_round_is_refused():
    with pytest.raises(ValueError, match="`links` must go round 17 and 65 teeth; 60 are too few"):
        calculate(drive(teeth=(17, 65), links=60))


def test_an_answer_cannot_be_changed():
    with pytest.raises(FrozenInstanceError):
        calculate(drive()).links = 3


def test_a_row_of_the_chain_tables_can_be_asked_about_directly():
    found = calculate(drive(find_chain("08B"), **RUNNING))
    assert found.rating_confidence == "by pitch, not the standard for this series"


@pytest.mark.parametrize("chain", chains(), ids=lambda chain: chain.designation)
def test_every_chain_of_the_tables_gets_an_answer(chain):
    found = calculate(drive(chain, driver_speed_rpm=500, power_kw=3, service_factor=1))
    assert found.links % 2 == 0
    assert (found.rated_power_kw is None) == any(line.startswith("No rating:") for line in found.advice)


@given(
    small=st.integers(min_value=9, max_value=60),
    large=st.integers(min_value=9, max_value=150),
    centre=st.floats(min_value=25, max_value=90),
)
def test_links_are_even_and_close_the_loop_at_the_centre_given_back(small, large, centre):
    found = calculate(drive(teeth=(small, large), centre_distance_mm=centre * 12.7))
    again = calculate(drive(teeth=(small, large), centre_distance_mm=found.centre_distance_mm))
    assert found.links % 2 == 0
    assert again.links_exact == pytest.approx(found.links, abs=1e-9)
    assert again.links == found.links


def test_rounding_the_links_does_not_make_tips_touch_that_were_apart():
    found = calculate(drive(teeth=(17, 23), centre_distance_mm=90.1))
    assert (found.links, even_links(found.links_exact)) == (36, 34)
    assert "overlap" not in " ".join(found.advice)
