from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inventory.models import ServiceTarget, StockingTerms
from inventory.planning.terms import Terms, load_targets, load_terms

pytestmark = pytest.mark.django_db


def test_without_rows_the_start_values_hold_and_say_so() -> None:
    terms, targets = load_terms(), load_targets()
    assert (terms.holding_rate_per_year, terms.order_cost, terms.are_start_values) == (0.2, None, True)
    promised = {word: targets[word].value for word in ("vital", "essential", "desirable", "unknown")}
    assert promised == {"vital": 0.99, "essential": 0.95, "desirable": 0.90, "unknown": 0.95}
    assert targets["vital"].kind == "fill_rate"
    assert targets["vital"].is_start_value


def test_the_plants_own_values_stand_in_for_them() -> None:
    StockingTerms.objects.create(id=1, order_cost=Decimal("45"), hours_to_expedite=24, are_set=True)
    ServiceTarget.objects.create(importance="vital", kind="no_backorder", value=0.995)
    assert load_terms() == Terms(order_cost=Decimal("45"), hours_to_expedite=24, are_start_values=False)
    vital = load_targets()["vital"]
    assert (vital.kind, vital.value, vital.is_start_value) == ("no_backorder", 0.995, False)
    assert load_targets()["essential"].is_start_value


def test_terms_that_nobody_looked_at_stay_start_values() -> None:
    StockingTerms.objects.create(id=1)
    assert load_terms() == Terms()


def test_each_costs_one_query() -> None:
    with CaptureQueriesContext(connection) as queries:
        load_terms()
        load_targets()
    assert len(queries) == 2
