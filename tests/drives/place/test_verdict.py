import pytest

from drives.place.verdict import judge_for_place
from inventory.interchange.vocabulary import Aspect, Outcome, PositionRole
from tests.drives.place.cases import CASES
from tests.drives.place.samples import driven, driver, duty, sprocket
from tests.inventory.interchange.samples import chain, custom_chain


def finding(verdict, aspect):
    return next(f for f in verdict.findings if f.aspect is aspect)


def test_what_is_not_known_of_the_drive_is_listed_as_unchecked():
    verdict = judge_for_place(driver(), sprocket())
    codes = {f.aspect: f.code for f in verdict.unchecked}

    assert codes[Aspect.RATING] == "rating_power_or_speed_not_recorded"
    assert codes[Aspect.CHAIN_WEAR] == "chain_elongation_not_recorded"
    assert codes[Aspect.DUTY] == "lifting_not_recorded"


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_every_finding_has_a_source(case):
    verdict = judge_for_place(case.required, case.offered, duty=case.duty)

    assert all(found.sources for found in verdict.findings)


@pytest.mark.parametrize(
    ("changes", "code"),
    [
        ({"chain": chain("C2040")}, "no_rating_for_double_pitch"),
        ({"chain": chain("428")}, "no_rating_for_chain"),
        ({"chain": custom_chain(13.1, 8.0, 7.0)}, "rating_chain_not_standard"),
        ({"strands": 9}, "no_rating_for_strands"),
        ({"strands": None}, "rating_teeth_or_strands_not_recorded"),
        ({"role": None}, "rating_role_not_recorded"),
    ],
)
def test_a_rating_that_cannot_be_had_says_why(changes, code):
    required = driver(**changes)
    verdict = judge_for_place(required, sprocket(chain=required.chain), duty=duty(power_kw=50.0))

    assert finding(verdict, Aspect.RATING).code == code
    assert verdict.consequences.rating_utilisation is None


def test_a_driven_sprocket_without_its_mate_is_not_rated():
    verdict = judge_for_place(driven(), sprocket(teeth=57), duty=duty(mating_teeth=None))

    assert finding(verdict, Aspect.RATING).code == "rating_mating_sprocket_not_recorded"


def test_a_speed_that_the_equations_do_not_cover_is_not_rated():
    # The small sprocket would turn at 1.5e9 rpm.
    verdict = judge_for_place(
        driven(teeth=19), sprocket(), duty=duty(mating_teeth=57, speed_rpm=5e8, power_kw=1.0)
    )

    assert finding(verdict, Aspect.RATING).code == "rating_out_of_range"


def test_a_speed_beyond_galling_has_no_rating_and_no_utilisation():
    required, offered = driver(chain=chain("08A")), sprocket(chain=chain("08A"))
    verdict = judge_for_place(required, offered, duty=duty(speed_rpm=20_000.0))
    rating = finding(verdict, Aspect.RATING)

    assert (rating.outcome, rating.code) == (Outcome.REVIEW, "rating_none_at_this_speed")
    assert "used_share" not in rating.values
    assert verdict.consequences.rating_utilisation is None


def test_a_speed_in_the_galling_region_is_for_review():
    verdict = judge_for_place(driver(), sprocket(), duty=duty(power_kw=0.05, speed_rpm=7400.0))
    rating = finding(verdict, Aspect.RATING)

    assert (rating.outcome, rating.code) == (Outcome.REVIEW, "rating_in_galling_region")


def test_a_chain_of_another_length_is_fitted_where_the_old_one_does_not_reach():
    verdict = judge_for_place(
        driver(),
        sprocket(teeth=21),
        duty=duty(ratio_tolerance_percent=12.0, centre_adjustment_mm=(-1.0, 7.0)),
    )
    change = finding(verdict, Aspect.TEETH)

    assert "shafts_move_with_other_chain" in {found.code for found in change.facts}
    assert [step.detail.code for step in change.work] == ["fit_chain_of_links", "move_shafts"]


def test_the_consequences_of_one_tooth_more():
    # By hand: 20/19 - 1 = 5.263 %; 200 rpm × 20/57 = 70.175 rpm.
    known = judge_for_place(driver(), sprocket(teeth=20), duty=duty()).consequences

    assert known.ratio_change_percent == pytest.approx(5.263, abs=5e-4)
    assert known.driven_speed_rpm == pytest.approx(70.175, abs=5e-4)
    assert known.chain_links % 2 == 0
    assert known.centre_shift_mm < 0


