"""How far the book can be trusted: the share of right counts with its interval, and how fast records go wrong."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import F, QuerySet

from inventory.models import CountState, MovementKind, StockEntry
from inventory.stocking.record_accuracy import (
    DAYS_PER_MONTH,
    error_hazard_per_month,
    probability_right,
    wilson_interval,
)
from inventory.stores.counting.counts import BLIND

START_HAZARD_PER_MONTH = 0.02
"""Until a storeroom has counted anything twice: start value, no source."""
LEAST_ITEM_MONTHS = 12.0
"""With less behind it a storeroom takes the hazard of all of them: judgement of this project."""
A_MONTH = timedelta(days=DAYS_PER_MONTH)
Place = tuple[int, int, str]


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Counts that found exactly what the book said, with the interval (95 %, Wilson) that they leave open."""

    counted: int
    right: int
    interval: tuple[float, float] | None

    @property
    def share(self) -> float | None:
        return self.right / self.counted if self.counted else None


@dataclass(frozen=True, slots=True)
class Exposure:
    """Errors found, and the months for which the counted records had gone unlooked at."""

    errors: int = 0
    item_months: float = 0.0

    def plus(self, other: "Exposure") -> "Exposure":
        return Exposure(self.errors + other.errors, self.item_months + other.item_months)


def accuracy(tasks: QuerySet[Any]) -> Accuracy:
    """Of the blind counts among these tasks; one that an error had called for tells nothing of the rest."""
    done = tasks.filter(state=CountState.COUNTED, cause__in=BLIND)
    counted, right = done.count(), done.filter(counted=F("booked")).count()
    return Accuracy(counted, right, wilson_interval(right, counted) if counted else None)


@dataclass(frozen=True)
class Hazards:
    """Errors a month, by storeroom; where one has counted too little, of all together."""

    by_storeroom: dict[int, Exposure]

    @property
    def together(self) -> Exposure:
        total = Exposure()
        for one in self.by_storeroom.values():
            total = total.plus(one)
        return total

    def per_month(self, storeroom_id: int) -> float:
        own = self.by_storeroom.get(storeroom_id, Exposure())
        for seen in (own, self.together):
            if seen.item_months >= LEAST_ITEM_MONTHS:
                return error_hazard_per_month(seen.errors, seen.item_months)
        return START_HAZARD_PER_MONTH

    def chance_wrong(self, storeroom_id: int, since: datetime, now: datetime) -> float:
        months = max((now - since) / A_MONTH, 0.0)
        return 1.0 - probability_right(self.per_month(storeroom_id), months)


def hazards(entries: Iterable[tuple[int, int, str, str, int, datetime]] | None = None) -> Hazards:
    """From every count so far and the time since the one before it on the same shelf; one query."""
    seen: dict[int, Exposure] = {}
    before: dict[Place, datetime] = {}
    for item, room, condition, kind, change, at in entries if entries is not None else _entries():
        place = (item, room, condition)
        if kind == MovementKind.COUNT and place in before:
            months = max((at - before[place]) / A_MONTH, 0.0)
            seen[room] = seen.get(room, Exposure()).plus(Exposure(int(change != 0), months))
        if kind == MovementKind.COUNT or place not in before:
            before[place] = at
    return Hazards(seen)


def _entries() -> Iterable[tuple[int, int, str, str, int, datetime]]:
    standing = StockEntry.objects.not_reversed().order_by("occurred_at", "pk")
    columns = ("item_id", "storeroom_id", "condition", "kind", "change", "occurred_at")
    return standing.values_list(*columns).iterator(chunk_size=5_000)
