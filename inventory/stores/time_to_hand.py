"""How soon a part is where it is needed, and worked on: storeroom hours, the way, the machine shop."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from inventory.interchange.findings import WorkStep
from inventory.interchange.vocabulary import Operation
from inventory.models import MachineShop, OpeningHours, Storeroom, TransferTime
from inventory.stores.opening_hours import Hours, Stretch

AT_THE_DRIVE = frozenset({Operation.CHANGE_BUSH, Operation.FIT_CHAIN, Operation.ADJUST_CENTRE})
"""Work that the fitter does on the spot; everything else is done in the shop."""


@dataclass(frozen=True)
class Logistics:
    """Hours of every storeroom and shop and the minutes between storerooms, loaded once; three queries."""

    storerooms: dict[int, Storeroom]
    storeroom_hours: dict[int, Hours]
    shop_hours: dict[int, Hours]
    minutes_between: dict[tuple[int, int], int]

    @classmethod
    def load(cls) -> "Logistics":
        by_storeroom: dict[int, list[Stretch]] = defaultdict(list)
        by_shop: dict[int, list[Stretch]] = defaultdict(list)
        for row in OpeningHours.objects.all():
            stretch = Stretch(row.weekday, row.opens, row.closes)
            if row.storeroom_id is not None:
                by_storeroom[row.storeroom_id].append(stretch)
            elif row.machine_shop_id is not None:
                by_shop[row.machine_shop_id].append(stretch)
        storerooms = {room.pk: room for room in Storeroom.objects.select_related("machine_shop")}
        shops = {shop.pk: shop for shop in MachineShop.objects.all()}
        return cls(
            storerooms=storerooms,
            storeroom_hours={pk: _hours(room, by_storeroom[pk]) for pk, room in storerooms.items()},
            shop_hours={pk: _hours(shop, by_shop[pk]) for pk, shop in shops.items()},
            minutes_between={
                (t.from_storeroom_id, t.to_storeroom_id): t.minutes for t in TransferTime.objects.all()
            },
        )

    def fetched_at(self, from_id: int, to_id: int, at: datetime) -> datetime | None:
        """When a piece from one storeroom is on the counter of another; None where the way or the hours are not known."""
        way = 0 if from_id == to_id else self.minutes_between.get((from_id, to_id))
        attended = self.storeroom_hours[from_id].attended_from(at)
        if way is None or attended is None:
            return None
        return attended + timedelta(minutes=self.storerooms[from_id].pick_minutes + way)

    def soonest(self, from_ids: Iterable[int], to_id: int, at: datetime) -> tuple[datetime, int] | None:
        """The soonest arrival from any of the storerooms, and which one it is."""
        arrivals = [
            (arrival, pk) for pk in from_ids if (arrival := self.fetched_at(pk, to_id, at)) is not None
        ]
        return min(arrivals, default=None)

    def worked_at(self, shop_id: int | None, at: datetime, steps: Iterable[WorkStep]) -> datetime | None:
        """When the shop has done the steps that are its own; None where a time, the shop or its hours are not known."""
        minutes = [step.minutes for step in steps if step.operation not in AT_THE_DRIVE]
        if not minutes:
            return at
        if any(m is None for m in minutes) or shop_id is None or shop_id not in self.shop_hours:
            return None
        return self.shop_hours[shop_id].done_at(at, sum(m for m in minutes if m is not None))


def _hours(place: Storeroom | MachineShop, stretches: list[Stretch]) -> Hours:
    return Hours(place.timezone, tuple(stretches), place.call_out_minutes)


def minutes_at_the_drive(steps: Iterable[WorkStep]) -> int | None:
    minutes = [step.minutes for step in steps if step.operation in AT_THE_DRIVE]
    return None if any(m is None for m in minutes) else sum(m for m in minutes if m is not None)
