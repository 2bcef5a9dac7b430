"""The weekly opening hours that are recorded for storerooms."""

from collections import defaultdict
from collections.abc import Collection

from inventory.models import OpeningHours, Storeroom
from inventory.stores.opening_hours import OpenPeriod, WeeklyHours


def recorded_hours(storerooms: Collection[Storeroom]) -> dict[int, WeeklyHours]:
    """By storeroom, without periods where none are recorded; one query."""
    periods: dict[int | None, list[OpenPeriod]] = defaultdict(list)
    rows = OpeningHours.objects.filter(storeroom__in=[room.pk for room in storerooms]).order_by("pk")
    for room, weekday, opens, closes in rows.values_list("storeroom_id", "weekday", "opens", "closes"):
        periods[room].append(OpenPeriod(weekday, opens, closes))
    return {
        room.pk: WeeklyHours(room.timezone, tuple(periods[room.pk]), room.call_out_minutes)
        for room in storerooms
    }
