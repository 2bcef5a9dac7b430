"""One story of money over the whole demo plant: ledger, budget and drives add up."""

from decimal import Decimal

import pytest

from api.answers.frontier import calculate_frontier
from inventory.models import StockLevel

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("demo_plant")]


def test_ledger_budget_and_drives_add_up() -> None:
    found = calculate_frontier("5000")
    value = found.stock_value
    ledger = sum(
        (
            level.on_hand * level.item.unit_cost
            for level in StockLevel.objects.select_related("item").filter(item__currency=found.currency)
            if level.item.unit_cost is not None
        ),
        Decimal(0),
    )
    assert value.on_shelves == ledger > 0
    assert (
        value.on_shelves - value.on_hold - value.reserved + value.on_order == value.weighed + value.left_out
    )

    parts = [part for row in found.by_drive for part in row.parts]
    cents = Decimal("0.01") * len(parts)
    assert sum(row.downtime_cost_per_year for row in found.by_drive) == sum(
        part.downtime_cost_per_year for part in parts
    )
    assert (
        abs(sum(part.downtime_cost_per_year for part in parts) - found.today.downtime_cost_per_year) < cents
    )
    last = found.buys[-1]
    assert last.downtime_cost_per_year < found.today.downtime_cost_per_year
