import pytest

from drives.place.verdict import judge_for_place
from inventory.interchange.vocabulary import Aspect, Role
from tests.drives.place.cases import CASES
from tests.drives.place.samples import driven, driver, duty, sprocket
from tests.explained import explained


def sentence(verdict, aspect):
    return next(f for f in verdict.findings if f.aspect is aspect)


def test_twenty_instead_of_nineteen_on_the_elevator():
    verdict = judge_for_place(driver(), sprocket(teeth=20), duty=duty())
    finding = sentence(verdict, Aspect.TEETH)

    assert finding.outcome.value == "review"
    assert explained(finding).startswith(
        "20 teeth instead of 19: the driven shaft runs 5.3 % faster (its limit is 6 %); the same chain needs the shafts "
    )
    assert explained(finding).endswith(" mm closer, and the take-up has 15 mm that way.")


def test_what_the_drive_does_not_tell_is_said():
    verdict = judge_for_place(driver(), sprocket())
    said = {f.aspect: explained(f) for f in verdict.unchecked}

    assert (
        said[Aspect.RATING]
        == "The rating was not looked at: power and speed of this drive are not both recorded."
    )
    assert {Aspect.RATING, Aspect.CHAIN_WEAR, Aspect.DUTY} <= set(said)


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_every_finding_is_a_sentence_with_a_source(case):
    for finding in judge_for_place(case.required, case.offered, duty=case.duty).findings:
        assert explained(finding).endswith(".")
        assert finding.sources
        assert "None" not in explained(finding)


def test_the_consequences_of_one_tooth_more():
    # By hand: 20/19 - 1 = 5.263 %; 200 rpm × 20/57 = 70.175 rpm.
    told = judge_for_place(driver(), sprocket(teeth=20), duty=duty()).consequences

    assert told.ratio_change_percent == pytest.approx(5.263, abs=5e-4)
    assert told.driven_speed_rpm == pytest.approx(70.175, abs=5e-4)
    assert told.chain_links % 2 == 0
    assert told.centre_shift_mm < 0


def test_the_consequences_of_equal_teeth_are_none():
    told = judge_for_place(driver(), sprocket(), duty=duty()).consequences

    assert (told.ratio_change_percent, told.centre_shift_mm) == (0.0, 0.0)
    assert told.driven_speed_rpm == pytest.approx(200 * 19 / 57, abs=5e-4)


def test_a_driven_sprocket_of_more_teeth_turns_the_other_way_in_percent():
    # By hand: 57/58 - 1 = -1.724 %.
    told = judge_for_place(driven(), sprocket(teeth=58), duty=duty(mating_teeth=19)).consequences

    assert told.ratio_change_percent == pytest.approx(-1.724, abs=5e-4)


def test_rating_is_the_ratio_of_design_power_to_the_published_rating():
    # Printed No. 40, 17 teeth, 200 rpm: 1.29 hp = 0.962 kW; 0.5 kW × 1.3 = 0.65 kW.
    told = judge_for_place(driver(teeth=17), sprocket(teeth=17), duty=duty(power_kw=0.5)).consequences

    assert told.rating_utilisation == pytest.approx(0.65 / 0.962, rel=0.01)


def test_a_place_whose_role_is_not_recorded_is_not_rated():
    verdict = judge_for_place(driver(role=None), sprocket(), duty=duty(power_kw=50.0))

    assert verdict.consequences.rating_utilisation is None
    assert "drives or is driven is not recorded" in explained(sentence(verdict, Aspect.RATING))


def test_an_idler_carries_no_rating():
    verdict = judge_for_place(driver(role=Role.IDLER), sprocket(), duty=duty(power_kw=50.0))

    assert Aspect.RATING not in {f.aspect for f in verdict.findings}


@pytest.mark.parametrize(
    ("name", "value"), [("power_kw", 0.0), ("speed_rpm", -1.0), ("service_factor", float("nan"))]
)
def test_a_duty_that_is_no_number_is_refused(name, value):
    with pytest.raises(ValueError, match=f"`{name}` must be a finite number greater than 0"):
        duty(**{name: value})


def test_a_centre_distance_that_cannot_be_is_taken_for_not_recorded():
    # 120 and 19 teeth at 100 mm: the small sprocket would lie inside the large one.
    impossible = duty(mating_teeth=120, centre_distance_mm=100.0)
    verdict = judge_for_place(driver(), sprocket(teeth=20), duty=impossible)

    assert verdict.consequences.chain_links is None
    assert "whether it can be taken up was not looked at" in explained(sentence(verdict, Aspect.TEETH))


@pytest.mark.parametrize(("share", "outcome"), [(0.999, "ok"), (1.001, "no"), (1.5, "no")])
def test_the_whole_rating_may_be_used_and_no_more(share, outcome):
    used = judge_for_place(driver(), sprocket(), duty=duty(power_kw=0.6)).consequences.rating_utilisation

    verdict = judge_for_place(driver(), sprocket(), duty=duty(power_kw=0.6 * share / used))

    assert sentence(verdict, Aspect.RATING).outcome.value == outcome
