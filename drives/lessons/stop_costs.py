"""What a stop for lack of an item costs: by the most expensive drive that runs with it, while an emergency order takes."""

from collections.abc import Collection, Mapping
from typing import NamedTuple

from django.db.models import Max

from drives.models import EndedBy, Installation
from inventory.models import StockingTerms
from inventory.models.text_index import among

DEFAULT_HOURS_TO_EXPEDITE = 24.0
"""Where the stocking terms give none: start value, no source."""


class StopCost(NamedTuple):
    amount: float
    currency: str


def stop_costs() -> Mapping[int, float]:
    """By item, of those last fitted for good in a drive whose downtime has a price; two queries."""
    return {item: cost.amount for item, cost in most_expensive_stops().items()}


def most_expensive_stops(items: Collection[int] | None = None) -> Mapping[int, StopCost]:
    """The same with its currency; of these items, None: of all."""
    hours = StockingTerms.objects.values_list("hours_to_expedite", flat=True).first()
    if hours is None:
        hours = DEFAULT_HOURS_TO_EXPEDITE
    per_hour = "position__drive__downtime_cost_per_hour"
    wanted = Installation.objects.last_for_good().exclude(ended_by=EndedBy.DECOMMISSIONED)
    priced = wanted.filter(item__isnull=False, **{f"{per_hour}__isnull": False})
    if items is not None:
        priced = priced.filter(among("item", sorted(items)))
    rows = priced.order_by().values_list("item_id", "position__drive__currency").annotate(most=Max(per_hour))
    return {item: StopCost(float(most) * hours, currency) for item, currency, most in rows.order_by("most")}
