"""What a stop for lack of an item costs: by the most expensive drive that runs with it, while an emergency order takes."""

from collections.abc import Mapping

from drives.models import Installation
from inventory.models import StockingTerms

DEFAULT_HOURS_TO_EXPEDITE = 24.0
"""Where the stocking terms give none: start value, no source."""


def stop_costs() -> Mapping[int, float]:
    """By item, of those fitted in a drive whose downtime has a price; two queries."""
    hours = StockingTerms.objects.values_list("hours_to_expedite", flat=True).first()
    rows = (
        Installation.objects.still_fitted()
        .filter(item__isnull=False, position__drive__downtime_cost_per_hour__isnull=False)
        .order_by()
        .values_list("item_id", "position__drive__downtime_cost_per_hour")
    )
    costs: dict[int, float] = {}
    for item, per_hour in rows:
        assert item is not None
        assert per_hour is not None
        cost = float(per_hour) * (DEFAULT_HOURS_TO_EXPEDITE if hours is None else hours)
        costs[item] = max(costs.get(item, 0.0), cost)
    return costs
