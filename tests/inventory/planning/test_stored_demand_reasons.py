import importlib
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps

from inventory.facts import fact
from inventory.models import Recommendation
from tests import factories as make

migration = importlib.import_module("inventory.migrations.0009_store_demand_reasons_as_facts")
pytestmark = pytest.mark.django_db
TEXTS = {
    "basis": "b",
    "importance": {"importance": "vital", "drive": "KILN-D1", "reason": "Drive KILN-D1 is vital."},
    "prior": {"family": "driver sprockets", "pools": 12, "shape": 0.8, "exposure_years": 4.0},
    "looks": [{"position": "KILN-P1", "basis": "Median slope of 3 readings.", "order_by": "2026-01-05"}],
}


def moved(change: Any) -> dict[str, Any]:
    migration.each(change)(apps, SimpleNamespace(connection=SimpleNamespace(alias="default")))
    return dict(Recommendation.objects.get().evidence)


def recorded(text: str) -> dict[str, Any]:
    return fact("recorded_text", text=text).as_json()


def test_evidence_with_sentences_stays_readable() -> None:
    make.RecommendationFactory(evidence=TEXTS)
    found = moved(migration.to_facts)
    assert found["importance"]["reason"] == recorded("Drive KILN-D1 is vital.")
    assert found["prior"]["family"] == recorded("driver sprockets")
    reasons = [recorded("Median slope of 3 readings.")]
    assert found["inspections"] == [
        {"position": "KILN-P1", "reasons": reasons, "order_by": "2026-01-05"},
    ]
    assert "looks" not in found
    assert moved(migration.to_facts) == found


def test_a_prior_without_a_family_has_none() -> None:
    make.RecommendationFactory(evidence={"prior": {"family": "none"}})
    assert moved(migration.to_facts)["prior"]["family"] is None
    assert moved(migration.to_texts)["prior"]["family"] == "none"


def test_evidence_goes_back_to_sentences() -> None:
    make.RecommendationFactory(evidence=TEXTS)
    moved(migration.to_facts)
    assert moved(migration.to_texts) == TEXTS


def test_evidence_without_these_parts_is_left_alone() -> None:
    make.RecommendationFactory(evidence={"basis": "b"})
    assert moved(migration.to_facts) == moved(migration.to_texts) == {"basis": "b"}
