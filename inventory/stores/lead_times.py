"""Lead times from order to shelf: from an item's own orders, as entered, or borrowed from other items.

Durations are summed as whole microseconds, so that the answer does not depend on the sequence of the records.
"""

import math
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import astuple, dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from statistics import median
from typing import Any

from django.db.models import F, Q, QuerySet
from scipy import special

from inventory.facts import Fact, fact
from inventory.models import Item, SupplyOrder, SupplyStatus
from inventory.plumbing.stored_form import from_stored, to_stored

LEAST_ORDERS = 3
"""Fewer give no spread that could be trusted: judgement."""
SHORTEST = timedelta(minutes=1)
"""Orders are dated to the minute; a mean below it is taken as this."""
MICROSECOND = timedelta(microseconds=1)
A_DAY = timedelta(days=1) // MICROSECOND
AN_HOUR = timedelta(hours=1) // MICROSECOND
COMPLETE = Q(status=SupplyStatus.RECEIVED) | Q(status=SupplyStatus.OPEN, received_quantity__gte=F("quantity"))
"""Received completely: a partial delivery does not show the lead time of the order."""

LATE_SHARE = 0.95
"""Share of deliveries within the days of a late one: common practice, no source; the sentences say 19 of 20."""

AS_GOOD_AS_FIXED = 1e-4
"""Spread over mean below which a lead time's quantile is its mean, to the fourth digit."""


class LeadTimeBasis(StrEnum):
    OWN = "own"
    ENTERED = "entered"
    BORROWED = "borrowed"


@dataclass(frozen=True, slots=True)
class LeadTime:
    """`orders` is the number of orders it is based on; 0 if it was entered."""

    mean_days: float
    sd_days: float
    basis: LeadTimeBasis
    orders: int
    reasons: tuple[Fact, ...] = ()

    @property
    def late_days(self) -> float:
        """The lead time of 19 in 20 deliveries, by the gamma distribution of this mean and standard deviation."""
        mean, sd = self.mean_days, self.sd_days
        if sd <= mean * AS_GOOD_AS_FIXED:
            return mean
        return float(special.gammaincinv((mean / sd) ** 2, LATE_SHARE) * sd**2 / mean)


@dataclass(frozen=True, slots=True)
class EmergencyHours:
    """Median of past emergency orders, from order to shelf."""

    hours: float
    orders: int
    of_the_item: bool
    reason: Fact


