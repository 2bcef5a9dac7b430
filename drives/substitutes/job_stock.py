"""The open jobs that share some items, and all that there is of these items: read once, in a fixed number of queries."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from django.db.models import F, FilteredRelation, Q, QuerySet, Sum

from drives.models import NeededPart, WorkOrder, WorkOrderStatus
from drives.substitutes.job_promises import (
    FreeStock,
    IncomingStock,
    ItemPromises,
    JobClaim,
    JobSupply,
    ReservedStock,
    promise_item,
)
from inventory.models import (
    AVAILABLE_CONDITIONS,
    Item,
    MovementKind,
    Reservation,
    StockEntry,
    StockLevel,
    SupplyOrder,
    TransferTime,
    Unit,
)
from inventory.models.access_scope import current_scope

ISSUES_AND_RETURNS = (MovementKind.ISSUE, MovementKind.RETURN)
BY_POSITION = "work_order__position__drive__equipment__area__plant"
BY_EQUIPMENT = "work_order__equipment__area__plant"


def promises_of(
    items: Collection[Item], *, chain_joints: int, jobs: Collection[WorkOrder] = ()
) -> dict[int, ItemPromises]:
    """By item, what each open job gets of it, and `jobs`, for whose places the answer is, even if they are closed; six queries.

    Only the jobs that need one of these items are read, and only the stock of these items.
    """
    loaded = _SharedStock.load(items, jobs)
    return {
        item.pk: promise_item(loaded.claims_of(item), loaded.supply_of(item), chain_joints=chain_joints)
        for item in items
    }


@dataclass(frozen=True)
class _Need:
    """A line of an open job."""

    job_id: int
    work_order: str
    needed_by: date | None
    room_id: int | None
    plant_id: int | None
    stock_number: str
    quantity: int


@dataclass(frozen=True)
class _SharedStock:
    needs: Mapping[str, Mapping[int, list[_Need]]]
    """By stock number, and by job."""
    issued: Mapping[tuple[int, str], int]
    """By item and work order."""
    reserved: Mapping[int, list[ReservedStock]]
    shelves: Mapping[int, list[FreeStock]]
    incoming: Mapping[int, list[IncomingStock]]
    minutes: Mapping[tuple[int, int], int]

    @classmethod
    def load(cls, items: Collection[Item], jobs: Collection[WorkOrder]) -> "_SharedStock":
        ids = [item.pk for item in items]
        needs = _needs([item.stock_number for item in items], jobs)
        rooms = {lines[0].room_id for by_job in needs.values() for lines in by_job.values()}
        rooms |= {job.plant.storeroom_id for job in jobs if job.plant is not None}
        homes = {room for room in rooms if room is not None}
        return cls(
            needs=needs,
            issued=_issued(ids),
            reserved=_reserved(ids, homes),
            shelves=_shelves(ids, homes),
            incoming=_incoming(ids, homes),
            minutes=_minutes(homes),
        )

    def claims_of(self, item: Item) -> list[JobClaim]:
        return [self._claim(item, lines) for lines in self.needs.get(item.stock_number, {}).values()]

    def _claim(self, item: Item, lines: list[_Need]) -> JobClaim:
        one, plants = lines[0], current_scope().plants
        own = [row for row in self.reserved.get(item.pk, ()) if row.work_order == one.work_order]
        return JobClaim(
            job_id=one.job_id,
            work_order=one.work_order,
            needed_by=one.needed_by,
            room_id=one.room_id,
            lines=tuple(line.quantity for line in lines),
            issued=self.issued.get((item.pk, one.work_order), 0),
            reserved=sum(row.quantity for row in own),
            reserved_in=frozenset(row.room_id for row in own),
            is_visible=plants is None or one.plant_id in plants,
        )

    def supply_of(self, item: Item) -> JobSupply:
        return JobSupply(
            is_chain=item.unit == Unit.LINK,
            shelves=tuple(self.shelves.get(item.pk, ())),
            reservations=tuple(self.reserved.get(item.pk, ())),
            incoming=tuple(self.incoming.get(item.pk, ())),
            minutes=self.minutes,
        )


def _needs(numbers: Iterable[str], jobs: Collection[WorkOrder]) -> dict[str, dict[int, list[_Need]]]:
    counted = Q(work_order__status=WorkOrderStatus.OPEN)
    if jobs:
        counted |= Q(work_order__in=jobs)
    columns = (
        "work_order_id",
        "work_order__external_id",
        "work_order__needed_by",
        "stock_number",
        "quantity",
    )
    plants = (
        "work_order__position_id",
        *(f"{path}{end}" for path in (BY_POSITION, BY_EQUIPMENT) for end in PLANT),
    )
    rows = NeededPart.objects.filter(counted, stock_number__in=list(numbers)).order_by("pk")
    found: dict[str, dict[int, list[_Need]]] = defaultdict(lambda: defaultdict(list))
    for pk, work_order, day, number, quantity, position, *places in rows.values_list(*columns, *plants):
        plant, room = places[:2] if position is not None else places[2:]
        found[number][pk].append(_Need(pk, work_order, day, room, plant, number, quantity))
    return found


PLANT = ("_id", "__storeroom_id")


def _issued(ids: Collection[int]) -> dict[tuple[int, str], int]:
    """Issued less returned, by the work orders of open jobs."""
    jobs = NeededPart.objects.filter(stock_number__in=Item.objects.filter(pk__in=ids).values("stock_number"))
    rows = StockEntry.objects.filter(
        item__in=ids, kind__in=ISSUES_AND_RETURNS, work_order__in=jobs.values("work_order__external_id")
    )
    sums = rows.order_by().values_list("item_id", "work_order").annotate(total=Sum("change"))
    return {(item, work_order): max(-change, 0) for item, work_order, change in sums}


def _reachable(rows: QuerySet[Any], homes: Collection[int]) -> QuerySet[Any]:
    """In the storerooms that may be seen, and in those that serve the jobs' plants."""
    seen = current_scope().storerooms
    return rows if seen is None else rows.filter(storeroom__in={*seen, *homes})


