from decimal import Decimal
from typing import Any

import pytest

from drives.lessons.stop_costs import stop_costs
from inventory.models import Item, StockingTerms
from tests.factories import MORNING, InstallationFactory, ItemFactory

pytestmark = pytest.mark.django_db


def fitted(item: Item, per_hour: str | None, **ended: object) -> None:
    cost = None if per_hour is None else Decimal(per_hour)
    InstallationFactory(item=item, position__drive__downtime_cost_per_hour=cost, **ended)


def test_an_item_costs_as_much_as_the_most_expensive_drive_that_runs_with_it() -> None:
    item, other = ItemFactory(stock_number="SPR-A"), ItemFactory(stock_number="SPR-B")
    fitted(item, "99.5")
    fitted(item, "120.25")
    fitted(item, "900", removed_at=MORNING, ended_by="decommissioned")
    fitted(other, None)
    assert stop_costs() == {item.pk: 120.25 * 24}


def test_a_wreck_that_is_off_still_counts_and_a_temporary_unit_does_not() -> None:
    item, temporary = ItemFactory(stock_number="SPR-A"), ItemFactory(stock_number="SPR-B")
    fitted(item, "900", removed_at=MORNING, ended_by="failure")
    fitted(temporary, "900", temporary_until=MORNING.date(), approved_by="Ines Okafor")
    assert stop_costs() == {item.pk: 900 * 24}


def test_the_hours_of_the_stocking_terms_count(
    django_assert_num_queries: Any,
) -> None:
    StockingTerms.objects.update_or_create(defaults={"hours_to_expedite": 10.0})
    item = ItemFactory()
    fitted(item, "50")
    with django_assert_num_queries(2):
        assert stop_costs() == {item.pk: 500.0}
