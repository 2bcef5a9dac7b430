"""Accuracy of the stock record: the share of right counts with its interval, and how fast records go wrong."""

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count, F, Q, QuerySet

from inventory.models import CountState, MovementKind, ReasonCode, StockEntry
from inventory.stocking.record_accuracy import (
    DAYS_PER_MONTH,
    error_hazard_per_month,
    probability_right,
    wilson_interval,
)
from inventory.stores.counting.counts import BLIND
from inventory.stores.ledger.shelf import ShelfKey

START_HAZARD_PER_MONTH = 0.02
"""Until a storeroom has counted anything twice: start value, no source."""
LEAST_ITEM_MONTHS = 12.0
"""A storeroom with less takes the hazard of all storerooms: judgement of this project."""
A_MONTH = timedelta(days=DAYS_PER_MONTH)


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Counts that found exactly what the book said, with the 95 % Wilson interval of their share."""

    counted: int
    right: int
    interval: tuple[float, float] | None

    @property
    def share(self) -> float | None:
        return self.right / self.counted if self.counted else None


@dataclass(frozen=True, slots=True)
class FoundOnTheWay:
    """Corrections at the counter, outside the list of counts: more lay there than the book said, or less."""

    found: int
    missing: int

    def joined_with(self, planned: Accuracy) -> Accuracy:
        """Each correction is one more count that was not right; a shelf that was right is nowhere noted on the way."""
        counted = planned.counted + self.found + self.missing
        interval = wilson_interval(planned.right, counted) if counted else None
        return Accuracy(counted, planned.right, interval)


@dataclass(frozen=True, slots=True)
class RecordErrors:
    """Errors found, and the months between the counts that found them."""

    errors: int = 0
    item_months: float = 0.0

    def plus(self, other: "RecordErrors") -> "RecordErrors":
        return RecordErrors(self.errors + other.errors, self.item_months + other.item_months)


def accuracy(tasks: QuerySet[Any]) -> Accuracy:
    """Of the blind counts among these tasks; a count that an error caused says nothing about the rest."""
    done = tasks.filter(state=CountState.COUNTED, cause__in=BLIND)
    counted, right = done.count(), done.filter(counted=F("booked")).count()
    return Accuracy(counted, right, wilson_interval(right, counted) if counted else None)


def found_on_the_way(entries: QuerySet[Any]) -> FoundOnTheWay:
    """Of these entries, the counts by which someone at the shelf corrected the book, and that stand."""
    counts = entries.filter(kind=MovementKind.COUNT, reverses__isnull=True, reversals__isnull=True)
    changed = counts.filter(count_task__isnull=True, reason_code__in=(ReasonCode.FOUND, ReasonCode.NOT_THERE))
    sums = changed.aggregate(
        found=Count("pk", filter=Q(change__gt=0)), missing=Count("pk", filter=Q(change__lt=0))
    )
    return FoundOnTheWay(**sums)


@dataclass(frozen=True)
class Hazards:
    """Errors a month by storeroom, or of all storerooms where one has counted too little."""

    by_storeroom: dict[int, RecordErrors]

    @property
    def together(self) -> RecordErrors:
        total = RecordErrors()
        for one in self.by_storeroom.values():
            total = total.plus(one)
        return total

    def per_month(self, storeroom_id: int) -> float:
        own = self.by_storeroom.get(storeroom_id, RecordErrors())
        for seen in (own, self.together):
            if seen.item_months >= LEAST_ITEM_MONTHS:
                return error_hazard_per_month(seen.errors, seen.item_months)
        return START_HAZARD_PER_MONTH

    def chance_wrong(self, storeroom_id: int, since: datetime, now: datetime) -> float:
        months = max((now - since) / A_MONTH, 0.0)
        return 1.0 - probability_right(self.per_month(storeroom_id), months)


def hazards() -> Hazards:
    """From every count so far and the time since the one before it on the same shelf; one query."""
    seen: dict[int, RecordErrors] = {}
    before: dict[ShelfKey, datetime] = {}
    entries = StockEntry.objects.not_reversed().order_by("occurred_at", "pk")
    columns = ("item_id", "storeroom_id", "condition", "kind", "change", "occurred_at")
    for item, room, condition, kind, change, at in entries.values_list(*columns).iterator(chunk_size=5_000):
        place = (item, room, condition)
        if kind == MovementKind.COUNT and place in before:
            months = max((at - before[place]) / A_MONTH, 0.0)
            seen[room] = seen.get(room, RecordErrors()).plus(RecordErrors(int(change != 0), months))
        if kind == MovementKind.COUNT or place not in before:
            before[place] = at
    return Hazards(seen)
