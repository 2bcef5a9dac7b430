"""Down to the events."""

import json

import pytest

from drives.demand.evidence import evidence_of, growing_worse
from drives.demand.families import Families
from drives.demand.importance import importances
from drives.demand.model_selection import choose
from drives.demand.substitute_cover import SecondLine
from tests.drives.demand.made import asking, life, plant, pool, position, years_on

LINE = SecondLine("SPR-009", "with_work", 35, 1, 2, 0.25)


def evidence(one, cover=()):
    made = plant(one)
    choice = choose(one, Families(made).prior_of(one))
    return evidence_of(made, one, choice, cover, importances(made, frozenset())[one.part])


def one_of_each():
    lives = [
        life(1, 5000.0, "failure", "wear", at=1.0),
        life(1, 400.0, "failure", "overload", at=2.0),
        life(1, 900.0, "preventive", at=3.0),
        life(1, 700.0),
    ]
    asked = [
        asking(2, 1, quantity=2, work_order="WO-2", result="filled_by_substitute", given_id=1),
        asking(1, 1, is_planned=True),
        asking(1.5, None, source="issue"),
    ]
    return pool(1, positions=[position(1)], lives=lives, asked=asked)


def test_every_event_is_told_in_the_order_of_time():
    found = evidence(one_of_each())["events"]
    assert [event["at"] for event in found] == [years_on(at).isoformat() for at in (1, 1.5, 2)]
    assert [event["is_planned"] for event in found] == [True, False, False]
    assert found[2] == {
        "at": years_on(2).isoformat(),
        "item": "SPR-001",
        "given": "SPR-001",
        "position": "P001",
        "quantity": 2,
        "result": "filled_by_substitute",
        "work_order": "WO-2",
        "is_planned": False,
        "source": "request",
    }
    assert (found[1]["position"], found[1]["source"]) == (None, "issue")


def test_every_life_says_what_it_counts_as_and_what_its_hours_rest_on():
    found = evidence(one_of_each())["lives"]
    assert [row["counts_as"] for row in found] == ["worn_out", "sudden", "censored", "running"]
    assert {row["age_basis"] for row in found} == {"calendar"}


def test_a_life_whose_hours_nobody_knows_is_left_out_and_says_so():
    one = pool(1, positions=[position(1)], lives=[life(1, None, "failure")])
    assert evidence(one)["lives"][0]["counts_as"] == "left_out"


def test_the_pool_tells_its_numbers_its_record_and_what_each_position_asked():
    found = evidence(one_of_each())["pool"]
    assert (found["members"], found["member_ids"]) == (["SPR-001"], [1])
    assert found["positions"] == [
        {
            "position": "P001",
            "drive": "D001",
            "criticality": "essential",
            "years": 5.0,
            "pieces_unplanned": 2,
            "pieces_planned": 1,
        }
    ]
    assert (found["record_from"], found["record_until"]) == (years_on(0).isoformat(), years_on(5).isoformat())


def test_the_drive_that_sets_the_importance_is_named():
    assert evidence(one_of_each())["importance"]["drive"] == "D001"
    assert evidence(pool(5, asked=[asking(1, None, 5)]))["importance"]["drive"] is None


def test_the_second_line_is_told_with_its_work_and_worth():
    (row,) = evidence(one_of_each(), [LINE])["cover"]
    assert row == {
        "item": "SPR-009",
        "grade": "with_work",
        "work_minutes": 35,
        "positions": 1,
        "pieces": 2,
        "averts": 0.25,
    }


def test_the_prior_and_the_fit_stand_beside_the_events():
    found = evidence(one_of_each())
    assert found["prior"]["family"] == "none"
    assert found["fit"]["failures"] == 1


def test_all_of_it_is_plain_json():
    found = evidence(one_of_each(), [LINE])
    assert json.loads(json.dumps(found)) == found


@pytest.mark.parametrize(
    ("at", "is_worse"), [((3.0, 4.0, 4.5, 4.8, 4.9, 4.95), True), ((0.5, 1.5, 2.5, 3.5, 4.5), False)]
)
def test_a_position_that_asks_faster_and_faster_is_named(at, is_worse):
    one = pool(1, positions=[position(1), position(2)], asked=[asking(when, 1) for when in at])
    found = growing_worse(one)
    assert bool(found) is is_worse
    assert all(sentence.startswith("P001 asks faster and faster") for sentence in found)


def test_planned_renewals_closer_and_closer_are_a_plan_and_no_worsening():
    at = (3.0, 4.0, 4.5, 4.8, 4.9, 4.95)
    one = pool(1, positions=[position(1)], asked=[asking(when, 1, is_planned=True) for when in at])
    assert growing_worse(one) == ()
