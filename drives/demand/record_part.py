"""Which rows of the record are read: all of them, or those that the demand of some parts is made from."""

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Q, QuerySet
from django.db.models.functions import Coalesce

from drives.lessons.wear_notice import worn_chains
from drives.models import Cover, Installation, Position, Request
from inventory.models import Condition, Item, MovementKind, ReasonCode, StockEntry
from inventory.stocking.demand_settings import DemandSettings

ROWS_AT_ONCE = 2_000
MOST_POSITIONS, MOST_ROWS = 500, 10_000
"""What hangs together farther is left to a whole run."""

REQUEST_COLUMNS = (
    *("at", "item_id", "storeroom_id", "position_id", "quantity", "work_order"),
    *("is_planned", "result", "issued_item_id", "reference"),
)
RETURN_ORDER = ("occurred_at", "item_id", "storeroom_id", "work_order", "position", "reference", "change")
NO_RETURN = (ReasonCode.DEFECTIVE, ReasonCode.WORN)

Removal = tuple[datetime, int, str, str, int, int | None, int]
"""When, position, work order, why, item or 0, storeroom of the plant, drive."""
WornChains = Mapping[int, Iterable[datetime]]


class NotFollowed(Exception):  # noqa: N818 - reads as what happened
    """A change may reach farther than a part of the record shows: it waits for the next whole run."""


class WholeRecord:
    """Every row up to a moment."""

    parts: Collection[int] | None = None
    """Whose pools are wanted; of others the record may be incomplete. None: all."""
    drives: Collection[int] | None = None

    def is_wanted(self, part: int) -> bool:
        return self.parts is None or part in self.parts

    def removals(self, as_of: datetime) -> Iterable[Removal]:
        rows = Installation.objects.filter(removed_at__isnull=False, removed_at__lte=as_of).order_by()
        return rows.values_list(
            "removed_at",
            "position_id",
            "work_order",
            "ended_by",
            Coalesce("item_id", 0),
            "position__drive__equipment__area__plant__storeroom_id",
            "position__drive_id",
        )

    def requests(self, as_of: datetime) -> Iterable[Any]:
        rows = Request.objects.standing().until(as_of).order_by("at")
        return rows.values_list(*REQUEST_COLUMNS, named=True).iterator(ROWS_AT_ONCE)

    def issues(self, as_of: datetime) -> Any:
        entries = StockEntry.objects.issues().not_reversed().filter(occurred_at__lte=as_of)
        return entries.order_by().iterator(ROWS_AT_ONCE)

    def returns(self, as_of: datetime) -> Any:
        """A piece returned as defective was needed all the same; a worn one, and a used unit without a reason, was removed."""
        entries = StockEntry.objects.not_reversed().filter(kind=MovementKind.RETURN, occurred_at__lte=as_of)
        entries = entries.exclude(reason_code__in=NO_RETURN)
        entries = entries.exclude(reason_code="", condition=Condition.USED_SERVICEABLE)
        return entries.order_by(*RETURN_ORDER)

    def issues_of_orders(self, results: Collection[str]) -> Any:
        """Work order, moment, item and tag, of orders with a request that ended so."""
        orders = Request.objects.standing().filter(result__in=results).values("work_order")
        rows = StockEntry.objects.issues().not_reversed().filter(work_order__in=orders).order_by()
        return rows.values_list("work_order", "occurred_at", "item_id", "position")

    def worn_chains(self, as_of: datetime, settings: DemandSettings) -> WornChains:
        return worn_chains(as_of, settings)

    def positions_by_tag(self) -> Mapping[str, int]:
        return dict(Position.objects.order_by().values_list("tag", "id"))

    def places(self) -> dict[int, Position]:
        """Positions with their drives, by their ids in this order."""
        return {one.pk: one for one in Position.objects.with_drive().order_by("pk")}

    def complete(self, positions: Iterable[int]) -> Iterable[int]:
        """Those of which every record is read."""
        return positions

    def units(self) -> Iterable[Installation] | None:
        """At these positions; None: all."""
        return None

    def cover(self, rows: QuerySet[Cover]) -> QuerySet[Cover]:
        return rows

    def of(self, rows: QuerySet[Any], **known: Collection[Any]) -> QuerySet[Any]:
        """Rows with a column that has one of the values."""
        return rows

    def each(self, rows: QuerySet[Any]) -> Iterable[Any]:
        return rows.iterator(ROWS_AT_ONCE)


