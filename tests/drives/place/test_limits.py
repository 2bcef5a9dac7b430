"""At and beside each limit of the drive: bugs that were put there by hand and went unnoticed."""

import pytest

from drives.chain.rating import rate
from drives.place.duty import PlacedPart
from drives.place.duty_checks import check_chain_wear, check_fast_driver
from drives.place.rating_check import check_rating
from drives.place.ratio_check import check_ratio, lengths_taken_up
from drives.place.torque_check import check_torque
from drives.place.verdict import judge_for_place
from inventory.interchange.verdict import SHIPPED
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.chains import find_chain
from tests.drives.place.cases import CASES
from tests.drives.place.samples import driven, driver, duty, sprocket
from tests.inventory.interchange.samples import bushed, chain, keyed, plain_shaft


def placed(required=None, offered=None, **changes):
    return PlacedPart(
        required=required or driver(), offered=offered or sprocket(), duty=duty(**changes), practice=SHIPPED
    )


@pytest.mark.parametrize(
    ("elongation_percent", "outcome"), [(2.999, Outcome.OK), (3.0, Outcome.WORK), (3.001, Outcome.WORK)]
)
def test_a_chain_is_worn_out_at_its_limit_and_not_only_beyond(elongation_percent, outcome):
    # The least of 3 % and 200 / teeth: three trade sources.
    found = check_chain_wear(placed(elongation_percent=elongation_percent))
    assert (found.limit, found.outcome) == (3.0, outcome)


def test_a_double_pitch_chain_has_the_strict_limit():
    double = driver(chain=chain("C2040"))
    found = check_chain_wear(placed(double, sprocket(chain=double.chain), elongation_percent=2.0))
    assert found.limit == 1.5
    assert found.outcome is not Outcome.OK


def test_without_a_service_factor_a_rating_that_seems_enough_is_not_called_enough():
    known, unknown = check_rating(placed()), check_rating(placed(service_factor=None))
    assert known.finding.outcome is Outcome.OK
    assert unknown.finding.outcome is None
    assert unknown.finding.is_unchecked


def test_the_torque_through_a_bush_has_the_service_factor_in_it():
    # 1008 carries 136 Nm: taper-bush catalogue, table of torque capacities. 2.4 kW at 200 rpm is 114.6 Nm.
    place = driver(chain=chain("16B"), shaft=keyed(24.0, 8.0, bush_size="1108"))
    hub = bushed("1008", chain=chain("16B"), teeth=19)
    (calm,) = check_torque(placed(place, hub, power_kw=2.4, service_factor=1.0))
    (rough,) = check_torque(placed(place, hub, power_kw=2.4, service_factor=1.5))
    assert (calm.outcome, calm.required) == (Outcome.OK, 114.6)
    assert rough.outcome is not Outcome.OK
    assert rough.required == pytest.approx(1.5 * 114.6, abs=0.1)


@pytest.mark.parametrize(
    ("place", "old", "new", "mating", "percent"),
    [
        (driver, 20, 21, 57, 5.0),
        (driver, 20, 19, 57, -5.0),
        (driven, 84, 80, 20, 5.0),
        (driven, 57, 60, 20, -5.0),
        (driver, 16, 17, 57, 6.25),
    ],
)
def test_a_ratio_change_of_just_the_tolerance_is_within_it(place, old, new, mating, percent):
    """By hand: 21 teeth for 20 on the driver are 5 % more; 80 for 84 on the driven wheel are 84/80."""
    changes = {"mating_teeth": mating, "centre_adjustment_mm": (-50.0, 50.0)}
    part = placed(place(teeth=old), sprocket(teeth=new), ratio_tolerance_percent=abs(percent), **changes)
    strict = placed(
        place(teeth=old), sprocket(teeth=new), ratio_tolerance_percent=abs(percent) - 0.01, **changes
    )

    assert check_ratio(part).change_percent == percent
    assert check_ratio(part).finding.code == "ratio_within_tolerance"
    assert check_ratio(strict).finding.code == "ratio_beyond_tolerance"


def test_a_chain_used_to_the_full_is_not_overloaded():
    rated_kw = rate(find_chain("08B"), teeth=19, speed_rpm=200.0).rated_power_kw
    below, above = (
        check_rating(placed(power_kw=rated_kw * share, service_factor=1.0)).finding for share in (0.74, 1.001)
    )
    full = check_rating(placed(power_kw=rated_kw, service_factor=1.0))

    assert full.utilisation == 1.0
    assert (full.finding.code, full.finding.margin) == ("rating_used", 0.0)
    assert (below.outcome, above.code) == (Outcome.OK, "rating_overloaded")


def left_to_the_limit(finding):
    """Worked out from the figures that are shown beside it."""
    if finding.aspect is Aspect.RATING:
        return 1 - finding.required / finding.offered
    if finding.aspect is Aspect.TEETH:
        return finding.limit - abs(finding.reason.values["change_percent"])
    return finding.limit - finding.offered


