"""What to count today: the shelves where a wrong record costs most, times how likely it is wrong by now."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Min, Q, Subquery

from inventory.models import CountCause, CountState, CountTask, StockEntry, StockLevel, Storeroom
from inventory.stores.counting.accuracy import Hazards, hazards
from inventory.stores.counting.count_requests import local_day
from inventory.stores.ledger.replay import SAME_PLACE

A_DAY_IN_EACH_STOREROOM = 10
"""Shelves that one person counts beside other work: start value, no source."""
PLANNED = (CountCause.VALUE, CountCause.ZERO)


def plan(
    now: datetime, *, stop_costs: Mapping[int, float], most: int = A_DAY_IN_EACH_STOREROOM
) -> list[CountTask]:
    """Fill today's list of each storeroom up to `most`; a second run on the same day adds nothing.

    `stop_costs` is by item the cost of a drive that stands for lack of it. Counts planned for the day, done or not, and those
    left from days before count towards `most`.
    """
    seen = hazards()
    made: list[CountTask] = []
    for room in Storeroom.objects.order_by("pk"):
        with transaction.atomic():
            # One planner for a storeroom at a time: two would each see the same free room on the list and fill it twice.
            Storeroom.objects.select_for_update().get(pk=room.pk)
            made += _fill(room, now, stop_costs, most, seen)
    return made


def count_candidates(
    room: Storeroom, now: datetime, stop_costs: Mapping[int, float], seen: Hazards
) -> list[CountTask]:
    """A draft for every shelf of a storeroom, the most expensive first: unit cost and cost of a stop, times the chance of an error."""
    found = []
    for level in _levels(room):
        since = level.last_counted_at or level.first_at
        if since is None:
            continue
        cost = float(level.item.unit_cost or 0) + stop_costs.get(level.item_id, 0.0)
        worth = cost * seen.chance_wrong(room.pk, since, now)
        cause = CountCause.ZERO if level.on_hand == 0 else CountCause.VALUE
        shelf = {"item": level.item, "storeroom": room, "condition": level.condition}
        if worth > 0:
            found.append(CountTask(**shelf, cause=cause, due_on=local_day(room, now), worth=worth))
    return sorted(found, key=lambda one: (-one.worth, one.item.stock_number, one.condition))


def _levels(room: Storeroom) -> list[Any]:
    here = StockEntry.objects.filter(**SAME_PLACE)
    first = here.order_by().values("item").annotate(first=Min("occurred_at")).values("first")
    levels = StockLevel.objects.filter(storeroom=room).select_related("item")
    return list(levels.annotate(first_at=Subquery(first)).order_by("pk"))


def _fill(
    room: Storeroom, now: datetime, stop_costs: Mapping[int, float], most: int, seen: Hazards
) -> list[CountTask]:
    today = local_day(room, now)
    tasks = CountTask.objects.filter(storeroom=room)
    waiting = Q(due_on=today) | Q(due_on__lt=today, state=CountState.OPEN)
    room_left = most - tasks.filter(waiting, cause__in=PLANNED).count()
    if room_left <= 0:
        return []
    listed = set(tasks.filter(Q(state=CountState.OPEN) | Q(due_on=today)).values_list("item_id", "condition"))
    candidates = count_candidates(room, now, stop_costs, seen)
    new = [one for one in candidates if (one.item_id, one.condition) not in listed][:room_left]
    CountTask.objects.bulk_create(new, ignore_conflicts=True)
    planned = tasks.open().filter(due_on=today, cause__in=PLANNED, item__in=[one.item for one in new])
    return list(planned.select_related("item").order_by("-worth", "pk"))