WHOLE_RECORD = WholeRecord()


@dataclass
class RecordPart(WholeRecord):
    """Every record of some positions, work orders and items, and all that hangs together with these.

    Requests, issues and removals are matched by work order, by position, and by item where they name neither.
    """

    read: dict[int, Position] = field(default_factory=dict)
    """Positions, all of each drive."""
    orders: set[str] = field(default_factory=set)
    items: set[int] = field(default_factory=set)
    """Of which every request, movement and unit is read."""
    parts: frozenset[int] = frozenset()
    served: frozenset[int] = frozenset()
    """Positions that items of the parts could serve."""
    request_rows: dict[int, Request] = field(default_factory=dict)
    entry_rows: dict[int, Any] = field(default_factory=dict)
    unit_rows: dict[int, Installation] = field(default_factory=dict)
    _worn: tuple[Collection[int], WornChains] = ((), {})

    @property
    def drives(self) -> set[int]:  # type: ignore[override]
        return {one.drive_id for one in self.read.values()}

    @property
    def seen(self) -> set[int]:
        """Items in any of these records, and those that go on under their numbers."""
        requests, rows = self.request_rows.values(), (*self.entry_rows.values(), *self.unit_rows.values())
        named = {one.item_id for one in (*requests, *rows)} | {one.issued_item_id for one in requests}
        named |= {one.item.merged_into_id for one in rows if one.item is not None}
        return {item for item in named if item} | self.items

    def extend(
        self,
        *,
        positions: Iterable[int] = (),
        tags: Iterable[str] = (),
        orders: Iterable[str] = (),
        items: Iterable[int] = (),
        unreported: Iterable[tuple[str, set[int]]] = (),
    ) -> None:
        """Read on until nothing new hangs together with what is read; four queries a step.

        `unreported` are tag and items of movements without a work order.
        """
        links = _Links(set(positions), set(tags), set(orders), set(items), list(unreported))
        while True:
            found = self._drives_of(links.positions - self.read.keys(), links.tags)
            known = self.positions_by_tag()
            # A tag that no position has is no place: such a movement is one of the counter.
            items = (
                links.items.union(*(some for tag, some in links.unreported if tag not in known)) - self.items
            )
            items = _numbers_of(items) - self.items
            orders = links.orders - self.orders - {""}
            if not (found or orders or items):
                return
            self.orders |= orders
            self.items |= items
            links = _Links()
            self._read_requests(links, found, orders, items)
            self._read_entries(links, known, [one.tag for one in found.values()], orders, items)
            self._read_units(links, found, orders, items)
            rows = len(self.request_rows) + len(self.entry_rows) + len(self.unit_rows)
            if len(self.read) > MOST_POSITIONS or rows > MOST_ROWS:
                raise NotFollowed

    def _drives_of(self, positions: Collection[int], tags: Collection[str]) -> dict[int, Position]:
        """Positions with all others of their drives."""
        if not positions and not tags:
            return {}
        named = Position.objects.filter(Q(pk__in=positions) | Q(tag__in=tags))
        rows = Position.objects.with_drive().filter(drive__in=named.values("drive")).order_by()
        found = {one.pk: one for one in rows if one.pk not in self.read}
        self.read |= found
        return found

    def _read_requests(
        self, links: "_Links", positions: Collection[int], orders: Collection[str], items: Collection[int]
    ) -> None:
        named = _linked(positions, orders, items) | Q(issued_item__in=items)
        for row in Request.objects.filter(named).order_by():
            self.request_rows[row.pk] = row
            links.orders.add(row.work_order)
            if row.position_id is not None:
                links.positions.add(row.position_id)
            elif not row.work_order:
                links.items.update({row.item_id, row.issued_item_id} - {None})  # type: ignore[arg-type]

    def _read_entries(
        self,
        links: "_Links",
        known: Mapping[str, int],
        tags: Collection[str],
        orders: Collection[str],
        items: Collection[int],
    ) -> None:
        kinds = (MovementKind.ISSUE, MovementKind.RETURN)
        entries = StockEntry.objects.not_reversed().filter(_linked(tags, orders, items), kind__in=kinds)
        for row in entries.select_related("item").order_by():
            self.entry_rows[row.pk] = row
            links.orders.add(row.work_order)
            if row.position and row.position not in known:
                links.tags.add(row.position)
                if not row.work_order:
                    links.unreported.append((row.position, {row.item_id}))
            elif not row.position and not row.work_order:
                links.items.add(row.item_id)

    def _read_units(
        self, links: "_Links", positions: Collection[int], orders: Collection[str], items: Collection[int]
    ) -> None:
        rows = Installation.objects.filter(_linked(positions, orders, items)).select_related("item")
        for row in rows.order_by():
            self.unit_rows[row.pk] = row
            links.orders.add(row.work_order)
            links.positions.add(row.position_id)

    def removals(self, as_of: datetime) -> Iterable[Removal]:
        for row in self.unit_rows.values():
            if row.removed_at is not None and row.removed_at <= as_of:
                drive = self.read[row.position_id].drive
                room = drive.equipment.area.plant.storeroom_id
                yield (
                    *(row.removed_at, row.position_id, row.work_order, row.ended_by),
                    *(row.item_id or 0, room, drive.pk),
                )

    def requests(self, as_of: datetime) -> Iterable[Request]:
        return [row for row in self.request_rows.values() if row.retracted_at is None and row.at <= as_of]

    def issues(self, as_of: datetime) -> Iterable[Any]:
        return [row for row in self._entries(as_of) if row.kind == MovementKind.ISSUE]

    def returns(self, as_of: datetime) -> Iterable[Any]:
        found = [
            row
            for row in self._entries(as_of)
            if row.kind == MovementKind.RETURN
            and row.reason_code not in NO_RETURN
            and (row.reason_code, row.condition) != ("", Condition.USED_SERVICEABLE)
        ]
        return sorted(found, key=lambda row: [getattr(row, name) for name in RETURN_ORDER])

    def issues_of_orders(self, results: Collection[str]) -> Iterable[tuple[str, datetime, int, str]]:
        requests = self.request_rows.values()
        orders = {row.work_order for row in requests if row.retracted_at is None and row.result in results}
        for row in self.entry_rows.values():
            if row.kind == MovementKind.ISSUE and row.work_order in orders:
                yield row.work_order, row.occurred_at, row.item_id, row.position

    def _entries(self, as_of: datetime) -> list[Any]:
        return [row for row in self.entry_rows.values() if row.occurred_at <= as_of]

    def worn_chains(self, as_of: datetime, settings: DemandSettings) -> WornChains:
        if self._worn[0] != self.drives:
            self._worn = self.drives, worn_chains(as_of, settings, drives=self.drives)
        return self._worn[1]

    def positions_by_tag(self) -> Mapping[str, int]:
        return {one.tag: pk for pk, one in self.read.items()}

    def places(self) -> dict[int, Position]:
        others = self.served - self.read.keys()
        rows = Position.objects.with_drive().filter(pk__in=others).order_by() if others else ()
        return dict(sorted((self.read | {one.pk: one for one in rows}).items()))

    def complete(self, positions: Iterable[int]) -> Iterable[int]:
        return [pk for pk in positions if pk in self.read]

    def units(self) -> Iterable[Installation]:
        return self.unit_rows.values()

    def cover(self, rows: QuerySet[Cover]) -> QuerySet[Cover]:
        return rows.filter(position__in=self.read.keys() | self.served)

    def of(self, rows: QuerySet[Any], **known: Collection[Any]) -> QuerySet[Any]:
        return rows.filter(**{f"{name}__in": values for name, values in known.items()})

    def each(self, rows: QuerySet[Any]) -> Iterable[Any]:
        # A few rows need no cursor of the server.
        return rows


@dataclass(frozen=True, slots=True)
class _Links:
    """What to read next; `unreported` are the movements without an order whose tag is not known yet."""

    positions: set[int] = field(default_factory=set)
    tags: set[str] = field(default_factory=set)
    orders: set[str] = field(default_factory=set)
    items: set[int] = field(default_factory=set)
    unreported: list[tuple[str, set[int]]] = field(default_factory=list)


def _numbers_of(items: set[int]) -> set[int]:
    """With all numbers that are merged with them; one query."""
    if not items:
        return items
    merged = ("merged_into", "merged_numbers", "merged_into__merged_numbers")
    rows = Item.objects.filter(pk__in=items).order_by().values_list(*merged)
    return items.union(*rows) - {None}


def _linked(positions: Iterable[Any], orders: Collection[str], items: Collection[int] = ()) -> Q:
    found = Q(position__in=list(positions)) | Q(work_order__in=list(orders))
    return found | Q(item__in=list(items)) if items else found
