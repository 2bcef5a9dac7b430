"""What a stop costs for want of an item: the dearest drive that runs with it, for as long as an emergency buy takes."""

from collections.abc import Mapping

from drives.models import Installation
from inventory.models import StockingTerms

START_HOURS_TO_EXPEDITE = 24.0
"""Where the stocking terms do not say: start value, no source."""


def stop_costs() -> Mapping[int, float]:
    """By item, of those that sit in a drive whose hour of downtime has a price; two queries."""
    hours = StockingTerms.objects.values_list("hours_to_expedite", flat=True).first()
    rows = (
        Installation.objects.still_fitted()
        .filter(item__isnull=False, position__drive__downtime_cost_per_hour__isnull=False)
        .order_by()
        .values_list("item_id", "position__drive__downtime_cost_per_hour")
    )
    dearest: dict[int, float] = {}
    for item, per_hour in rows:
        assert item is not None
        assert per_hour is not None
        cost = float(per_hour) * (START_HOURS_TO_EXPEDITE if hours is None else hours)
        dearest[item] = max(dearest.get(item, 0.0), cost)
    return dearest
