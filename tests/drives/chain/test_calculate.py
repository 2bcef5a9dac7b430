import math
from dataclasses import FrozenInstanceError, fields

import pytest
from hypothesis import given
from hypothesis import strategies as st

from drives.chain.calculate import calculate
from drives.chain.drive_input import DriveInput, DriveResult
from drives.chain.length import even_links
from drives.chain.rating import OLDER_GENERATION
from drives.chain.rating_formulas import KW_PER_HP
from inventory.facts import fact
from inventory.standards.chains import chains, find_chain

NO_40, NO_240, DOUBLE = find_chain("40"), find_chain("240"), find_chain("2040")
RUNNING = {"driver_speed_rpm": 900, "power_kw": 2.2, "service_factor": 1.3, "lubrication": "B"}


def drive(chain=NO_40, *, teeth=(17, 34), **given_fields):
    if "links" not in given_fields:
        given_fields.setdefault("centre_distance_mm", 40 * chain.pitch_mm)
    return DriveInput(chain=chain, driver_teeth=teeth[0], driven_teeth=teeth[1], **given_fields)


def advice(*args, **given_fields):
    return {found.code: found.values for found in calculate(drive(*args, **given_fields)).advice}


def test_the_answer_carries_every_name_of_the_contract():
    contract = {
        *("ratio", "driven_speed_rpm", "chain_speed_m_s", "links_exact", "links", "centre_distance_mm"),
        *("wrap_driver_deg", "rated_power_kw", "limited_by", "design_power_kw", "utilisation"),
        *("tight_side_tension_n", "advice", "generation", "lubrication_class", "wear_limit_percent"),
    }
    assert contract <= {field.name for field in fields(DriveResult)}


def test_a_textbook_drive_comes_out_as_published():
    found = calculate(drive(teeth=(21, 63), centre_distance_mm=500))
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
    (moved,) = [one.values for one in found.advice if one.code == "centre_of_even_links"]
    assert (moved["given_centre_mm"], moved["links"]) == (508, 106)
    assert moved["links_exact"] == pytest.approx(105.68, abs=0.005)
    assert moved["centre_mm"] == pytest.approx(510.0, abs=0.05)


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
    assert fact("speed_not_given") in found.advice


def test_without_power_the_load_is_unknown_and_the_rating_known():
    found = calculate(drive(driver_speed_rpm=900))
    assert (found.design_power_kw, found.utilisation, found.tight_side_tension_n) == (None, None, None)
    assert found.rated_power_kw is not None
    assert fact("power_not_given") in found.advice


def test_a_missing_service_factor_is_said_not_hidden():
    found = calculate(drive(driver_speed_rpm=900, power_kw=2.2))
    assert found.design_power_kw == 2.2
    assert fact("service_factor_not_given") in found.advice


def test_odd_links_are_answered_with_an_even_count():
    found = calculate(drive(teeth=(21, 84), links=135))
    assert (found.links_exact, found.links) == (135.0, 136)
    (odd,) = [one.values for one in found.advice if one.code == "odd_links"]
    assert (odd["links"], odd["even_links"]) == (135, 136)


WEAKNESSES = [
    ({"teeth": (17, 120), "centre_distance_mm": 600}, "ratio_too_large", {"ratio": 7.06, "largest_ratio": 6}),
    ({"teeth": (104, 17), "centre_distance_mm": 600}, "ratio_too_large", {"ratio": 6.12}),
    ({"teeth": (17, 120), "centre_distance_mm": 280}, "wrap_too_small", {"least_deg": 120}),
    ({"teeth": (17, 34), "centre_distance_mm": 110}, "tips_overlap", {"minimum_centre_mm": 111.33}),
    ({"teeth": (13, 26), "driver_speed_rpm": 900}, "few_teeth", {"teeth": 13, "least_teeth": 17}),
    ({"teeth": (25, 130), "centre_distance_mm": 700}, "many_teeth", {"teeth": 130, "most_teeth": 120}),
    (
        {"teeth": (18, 36), "links": 120},
        "links_and_teeth_share_factor",
        {"links": 120, "teeth": 18, "factor": 6},
    ),
    (
        {"centre_distance_mm": 20 * 12.7},
        "centres_outside_usual",
        {"least_pitches": 30, "most_pitches": 50},
    ),
    ({"centre_distance_mm": 90 * 12.7}, "centres_too_far_apart", {"most_pitches": 80}),
    (
        {"driver_speed_rpm": 900, "power_kw": 5},
        "chain_overloaded",
        {"design_power_kw": 5, "rated_power_kw": 3.71},
    ),
    ({**RUNNING, "lubrication": "drip"}, "lubrication_not_enough", {"given": "A", "needed": "B"}),
    ({"driver_speed_rpm": 900}, "lubrication_not_given", {"needed": "B", "confidence": "found"}),
]


