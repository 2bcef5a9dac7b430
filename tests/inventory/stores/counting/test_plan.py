from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from inventory.models import CountTask, StockLevel
from inventory.stores import ledger
from inventory.stores.counting.accuracy import START_HAZARD_PER_MONTH, hazards
from inventory.stores.counting.plan import plan
from tests import factories as make
from tests import movements

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"
NOW = timezone.now()


@pytest.fixture
def main():
    return make.StoreroomFactory()


def shelf(number, room, *, price="10.00", days=300, quantity=2):
    item = make.ItemFactory(stock_number=number, unit_cost=Decimal(price))
    make.stock(item, room, quantity, occurred_at=NOW - timedelta(days=days))
    return item


def listed(**kwargs):
    return [task.item.stock_number for task in plan(NOW, **{"stop_costs": {}} | kwargs)]


def test_the_dearest_error_is_counted_first(main):
    shelf("CHEAP", main)
    shelf("DEAR", main, price="500.00")
    shelf("NEW", main, price="500.00", days=0)
    assert listed(most=2) == ["DEAR", "CHEAP"]
    assert CountTask.objects.get(item__stock_number="DEAR").worth == pytest.approx(
        500 * (1 - 2.718281828 ** -(START_HAZARD_PER_MONTH * 300 / (365 / 12))), rel=1e-6
    )


def test_what_stops_a_drive_is_dearer_than_its_price(main):
    shelf("DEAR", main, price="500.00")
    vital = shelf("VITAL", main)
    assert listed(stop_costs={vital.pk: 10_000.0}, most=1) == ["VITAL"]


def test_what_was_counted_lately_can_wait(main):
    item = shelf("DEAR", main, price="500.00")
    shelf("CHEAP", main)
    movements.count(item, main, 2, by=MARTA, occurred_at=NOW - timedelta(minutes=1))
    assert listed(most=1) == ["CHEAP"]


def test_the_same_day_adds_nothing_counted_or_not(main):
    for number in "ABC":
        shelf(number, main)
    assert len(listed(most=2)) == 2
    CountTask.objects.filter(item__stock_number="A").update(state="dropped")
    assert listed(most=2) == []
    assert listed(most=3) == ["C"]


def test_a_backlog_is_not_piled_up(main):
    shelf("A", main)
    shelf("B", main)
    plan(NOW - timedelta(days=2), stop_costs={}, most=1)
    assert listed(most=1) == []


def test_a_shelf_that_should_be_empty_says_so(main):
    item = shelf("A", main, quantity=1)
    movements.issue(item, main, 1, by=MARTA)
    assert [task.cause for task in plan(NOW, stop_costs={})] == ["zero"]


def test_the_hazard_follows_from_the_counts(main):
    """Two shelves counted twice a year apart, one of them wrong once: an error in 24 months."""
    for number, found in (("A", 1), ("B", 2)):
        item = shelf(number, main, days=730)
        for days, counted in ((365, 2), (0, found)):
            movements.count(item, main, counted, by=MARTA, occurred_at=NOW - timedelta(days=days))
    seen = hazards()
    assert seen.together.errors == 1
    assert seen.together.item_months == pytest.approx(48, abs=0.1)
    assert seen.per_month(main.pk) == pytest.approx(1 / 48, rel=1e-2)
    assert seen.per_month(0) == seen.per_month(main.pk)


def test_a_reversed_count_is_no_evidence(main):
    item = shelf("A", main, days=730)
    wrong = movements.count(item, main, 5, by=MARTA).entry
    ledger.reverse(wrong, by=MARTA, reason="another shelf")
    assert hazards().per_month(main.pk) == START_HAZARD_PER_MONTH


def test_the_command_weighs_the_drives(main):
    item = shelf("VITAL", main, price="1.00")
    shelf("DEAR", main, price="900.00")
    make.InstallationFactory(item=item)
    said = []
    for _ in range(2):
        out = StringIO()
        call_command("plan_counts", most=1, stdout=out)
        said.append(out.getvalue().strip())
    assert said == ["1 shelves put on the list.", "0 shelves put on the list."]
    assert CountTask.objects.get().item == item
    assert StockLevel.objects.count() == 2
