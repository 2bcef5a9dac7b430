"""Down to the events."""

import json

import pytest

from drives.demand.evidence import accelerating_positions, evidence_of
from drives.demand.importance import part_importances
from drives.demand.model_selection import select_model
from drives.demand.substitute_cover import SubstituteCover
from inventory.facts import fact
from tests.drives.demand.built_pools import demand_pools, event, life, pool, position, rate_priors, years_on

COVER = SubstituteCover("SPR-009", "with_work", 35, 1, 2, 0.25)


def evidence(one, cover=()):
    made = demand_pools(one)
    selected = select_model(one, rate_priors(made).prior_of(one))
    importance = part_importances(made, frozenset())[one.part]
    return evidence_of(made, one, selected=selected, cover=cover, importance=importance, inspections=[])


def one_of_each():
    lives = [
        life(1, 5000.0, "failure", "wear", at=1.0),
        life(1, 400.0, "failure", "overload", at=2.0),
        life(1, 900.0, "preventive", at=3.0),
        life(1, 700.0),
    ]
    events = [
        event(2, 1, quantity=2, work_order="WO-2", result="filled_by_substitute", given_id=1),
        event(1, 1, is_planned=True),
        event(1.5, None, source="issue"),
    ]
    return pool(1, positions=[position(1)], lives=lives, events=events)


def test_every_event_is_given_in_the_order_of_time():
    found = evidence(one_of_each())["events"]
    assert [event["at"] for event in found] == [years_on(at).isoformat() for at in (1, 1.5, 2)]
    assert [event["is_planned"] for event in found] == [True, False, False]
    assert found[2] == {
        "at": years_on(2).isoformat(),
        "item": "SPR-001",
        "given": "SPR-001",
        "position": "P001",
        "storeroom": "MAIN",
        "quantity": 2,
        "result": "filled_by_substitute",
        "work_order": "WO-2",
        "is_planned": False,
        "source": "request",
    }
    assert (found[1]["position"], found[1]["source"]) == (None, "issue")


def test_every_life_has_what_it_counts_as_and_the_basis_of_its_hours():
    found = evidence(one_of_each())["lives"]
    assert [row["counts_as"] for row in found] == ["worn_out", "sudden", "censored", "running"]
    assert {row["age_basis"] for row in found} == {"calendar"}


def test_a_life_without_hours_counts_as_left_out():
    one = pool(1, positions=[position(1)], lives=[life(1, None, "failure")])
    assert evidence(one)["lives"][0]["counts_as"] == "left_out"


def test_the_pool_has_its_items_its_record_and_the_demand_of_each_position():
    found = evidence(one_of_each())["pool"]
    assert (found["members"], found["member_ids"]) == (["SPR-001"], [1])
    assert found["positions"] == [
        {
            "position": "P001",
            "drive": "D001",
            "criticality": "essential",
            "hours_per_year": 8760,
            "years": 5.0,
            "pieces_unplanned": 2,
            "pieces_planned": 1,
        }
    ]
    assert (found["record_from"], found["record_until"]) == (years_on(0).isoformat(), years_on(5).isoformat())


def test_the_drive_that_sets_the_importance_is_named():
    found = evidence(one_of_each())["importance"]
    assert found["drive"] == found["reason"]["values"]["drive"] == "D001"
    assert evidence(pool(5, events=[event(1, None, 5)]))["importance"]["drive"] is None


def test_a_substitute_has_its_work_and_worth():
    (row,) = evidence(one_of_each(), [COVER])["cover"]
    assert row == {
        "item": "SPR-009",
        "grade": "with_work",
        "work_minutes": 35,
        "positions": 1,
        "pieces": 2,
        "averts": 0.25,
        "work_basis": "",
    }


def test_the_prior_and_the_fit_stand_beside_the_events():
    found = evidence(one_of_each())
    assert found["prior"]["family"] is None
    assert found["fit"]["failures"] == 1


def test_all_of_it_is_plain_json():
    found = evidence(one_of_each(), [COVER])
    assert json.loads(json.dumps(found)) == found


@pytest.mark.parametrize(
    ("at", "is_worse"), [((3.0, 4.0, 4.5, 4.8, 4.9, 4.95), True), ((0.5, 1.5, 2.5, 3.5, 4.5), False)]
)
def test_a_position_with_more_and_more_requests_is_named(at, is_worse):
    one = pool(1, positions=[position(1), position(2)], events=[event(when, 1) for when in at])
    found = accelerating_positions(one)
    assert bool(found) is is_worse
    assert all(one == fact("requests_accelerate", position="P001", requests=6) for one in found)


def test_planned_renewals_closer_and_closer_are_a_plan_and_no_worsening():
    at = (3.0, 4.0, 4.5, 4.8, 4.9, 4.95)
    one = pool(1, positions=[position(1)], events=[event(when, 1, is_planned=True) for when in at])
    assert accelerating_positions(one) == ()