@pytest.mark.parametrize(("case", "code", "values"), WEAKNESSES)
def test_each_weakness_is_found(case, code, values):
    found = advice(**case)[code]
    for name, value in values.items():
        assert found[name] == (value if isinstance(value, str) else pytest.approx(value, abs=0.05))


@pytest.mark.parametrize(
    ("case", "code"),
    [
        ({"teeth": (17, 102), "centre_distance_mm": 600}, "ratio_too_large"),
        ({"teeth": (13, 26), "driver_speed_rpm": 30}, "few_teeth"),
        ({"teeth": (17, 34), "links": 106}, "links_and_teeth_share_factor"),
        ({"centre_distance_mm": 40 * 12.7}, "centres_outside_usual"),
        ({**RUNNING, "lubrication": "stream"}, "lubrication_not_enough"),
        ({**RUNNING, "links": 106}, "odd_links"),
    ],
)
def test_a_drive_within_the_rule_is_left_alone(case, code):
    assert code not in advice(**case)


# Printed limits: a centre of 30 to 50 pitches and at most 120 teeth (Design Data, PSG College of Technology, p. 7.74, in a printed
# procedure of chain drives); 80 pitches at most and 17 teeth at speed (Shigley, 9th ed., sec. 17-5). Equal wheels: C = (X - z) / 2.
@pytest.mark.parametrize(
    ("case", "codes"),
    [
        ({"teeth": (20, 20), "links": 78}, {"centres_outside_usual"}),
        ({"teeth": (20, 20), "links": 80}, set()),
        ({"teeth": (20, 20), "links": 120}, set()),
        ({"teeth": (20, 20), "links": 122}, {"centres_outside_usual"}),
        ({"teeth": (20, 20), "links": 180}, {"centres_outside_usual"}),
        ({"teeth": (20, 20), "links": 182}, {"centres_too_far_apart"}),
        ({"teeth": (25, 120), "links": 154}, set()),
        ({"teeth": (25, 121), "links": 154}, {"many_teeth"}),
        ({"teeth": (17, 17), "links": 97, "driver_speed_rpm": 900}, set()),
        ({"teeth": (16, 16), "links": 96, "driver_speed_rpm": 900}, {"few_teeth"}),
        ({"teeth": (17, 103), "links": 160}, {"ratio_too_large"}),
        ({"teeth": (103, 17), "links": 160}, {"ratio_too_large"}),
        ({"teeth": (102, 17), "links": 160}, set()),
    ],
)
def test_advice_begins_beyond_the_printed_limit(case, codes):
    limits = {"centres_outside_usual", "centres_too_far_apart", "many_teeth", "few_teeth", "ratio_too_large"}
    assert set(advice(**case)) & limits == codes


def test_a_chain_used_to_the_full_is_not_called_overloaded():
    full = calculate(drive(driver_speed_rpm=900)).rated_power_kw
    loads = {
        share: advice(driver_speed_rpm=900, power_kw=full * share, service_factor=1) for share in (1, 1.001)
    }

    assert "chain_overloaded" not in loads[1]
    assert "chain_overloaded" in loads[1.001]