def test_a_margin_of_the_drive_is_what_is_left_to_its_limit():
    compared = [
        finding
        for case in CASES
        for finding in judge_for_place(case.required, case.offered, duty=case.duty).findings
        if finding.margin is not None
        and (
            finding.aspect in (Aspect.RATING, Aspect.CHAIN_WEAR)
            or (finding.aspect is Aspect.TEETH and "change_percent" in finding.reason.values)
        )
    ]

    assert {finding.aspect for finding in compared} == {Aspect.RATING, Aspect.CHAIN_WEAR, Aspect.TEETH}
    for finding in compared:
        assert finding.margin == pytest.approx(
            left_to_the_limit(finding), abs=0.006 + 0.01 * abs(finding.margin)
        )


def rests_on(finding):
    return {one.values["name"] for one in finding.facts if one.code == "rests_on_estimate"}


# The limit of double pitch lies between 1 and 3 % for all that anybody printed; 200 / 57 teeth is more.
@pytest.mark.parametrize(
    ("elongation_percent", "outcome", "rests"),
    [
        (0.99, Outcome.OK, False),
        (1.0, Outcome.REVIEW, True),
        (2.99, Outcome.REVIEW, True),
        (3.0, Outcome.WORK, False),
    ],
)
def test_the_wear_of_double_pitch_rests_on_the_estimate_within_its_span_only(
    elongation_percent, outcome, rests
):
    double = driver(chain=chain("C2040"))
    found = check_chain_wear(
        placed(double, sprocket(chain=double.chain), elongation_percent=elongation_percent)
    )

    assert (found.outcome, bool(rests_on(found))) == (outcome, rests)


@pytest.mark.parametrize(
    ("teeth", "speed_rpm", "is_found", "rests"),
    [
        (19, 500.0, False, False),
        (19, 500.1, True, True),
        (19, 600.0, True, True),
        (19, 800.0, True, True),
        (19, 800.1, True, False),
        (25, 900.0, True, False),
        (26, 900.0, False, False),
    ],
)
def test_a_small_fast_driver_rests_on_the_estimate_within_its_span_only(teeth, speed_rpm, is_found, rests):
    part = placed(
        driver(teeth=teeth, hardened_teeth=None),
        sprocket(teeth=teeth, hardened_teeth=False),
        speed_rpm=speed_rpm,
    )
    found = check_fast_driver(part)

    assert bool(found) is is_found
    assert any(rests_on(one) for one in found) is rests


def test_a_key_is_pressed_where_there_is_one():
    # By hand: 20 kW at 200 rpm with 1.3 are 1,241 Nm; on 12.5 mm radius over 28 by 3.3 mm that is more than 1,000 MPa.
    heavy = {"power_kw": 20.0, "speed_rpm": 200.0, "service_factor": 1.3}
    (pressed,) = check_torque(placed(driver(shaft=keyed(25.0, 8.0)), **heavy))

    assert pressed.code == "key_pressure_high"
    assert pressed.offered == pytest.approx(1241.4e3 / 12.5 / (28 * 3.3), rel=0.001)
    assert pressed.margin == pytest.approx(100 - pressed.offered)
    assert check_torque(placed(driver(shaft=plain_shaft(25.0)), **heavy)) == ()
    assert check_torque(placed(driver(shaft=keyed(25.0, 8.0)))) == ()


@pytest.mark.parametrize(
    ("unknown", "speed_rpm", "links"),
    [
        ({}, 200 * 20 / 57, 118),
        ({"speed_rpm": None}, None, 118),
        ({"mating_teeth": None}, None, None),
        ({"centre_distance_mm": None}, 200 * 20 / 57, None),
    ],
)
def test_what_changes_on_the_drive_is_told_as_far_as_it_is_recorded(unknown, speed_rpm, links):
    """By hand, 20 teeth for 19: 20/19 of the speed; 2 * 500/12.7 + 77/2 + (37/2 pi)**2 / 39.4 are 118 links."""
    found = judge_for_place(driver(), sprocket(teeth=20), duty=duty(**unknown)).consequences

    assert found.ratio_change_percent == pytest.approx(100 / 19, abs=0.001)
    assert found.driven_speed_rpm == (speed_rpm and pytest.approx(speed_rpm, abs=0.001))
    assert found.chain_links == links


def test_both_wheels_change_at_once():
    # By hand: equal wheels of z teeth and L links stand p (L - z) / 2 apart: 80 links of 12.7 mm, 20 teeth 381.0 mm, 22 teeth 368.3 mm.
    taken = lengths_taken_up(
        chain("08B"), duty(centre_distance_mm=381.0), links=80, before=(20, 20), after=(22, 22)
    )
    kept = next(one for one in taken if one.keeps_chain)
    assert (kept.centre_mm, kept.centre_shift_mm) == (pytest.approx(368.3), pytest.approx(-12.7))