def test_the_consequences_of_equal_teeth_are_none():
    known = judge_for_place(driver(), sprocket(), duty=duty()).consequences

    assert (known.ratio_change_percent, known.centre_shift_mm) == (0.0, 0.0)
    assert known.driven_speed_rpm == pytest.approx(200 * 19 / 57, abs=5e-4)


def test_a_driven_sprocket_of_more_teeth_turns_the_other_way_in_percent():
    # By hand: 57/58 - 1 = -1.724 %.
    known = judge_for_place(driven(), sprocket(teeth=58), duty=duty(mating_teeth=19)).consequences

    assert known.ratio_change_percent == pytest.approx(-1.724, abs=5e-4)


def test_rating_is_the_ratio_of_design_power_to_the_published_rating():
    # Printed No. 40, 17 teeth, 200 rpm: 1.29 hp = 0.962 kW; 0.5 kW × 1.3 = 0.65 kW.
    known = judge_for_place(driver(teeth=17), sprocket(teeth=17), duty=duty(power_kw=0.5)).consequences

    assert known.rating_utilisation == pytest.approx(0.65 / 0.962, rel=0.01)


def test_a_place_whose_role_is_not_recorded_is_not_rated():
    verdict = judge_for_place(driver(role=None), sprocket(), duty=duty(power_kw=50.0))

    assert verdict.consequences.rating_utilisation is None
    assert finding(verdict, Aspect.RATING).code == "rating_role_not_recorded"


def test_an_idler_carries_no_rating():
    verdict = judge_for_place(driver(role=PositionRole.IDLER), sprocket(), duty=duty(power_kw=50.0))

    assert Aspect.RATING not in {f.aspect for f in verdict.findings}


@pytest.mark.parametrize(
    ("name", "value", "rule"),
    [
        ("power_kw", 0.0, "be more than 0"),
        ("speed_rpm", -1.0, "be more than 0"),
        ("service_factor", float("nan"), "be finite"),
        ("mating_teeth", 2, "be a whole number from 6 to 400"),
    ],
)
def test_a_duty_that_no_drive_has_is_refused(name, value, rule):
    with pytest.raises(ValueError, match=f"`{name}` must {rule}"):
        duty(**{name: value})


def test_a_centre_distance_that_cannot_be_is_taken_for_not_recorded():
    # 120 and 19 teeth at 100 mm: the small sprocket would lie inside the large one.
    impossible = duty(mating_teeth=120, centre_distance_mm=100.0)
    verdict = judge_for_place(driver(), sprocket(teeth=20), duty=impossible)

    assert verdict.consequences.chain_links is None
    assert finding(verdict, Aspect.TEETH).code == "take_up_not_recorded"


@pytest.mark.parametrize(("share", "outcome"), [(0.999, "ok"), (1.001, "review"), (1.5, "review")])
def test_the_whole_rating_may_be_used_and_no_more(share, outcome):
    required, offered = driver(chain=chain("08A")), sprocket(chain=chain("08A"))
    used = judge_for_place(required, offered, duty=duty(power_kw=0.6)).consequences.rating_utilisation

    verdict = judge_for_place(required, offered, duty=duty(power_kw=0.6 * share / used))

    assert finding(verdict, Aspect.RATING).outcome.value == outcome


@pytest.mark.parametrize(
    ("links", "code", "outcome"),
    [
        # 08B, tips of 19 and 20 teeth: 80.28 to 84.52 and 84.35 to 88.55 mm: they touch below 82.31, and may up to 86.54 mm.
        # With 20 and 19 teeth the taut chain of 32 links needs 79.37 mm, of 33 links 85.72 mm, of 34 links 92.07 mm.
        (32, "tips_touch", Outcome.NO),
        (33, "tips_may_touch", Outcome.REVIEW),
        (34, None, Outcome.REVIEW),
    ],
)
def test_wheels_whose_tips_would_touch_are_not_taken_up(links, code, outcome):
    short = duty(
        mating_teeth=19,
        links=links,
        centre_distance_mm=None,
        power_kw=None,
        centre_adjustment_mm=(-15.0, 2.0),
    )

    teeth = finding(judge_for_place(driver(), sprocket(teeth=20), duty=short), Aspect.TEETH)

    assert teeth.outcome is outcome
    assert [one.code for one in teeth.facts if one.code.startswith("tips")] == ([code] if code else [])