def test_advice_on_wrap_begins_below_120_degrees():
    """At least 120 degrees on the small wheel (a chain maker's printed recommendation): there C is just D2 - D1."""
    apart_mm = 12.7 / math.sin(math.pi / 110) - 12.7 / math.sin(math.pi / 17)
    by_links = {links: calculate(drive(teeth=(17, 110), links=links)) for links in range(124, 170, 2)}
    warned = {
        links for links, found in by_links.items() if "wrap_too_small" in [one.code for one in found.advice]
    }

    assert warned == {links for links, found in by_links.items() if found.centre_distance_mm < apart_mm}
    assert 0 < len(warned) < len(by_links)


def test_the_galling_region_asks_the_maker_and_never_passes():
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=50, service_factor=1, lubrication="C"))
    assert (found.limited_by, found.lubrication_class) == ("galling", "C prime")
    assert "lubrication_ask_maker" in [one.code for one in found.advice]


def test_a_pull_beyond_the_galling_limit_is_said_with_the_speed():
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=130, service_factor=1))
    assert found.utilisation > 1
    (beyond,) = [one.values for one in found.advice if one.code == "speed_beyond_galling"]
    assert (beyond["speed_rpm"], round(beyond["limit_rpm"])) == (300, 261)


@given(power=st.floats(min_value=1, max_value=400), strands=st.sampled_from([1, 2, 3]))
def test_the_galling_advice_comes_exactly_when_galling_limits_and_is_overrun(power, strands):
    found = calculate(drive(NO_240, driver_speed_rpm=300, power_kw=power, service_factor=1, strands=strands))
    beyond = any(one.code == "speed_beyond_galling" for one in found.advice)
    assert beyond == (found.utilisation > 1)


def test_a_speed_beyond_galling_carries_nothing():
    found = calculate(drive(NO_240, driver_speed_rpm=3000, power_kw=50, service_factor=1))
    assert (found.rated_power_kw, found.utilisation) == (0.0, None)
    assert found.advice[0].code == "no_power_at_this_speed"


def test_double_pitch_has_no_rating_and_says_why():
    found = calculate(drive(DOUBLE, teeth=(12, 24), driver_speed_rpm=100, power_kw=1, service_factor=1))
    assert (found.rated_power_kw, found.limited_by, found.utilisation) == (None, None, None)
    assert found.tight_side_tension_n is not None
    assert found.wear_limit_percent == 1.5
    assert fact("no_rating_for_double_pitch", chain="208A") in found.advice
    assert fact("lubrication_not_checked", chain="208A") in found.advice


def test_a_double_cut_rim_counts_half_its_teeth():
    on_the_rim = calculate(drive(DOUBLE, teeth=(25, 50), double_cut=True, driver_speed_rpm=100))
    effective = calculate(drive(DOUBLE, teeth=(12.5, 25), driver_speed_rpm=100))
    assert on_the_rim.links_exact == effective.links_exact
    assert on_the_rim.chain_speed_m_s == effective.chain_speed_m_s


def test_no_25_says_that_newer_tables_rate_higher():
    assert "newer_tables_rate_higher" in advice(find_chain("25"), driver_speed_rpm=900)


def test_seven_strands_have_no_rating_but_an_answer():
    found = calculate(drive(strands=7, **RUNNING))
    assert (found.rated_power_kw, found.utilisation) == (None, None)
    assert fact("no_rating_for_strands", strands=7) in found.advice


@pytest.mark.parametrize("special", ["fixed_centres", "parallel_chains"])
def test_special_drives_wear_out_earlier(special):
    assert calculate(drive(**{special: True})).wear_limit_percent == 1.5


def test_a_double_cut_rim_with_too_few_teeth_is_refused():
    with pytest.raises(ValueError, match="`driver_teeth` must be from 10 to 400, not 8"):
        drive(DOUBLE, teeth=(8, 20), double_cut=True)


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
    assert (found.rated_power_kw is None) == any(one.code.startswith("no_rating_") for one in found.advice)


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
    assert "tips_overlap" not in [one.code for one in found.advice]
