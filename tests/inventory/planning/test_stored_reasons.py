import importlib
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps

from inventory.facts import fact
from inventory.models import Recommendation
from inventory.planning import decide
from inventory.planning.inputs_hash import inputs_hash
from tests import factories as make
from tests.inventory.planning.worlds import current, need_of, run_over

migration = importlib.import_module("inventory.migrations.0007_store_reasons_as_facts")
pytestmark = pytest.mark.django_db
OLD_INPUTS = {
    "target": "fill_rate 0.95, wait 48 h",
    "unit_cost": "38.50 EUR",
    "downtime_per_hour": None,
    "policy": "order at 0 up to 1",
    "rate_per_year": 4.0,
}


def moved(change: Any) -> Recommendation:
    migration.each(change)(apps, SimpleNamespace(connection=SimpleNamespace(alias="default")))
    return Recommendation.objects.get()


def test_rows_with_sentences_stay_readable() -> None:
    make.RecommendationFactory(
        explanation=["Nothing is set today."],
        since_last=["The terms changed."],
        evidence={"basis": "b", "lead_time": {"basis": "own", "sentence": "From 4 orders."}},
    )
    found = moved(migration.to_facts)
    assert found.explanation == [fact("recorded_text", text="Nothing is set today.").as_json()]
    assert found.since_last == [fact("recorded_text", text="The terms changed.").as_json()]
    reasons = [fact("recorded_text", text="From 4 orders.").as_json()]
    assert found.evidence == {"basis": "b", "lead_time": {"basis": "own", "reasons": reasons}}
    assert moved(migration.to_facts).explanation == found.explanation


def test_rows_go_back_to_sentences() -> None:
    make.RecommendationFactory(explanation=["Nothing is set today."], evidence={"basis": "b"})
    moved(migration.to_facts)
    assert moved(migration.to_texts).explanation == ["Nothing is set today."]


@pytest.mark.parametrize(
    ("policy", "levels"),
    [
        ("order at 0 up to 1", fact("levels", reorder_point=0, order_up_to=1)),
        ("none held", fact("levels_none")),
        ("nothing set", fact("levels_not_set")),
    ],
)
def test_named_inputs_become_numbers(policy: str, levels: Any) -> None:
    make.RecommendationFactory(evidence={"inputs": OLD_INPUTS | {"policy": policy}})
    inputs = moved(migration.to_facts).evidence["inputs"]
    target = fact("target_input", kind="fill_rate", target=0.95, tolerable_wait_hours=48.0)
    assert inputs["target"] == target.as_json()
    assert inputs["unit_cost"] == fact("amount_input", amount="38.50", currency="EUR").as_json()
    assert (inputs["downtime_per_hour"], inputs["rate_per_year"]) == (None, 4.0)
    assert inputs["policy"] == levels.as_json()


def test_a_decision_from_before_stays_when_nothing_else_changed() -> None:
    item = make.ItemFactory()
    run_over([need_of(item)])
    decide.decline(current().get(), by="Ines Okafor", reason="the line closes")
    before = current().get()
    inputs = before.evidence["inputs"] | {
        "target": "fill_rate 0.95",
        "unit_cost": "38.50 EUR",
        "policy": "nothing set",
    }
    before.evidence, before.explanation = (
        before.evidence | {"inputs": inputs, "basis": "of old"},
        ["As it was."],
    )
    before.inputs_hash = inputs_hash("of old", None)
    before.save()
    moved(migration.to_facts)
    run_over([need_of(item)])
    newest = current().get()
    assert newest.pk != before.pk
    assert (newest.state, newest.decision_reason) == ("declined", "the line closes")