def _reserved(ids: Collection[int], homes: Collection[int]) -> dict[int, list[ReservedStock]]:
    rows = _reachable(Reservation.objects.open().filter(item__in=ids), homes).order_by("item_id", "pk")
    columns = ("item_id", "storeroom_id", "storeroom__code", "work_order", "open_quantity")
    found: dict[int, list[ReservedStock]] = defaultdict(list)
    for item, *values in rows.values_list(*columns):
        found[item].append(ReservedStock(*values))
    return found


def _shelves(ids: Collection[int], homes: Collection[int]) -> dict[int, list[FreeStock]]:
    """All conditions that may be issued count together; a row of chain comes once for each of its pieces."""
    levels = StockLevel.objects.filter(item__in=ids, condition__in=AVAILABLE_CONDITIONS, on_hand__gt=0)
    pieces = FilteredRelation("pieces", condition=Q(pieces__links__gt=0))
    rows = _reachable(levels, homes).annotate(piece=pieces, free=F("on_hand") - F("reserved"))
    columns = ("pk", "item_id", "storeroom_id", "storeroom__code", "free", "piece__links")
    free: dict[tuple[int, int, str], dict[int, int]] = defaultdict(dict)
    links: dict[tuple[int, int, str], list[int]] = defaultdict(list)
    for level, item, room, code, quantity, piece in rows.order_by(
        "storeroom__code", "pk", "piece__pk"
    ).values_list(*columns):
        free[item, room, code][level] = quantity
        links[item, room, code] += [] if piece is None else [piece]
    found: dict[int, list[FreeStock]] = defaultdict(list)
    for key, levels_here in free.items():
        found[key[0]].append(FreeStock(key[1], key[2], sum(levels_here.values()), tuple(links[key])))
    return found


def _incoming(ids: Collection[int], homes: Collection[int]) -> dict[int, list[IncomingStock]]:
    """Open orders with a date; without one nothing can be promised."""
    rows = _reachable(SupplyOrder.objects.open().filter(item__in=ids, promised_on__isnull=False), homes)
    columns = ("item_id", "storeroom_id", "promised_on", "quantity", "received_quantity")
    found: dict[int, list[IncomingStock]] = defaultdict(list)
    for item, room, day, ordered, received in rows.order_by("promised_on", "ordered_at", "pk").values_list(
        *columns
    ):
        if ordered > received:
            found[item].append(IncomingStock(room, day, ordered - received))
    return found


def _minutes(homes: Collection[int]) -> dict[tuple[int, int], int]:
    ways = TransferTime.objects.filter(to_storeroom__in=homes).order_by()
    return {
        (begin, end): minutes
        for begin, end, minutes in ways.values_list("from_storeroom", "to_storeroom", "minutes")
    }
