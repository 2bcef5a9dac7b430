"""What a stop for lack of an item costs: by the most expensive drive that runs with it, while an emergency order takes."""

from collections.abc import Mapping

from django.db.models import Max

from drives.models import EndedBy, Installation
from inventory.models import StockingTerms

DEFAULT_HOURS_TO_EXPEDITE = 24.0
"""Where the stocking terms give none: start value, no source."""


def stop_costs() -> Mapping[int, float]:
    """By item, of those last fitted for good in a drive whose downtime has a price; two queries."""
    hours = StockingTerms.objects.values_list("hours_to_expedite", flat=True).first()
    if hours is None:
        hours = DEFAULT_HOURS_TO_EXPEDITE
    per_hour = "position__drive__downtime_cost_per_hour"
    wanted = Installation.objects.last_for_good().exclude(ended_by=EndedBy.DECOMMISSIONED)
    priced = wanted.filter(item__isnull=False, **{f"{per_hour}__isnull": False})
    rows = priced.order_by().values_list("item_id").annotate(Max(per_hour))
    return {item: float(most) * hours for item, most in rows}