@dataclass(frozen=True, slots=True)
class DurationSums:
    """Number of orders, with the exact sum of their microseconds and of the squares."""

    orders: int = 0
    total: int = 0
    squares: int = 0

    def with_one(self, taken: int) -> "DurationSums":
        return DurationSums(self.orders + 1, self.total + taken, self.squares + taken * taken)

    def without(self, other: "DurationSums") -> "DurationSums":
        return DurationSums(
            self.orders - other.orders, self.total - other.total, self.squares - other.squares
        )

    @property
    def mean_days(self) -> float:
        return max(self.total / self.orders, SHORTEST / MICROSECOND) / A_DAY

    @property
    def sd_days(self) -> float:
        """Of the sample, divisor n - 1."""
        spread = self.orders * self.squares - self.total * self.total
        return math.sqrt(spread / (self.orders * (self.orders - 1))) / A_DAY

    @property
    def is_enough(self) -> bool:
        return self.orders >= LEAST_ORDERS

    @property
    def is_at_once(self) -> bool:
        return self.total < self.orders * (SHORTEST // MICROSECOND)


NONE = DurationSums()


@dataclass(frozen=True)
class LeadTimes:
    """Lead times of all items, loaded once."""

    entered_days: Mapping[int, int]
    here: dict[tuple[int, int], DurationSums] = field(default_factory=dict)
    of_item: dict[int, DurationSums] = field(default_factory=dict)
    of_storeroom: dict[int, DurationSums] = field(default_factory=dict)

    def of(self, item_id: int, storeroom_id: int) -> LeadTime | None:
        """From the item's orders here, else everywhere, else as entered, else borrowed from other items; None if unknown."""
        here = self.here.get((item_id, storeroom_id), NONE)
        everywhere = self.of_item.get(item_id, NONE)
        if here.is_enough:
            reason = fact("lead_time_from_orders_here", orders=here.orders)
            return _from_orders(here, LeadTimeBasis.OWN, reason)
        if everywhere.is_enough:
            counts = {"orders": everywhere.orders, "orders_here": here.orders}
            reason = fact("lead_time_from_orders_everywhere", **counts)
            return _from_orders(everywhere, LeadTimeBasis.OWN, reason)
        if item_id in self.entered_days:
            days = self.entered_days[item_id]
            reason = fact("lead_time_entered", days=days, orders=everywhere.orders)
            return LeadTime(float(days), 0.0, LeadTimeBasis.ENTERED, 0, (reason,))
        others = self.of_storeroom.get(storeroom_id, NONE).without(here)
        if others.is_enough:
            reason = fact("lead_time_borrowed", orders=others.orders)
            return _from_orders(others, LeadTimeBasis.BORROWED, reason)
        return None


def lead_times(as_of: datetime) -> LeadTimes:
    """Every lead time known at a moment; two queries."""
    found = LeadTimes(_entered(Item.objects.all()))
    for item, room, taken in _taken(_received(as_of)):
        _add_own(found, item, room, taken)
        found.of_storeroom[room] = found.of_storeroom.get(room, NONE).with_one(taken)
    return found


def lead_times_of(items: Collection[int], storeroom_id: int, as_of: datetime) -> LeadTimes:
    """Of these items in one storeroom; the orders of its other items are read only where one has to borrow theirs.

    Two queries, or three.
    """
    found = LeadTimes(_entered(Item.objects.filter(pk__in=items)))
    for item, room, taken in _taken(_received(as_of).filter(item__in=items)):
        _add_own(found, item, room, taken)
    if any(found.of(item, storeroom_id) is None for item in items):
        for _, room, taken in _taken(_received(as_of).filter(storeroom=storeroom_id)):
            found.of_storeroom[room] = found.of_storeroom.get(room, NONE).with_one(taken)
    return found


def _entered(items: QuerySet[Item]) -> dict[int, int]:
    rows = items.filter(lead_time_days__isnull=False).order_by().values_list("pk", "lead_time_days")
    return {pk: days for pk, days in rows if days is not None}


def _received(as_of: datetime) -> QuerySet[SupplyOrder]:
    return SupplyOrder.objects.received_regularly(as_of).filter(COMPLETE).order_by()


def _taken(orders: QuerySet[SupplyOrder]) -> Iterator[tuple[int, int, int]]:
    """Item, storeroom and microseconds of each order."""
    for item, room, ordered, came in orders.values_list(
        "item_id", "storeroom_id", "ordered_at", "received_at"
    ):
        assert came is not None
        yield item, room, (came - ordered) // MICROSECOND


def _add_own(found: LeadTimes, item: int, room: int, taken: int) -> None:
    found.here[item, room] = found.here.get((item, room), NONE).with_one(taken)
    found.of_item[item] = found.of_item.get(item, NONE).with_one(taken)


@dataclass(frozen=True)
class EmergencyTimes:
    """Loaded once; microseconds from order to shelf by item, and of all."""

    of_item: dict[int, list[int]]
    of_all: EmergencyHours | None = None
    longest_ordinary_days: int | None = None
    """The longest lead time entered for an item that came as an emergency: what takes longer is made to order."""

    def of(self, item_id: int, *, ordinary_days: float | None) -> EmergencyHours | None:
        """From the item's own emergency orders, else from those of all items, if it is delivered as soon as one of them.

        What takes longer is made to order, and so is taken what is not known to be quicker: None, as without any order.
        """
        own = self.of_item.get(item_id)
        if own:
            return _median(own, True, fact("emergency_orders_of_item", orders=len(own)))
        longest = self.longest_ordinary_days
        is_alike = ordinary_days is not None and longest is not None and ordinary_days <= longest
        return self.of_all if is_alike else None


def emergency_hours(as_of: datetime) -> EmergencyTimes:
    """How long emergency orders took, as known at a moment; one query."""
    found, ordinary_days = _emergencies(SupplyOrder.objects.emergencies(as_of))
    taken = [one for many in found.values() for one in many]
    every = _median(taken, False, fact("emergency_orders_of_all", orders=len(taken))) if taken else None
    return EmergencyTimes(found, every, max(ordinary_days, default=None))


def _emergencies(orders: QuerySet[SupplyOrder]) -> tuple[dict[int, list[int]], list[int]]:
    """Microseconds by item, and the lead times entered for these items."""
    found: dict[int, list[int]] = {}
    ordinary_days: list[int] = []
    columns = ("item_id", "item__lead_time_days", "ordered_at", "received_at")
    for item, days, ordered, came in orders.filter(COMPLETE).order_by().values_list(*columns):
        assert came is not None
        found.setdefault(item, []).append((came - ordered) // MICROSECOND)
        ordinary_days += [] if days is None else [days]
    return found, ordinary_days


def lent_times(leads: LeadTimes, emergencies: EmergencyTimes) -> dict[str, Any]:
    """What items borrow that have no orders of their own, as JSON."""
    return {
        "of_storeroom": [[room, *astuple(sums)] for room, sums in leads.of_storeroom.items()],
        "of_all": to_stored(emergencies.of_all),
        "longest_ordinary_days": emergencies.longest_ordinary_days,
    }


def times_of(
    items: Collection[int], as_of: datetime, lent: Mapping[str, Any]
) -> tuple[LeadTimes, EmergencyTimes]:
    """Of some items as they were known at a moment, with what was lent then; three queries."""
    leads = LeadTimes(_entered(Item.objects.filter(pk__in=items)))
    for item, room, taken in _taken(_received(as_of).filter(item__in=items)):
        _add_own(leads, item, room, taken)
    leads.of_storeroom.update({room: DurationSums(*sums) for room, *sums in lent["of_storeroom"]})
    own, _ = _emergencies(SupplyOrder.objects.emergencies(as_of).filter(item__in=items))
    every = from_stored(EmergencyHours | None, lent["of_all"])
    return leads, EmergencyTimes(own, every, lent["longest_ordinary_days"])


def _from_orders(tally: DurationSums, basis: LeadTimeBasis, reason: Fact) -> LeadTime:
    reasons = (reason, fact("lead_time_counted_as_a_minute")) if tally.is_at_once else (reason,)
    return LeadTime(tally.mean_days, tally.sd_days, basis, tally.orders, reasons)


def _median(taken: Iterable[int], of_the_item: bool, reason: Fact) -> EmergencyHours:
    hours = sorted(taken)
    return EmergencyHours(median(hours) / AN_HOUR, len(hours), of_the_item, reason)
