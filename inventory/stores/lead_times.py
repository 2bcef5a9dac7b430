"""From order to shelf: how long an item takes to come, told by its own orders, as entered, or by its neighbours.

Durations are summed as whole microseconds, so that the answer hangs on what is recorded and never on its sequence.
"""

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum
from statistics import median

from django.db.models import F, Q

from inventory.models import Item, SupplyOrder, SupplyStatus

LEAST_ORDERS = 3
"""Fewer tell no spread."""
SHORTEST = timedelta(minutes=1)
"""Orders are dated to the minute; a mean below it is taken as this."""
MICROSECOND = timedelta(microseconds=1)
A_DAY = timedelta(days=1) // MICROSECOND
AN_HOUR = timedelta(hours=1) // MICROSECOND
COMPLETE = Q(status=SupplyStatus.RECEIVED) | Q(status=SupplyStatus.OPEN, received_quantity__gte=F("quantity"))
"""Whole on the shelf: a part delivery does not tell yet how long the order takes."""


class LeadTimeBasis(StrEnum):
    OWN = "own"
    ENTERED = "entered"
    BORROWED = "borrowed"


@dataclass(frozen=True, slots=True)
class LeadTime:
    """`orders` is how many it rests on; none where it was entered."""

    mean_days: float
    sd_days: float
    basis: LeadTimeBasis
    orders: int
    sentence: str


@dataclass(frozen=True, slots=True)
class EmergencyHours:
    """The middle one of past emergency buys, from order to shelf."""

    hours: float
    orders: int
    of_the_item: bool
    sentence: str


@dataclass(frozen=True, slots=True)
class Tally:
    """Orders counted, with the sum of their microseconds and of the squares, exact."""

    orders: int = 0
    total: int = 0
    squares: int = 0

    def with_one(self, taken: int) -> "Tally":
        return Tally(self.orders + 1, self.total + taken, self.squares + taken * taken)

    def without(self, other: "Tally") -> "Tally":
        return Tally(self.orders - other.orders, self.total - other.total, self.squares - other.squares)

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
    def at_once(self) -> str:
        short = self.total < self.orders * (SHORTEST // MICROSECOND)
        return " They were on the shelf as soon as ordered; counted as a minute." if short else ""


NONE = Tally()


@dataclass(frozen=True)
class LeadTimes:
    """Loaded once, asked as often as there are parts."""

    entered_days: Mapping[int, int]
    here: dict[tuple[int, int], Tally] = field(default_factory=dict)
    of_item: dict[int, Tally] = field(default_factory=dict)
    of_storeroom: dict[int, Tally] = field(default_factory=dict)

    def of(self, item_id: int, storeroom_id: int) -> LeadTime | None:
        """The item's own orders here, else everywhere, else as entered, else borrowed; None where nothing is known."""
        here = self.here.get((item_id, storeroom_id), NONE)
        everywhere = self.of_item.get(item_id, NONE)
        if here.is_enough:
            return _told_by(
                here, LeadTimeBasis.OWN, f"From {here.orders} orders of this item for this storeroom."
            )
        if everywhere.is_enough:
            words = f"From {everywhere.orders} orders of this item for all storerooms, as this one has {_few(here)}."
            return _told_by(everywhere, LeadTimeBasis.OWN, words)
        if item_id in self.entered_days:
            return _as_entered(self.entered_days[item_id], everywhere)
        others = self.of_storeroom.get(storeroom_id, NONE).without(here)
        if others.is_enough:
            words = f"Borrowed from {others.orders} orders of other items, enter lead_time_days."
            return _told_by(others, LeadTimeBasis.BORROWED, words)
        return None


def lead_times(as_of: datetime) -> LeadTimes:
    """Every lead time known at a moment; two queries."""
    orders = SupplyOrder.objects.of_the_usual_way(as_of).filter(COMPLETE).order_by()
    entered = Item.objects.filter(lead_time_days__isnull=False).order_by().values_list("pk", "lead_time_days")
    found = LeadTimes({pk: days for pk, days in entered if days is not None})
    for item, room, ordered, came in orders.values_list(
        "item_id", "storeroom_id", "ordered_at", "received_at"
    ):
        assert came is not None
        taken = (came - ordered) // MICROSECOND
        found.here[item, room] = found.here.get((item, room), NONE).with_one(taken)
        found.of_item[item] = found.of_item.get(item, NONE).with_one(taken)
        found.of_storeroom[room] = found.of_storeroom.get(room, NONE).with_one(taken)
    return found


@dataclass(frozen=True)
class EmergencyTimes:
    """Loaded once; microseconds from order to shelf by item, and of all."""

    of_item: dict[int, list[int]]

    def of(self, item_id: int) -> EmergencyHours | None:
        """The item's own emergency buys, else those of all items; None where there were none."""
        own = self.of_item.get(item_id)
        if own:
            return _middle(own, True, f"From {_emergencies(len(own))} of this item.")
        return self.of_all()

    def of_all(self) -> EmergencyHours | None:
        taken = [one for many in self.of_item.values() for one in many]
        return _middle(taken, False, f"From {_emergencies(len(taken))} of all items.") if taken else None


def emergency_hours(as_of: datetime) -> EmergencyTimes:
    """How long emergency buys took, as known at a moment; one query."""
    orders = SupplyOrder.objects.emergencies(as_of).filter(COMPLETE).order_by()
    found: dict[int, list[int]] = {}
    for item, ordered, came in orders.values_list("item_id", "ordered_at", "received_at"):
        assert came is not None
        found.setdefault(item, []).append((came - ordered) // MICROSECOND)
    return EmergencyTimes(found)


def _told_by(tally: Tally, basis: LeadTimeBasis, sentence: str) -> LeadTime:
    return LeadTime(tally.mean_days, tally.sd_days, basis, tally.orders, sentence + tally.at_once)


def _as_entered(days: int, own: Tally) -> LeadTime:
    words = (
        f"As entered, {days} day{'s' * (days != 1)} without a spread, as {_few(own)} of this item came in."
    )
    return LeadTime(float(days), 0.0, LeadTimeBasis.ENTERED, 0, words)


def _middle(taken: Iterable[int], of_the_item: bool, sentence: str) -> EmergencyHours:
    lasted = sorted(taken)
    return EmergencyHours(median(lasted) / AN_HOUR, len(lasted), of_the_item, sentence)


def _few(tally: Tally) -> str:
    return {0: "no order", 1: "only 1 order"}.get(tally.orders, f"only {tally.orders} orders")


def _emergencies(count: int) -> str:
    return "1 emergency buy" if count == 1 else f"{count} emergency buys"
