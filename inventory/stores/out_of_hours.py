"""What was booked while its storeroom was closed: somebody has to see that the shelf holds what the book says."""

from collections.abc import Mapping
from datetime import datetime, timedelta

from django.db.models import Exists, OuterRef

from inventory.models import MovementKind, StockEntry, StockLevel
from inventory.models.stock import StockEntryQuerySet
from inventory.stores.opening_hours import WeeklyHours

LOOKED_BACK = timedelta(days=7)
"""A long weekend with its holidays; what is older is found by the planned counts. Judgement."""
MOST_READ = 2_000


def not_seen_since(
    entries: StockEntryQuerySet, hours: Mapping[int, WeeklyHours], now: datetime
) -> list[StockEntry]:
    """Those that happened and were recorded while their storeroom was closed and whose shelf was not counted since, newest first.

    A count is no such entry: whoever counts has looked. One query.
    """
    closing = [room for room, known in hours.items() if known.periods]
    counted = StockLevel.objects.filter(
        item=OuterRef("item"),
        storeroom=OuterRef("storeroom"),
        condition=OuterRef("condition"),
        last_counted_at__gte=OuterRef("occurred_at"),
    )
    lately = entries.filter(
        ~Exists(counted), occurred_at__gte=now - LOOKED_BACK, occurred_at__lte=now, storeroom__in=closing
    )
    booked = lately.exclude(kind=MovementKind.COUNT).not_reversed().order_by("-occurred_at", "-pk")
    return [
        entry
        for entry in booked[:MOST_READ]
        if all(
            hours[entry.storeroom_id].is_closed(moment) for moment in (entry.occurred_at, entry.recorded_at)
        )
    ]
