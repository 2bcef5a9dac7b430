"""When a part is on the counter, and when the machine shop has worked on it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta

from inventory.catalogue.stock_on_hand import ShelfStock, StoreroomTimes
from inventory.interchange.findings import WorkStep
from inventory.interchange.vocabulary import Operation
from inventory.models import MachineShop
from inventory.plumbing.joint_statement import Parameters, Question, Row
from inventory.stores.opening_hours import OpenPeriod, WeeklyHours

AT_THE_DRIVE = frozenset({Operation.CHANGE_BUSH, Operation.FIT_CHAIN, Operation.ADJUST_CENTRE})
"""Work that the fitter does on the spot; everything else is done in the shop."""


@dataclass(frozen=True)
class Arrival:
    """A piece on the counter, and the storeroom that it came from."""

    at: datetime
    storeroom_id: int
    storeroom: str


@dataclass(frozen=True)
class Logistics:
    """Opening hours of storerooms and of one machine shop."""

    storerooms: Mapping[int, StoreroomTimes]
    hours: Mapping[int, WeeklyHours]
    shop_hours: WeeklyHours | None

    @classmethod
    def of(
        cls, storerooms: Iterable[StoreroomTimes], shop: MachineShop | None, rows: Iterable[Row]
    ) -> "Logistics":
        """With the rows of `hours_question`."""
        rooms = {room.pk: room for room in storerooms}
        periods: dict[int | None, list[OpenPeriod]] = defaultdict(list)
        for room, weekday, opens, closes in rows:
            # The shop's own rows have no storeroom.
            periods[room].append(OpenPeriod(weekday, time.fromisoformat(opens), time.fromisoformat(closes)))
        return cls(
            storerooms=rooms,
            hours={pk: _weekly_hours(room, periods[pk]) for pk, room in rooms.items()},
            shop_hours=None if shop is None else _weekly_hours(shop, periods[None]),
        )

    def arrival(self, shelf: ShelfStock, at: datetime) -> Arrival | None:
        """None where the transfer time or the hours are not known."""
        attended = self.hours[shelf.storeroom_id].attended_from(at)
        if shelf.transfer_minutes is None or attended is None:
            return None
        minutes = self.storerooms[shelf.storeroom_id].pick_minutes + shelf.transfer_minutes
        return Arrival(attended + timedelta(minutes=minutes), shelf.storeroom_id, shelf.storeroom)

    def first_arrival(self, shelves: Iterable[ShelfStock], at: datetime) -> Arrival | None:
        arrivals = [arrival for shelf in shelves if (arrival := self.arrival(shelf, at)) is not None]
        return min(arrivals, key=lambda arrival: (arrival.at, arrival.storeroom_id), default=None)

    def shop_done_at(self, at: datetime, steps: Iterable[WorkStep]) -> datetime | None:
        """When the shop has done its steps; None where a time, the shop or its hours are not known."""
        minutes = [step.minutes for step in steps if step.operation not in AT_THE_DRIVE]
        if not minutes:
            return at
        total = _total(minutes)
        return None if total is None or self.shop_hours is None else self.shop_hours.done_at(at, total)


def hours_question(put: Parameters, shop: MachineShop | None) -> Question:
    """Opening hours of the storerooms in which the shelves of `stock_questions` stand, and of a shop."""
    rooms = "SELECT DISTINCT storeroom_id, CAST(NULL AS bigint) AS shop_id FROM lying"
    if shop is not None:
        rooms += f" UNION ALL SELECT NULL, CAST({put.put(shop.pk)} AS bigint)"
    return Question(
        ("h.storeroom_id", "h.weekday", "h.opens", "h.closes"),
        f"FROM ({rooms}) place JOIN inventory_openinghours h ON h.storeroom_id = place.storeroom_id OR h.machine_shop_id = place.shop_id",
    )


def minutes_at_the_drive(steps: Iterable[WorkStep]) -> int | None:
    return _total(step.minutes for step in steps if step.operation in AT_THE_DRIVE)


def _total(minutes: Iterable[int | None]) -> int | None:
    known = list(minutes)
    return None if None in known else sum(one for one in known if one is not None)


def _weekly_hours(place: StoreroomTimes | MachineShop, periods: list[OpenPeriod]) -> WeeklyHours:
    return WeeklyHours(place.timezone, tuple(periods), place.call_out_minutes)
