"""Lives at a position, worked out anew from what people recorded and the failures that the feed tells."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Q

from drives.feed.parts import issued_for
from drives.feed.service_intervals import End, Placed, Stretch, is_cut, moment_of, place
from drives.models import AgeBasis, EndedBy, Installation, MeterReading, Position, WorkOrder
from drives.service_record import history
from drives.service_record.history import LIFE_FIELDS, calendar_hours
from drives.service_record.meter_readings import metered_hours, readings_of
from inventory.models import Item, PartKind, StockEntry

ITEM_NOT_TOLD = "no part told: taken to be the same again"
NO_END: End = {
    **dict.fromkeys(history.END_FIELDS, ""),
    "removed_at": None,
    "running_hours": None,
}


@dataclass(slots=True)
class Life:
    """One wanted row; `unit` is new where none stands for it yet."""

    unit: Installation
    begun_for: WorkOrder | None = None
    ended_for: WorkOrder | None = None


@dataclass(slots=True)
class Rederived:
    """What changed at a position, and which failures found no unit there."""

    position: Position
    ended: list[Installation] = field(default_factory=list)
    begun: list[Installation] = field(default_factory=list)
    restored: list[Installation] = field(default_factory=list)
    orders: list[WorkOrder] = field(default_factory=list)
    unplaced: set[int] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class Place:
    position: Position
    items: dict[str, Item]
    issues: dict[tuple[int, int], StockEntry]
    readings: Sequence[MeterReading]


def rederive(position: Position, now: datetime) -> Rederived:
    """To be called with the position's row held."""
    rows = list(
        Installation.objects.filter(position=position)
        .select_related("item__specification", "specification", "stock_entry")
        .order_by("installed_at", "id")
    )
    here = Q(position=position) | Q(ended__position=position) | Q(begun__position=position)
    orders = list(WorkOrder.objects.filter(here).order_by("id"))
    cuts = [order for order in orders if is_cut(order) and order.position_id == position.pk]
    if not cuts and not any(order.ended_id or order.begun_id for order in orders):
        return Rederived(position)
    placed = place(rows, orders, cuts)
    where = Place(position, items_used(cuts), issued_for(cuts), readings_of(position.pk))
    for row in rows:
        row.position = position
    lives = [life for stretch in placed.stretches for life in lives_of(stretch, where, rows)]
    found = book(where.position, rows, lives, now)
    link(orders, lives, placed)
    found.orders, found.unplaced = cuts, {order.pk for order in placed.unplaced}
    return found


def lives_of(stretch: Stretch, where: Place, rows: Sequence[Installation]) -> list[Life]:
    by_pk = {row.pk: row for row in rows}
    opens = stretch.opens
    lives = [Life(stretch.rows[0]) if opens is None else begin(opens, None, where, by_pk)]
    for cut in stretch.cuts:
        lives[-1].ended_for = cut
        lives.append(begin(cut, lives[-1].unit, where, by_pk))
        close(lives[-2].unit, end_told(cut, lives[-2].unit, where))
    close(lives[-1].unit, end_recorded(stretch, lives[-1].unit, where))
    return lives


def begin(
    order: WorkOrder, before: Installation | None, where: Place, by_pk: dict[int, Installation]
) -> Life:
    """The life that the job began: of the part that it used and that fits, else of the same again."""
    unit = by_pk.get(order.begun_id or 0) or Installation(position=where.position)
    item = item_fitted(order, before, where)
    why = f"work order {order.external_id}"
    if item is not None:
        unit.item, unit.specification = item, item.specification
    elif before is not None:
        unit.item, unit.specification = before.item, before.specification
        why = f"{why}, {ITEM_NOT_TOLD}"
    unit.installed_at, unit.installed_why = moment_of(order), why
    entry = where.issues.get((order.pk, unit.item.pk)) if unit.item is not None else None
    unit.stock_entry = entry
    return Life(unit, begun_for=order)


def item_fitted(order: WorkOrder, before: Installation | None, where: Place) -> Item | None:
    net: dict[str, int] = {}
    for line in order.parts_used:
        net[line["item"]] = net.get(line["item"], 0) + int(line["quantity"])
    used = [where.items[number] for number, pieces in sorted(net.items()) if pieces > 0]
    same = None if before is None else before.item
    if same in used:
        return same
    fitting = [item for item in used if may_sit(item, where.position)]
    alike = [item for item in fitting if teeth_of(item) == where.position.teeth]
    return next(iter(alike or fitting), None)


def may_sit(item: Item, position: Position) -> bool:
    """A sprocket for the chain of the drive: a bush, a key or a length of chain is not what sits there."""
    part = item.specification
    if part is None or part.kind != PartKind.SPROCKET:
        return False
    chain = position.drive.chain_designation
    return not chain or not part.chain_designation or part.chain_designation == chain


def teeth_of(item: Item) -> int | None:
    return item.specification.teeth if item.specification else None


def end_told(order: WorkOrder, unit: Installation, where: Place) -> End:
    code_unread = "ended_by" in order.unread_codes
    ended_by = order.ended_by or (EndedBy.UNKNOWN if code_unread else EndedBy.FAILURE)
    end = {
        "removed_at": moment_of(order),
        "ended_by": str(ended_by),
        "mechanism": order.mechanism,
        "cause": order.cause,
        "part": order.part,
        "work_order": order.external_id,
    }
    if order.running_hours is not None:
        return {**end, "running_hours": order.running_hours, "age_basis": AgeBasis.METER}
    return {**end, **hours_run(unit, moment_of(order), where)}


def hours_run(unit: Installation, until: datetime, where: Place) -> End:
    metered = metered_hours(where.readings, unit.installed_at, until)
    if metered is not None:
        return {"running_hours": metered, "age_basis": AgeBasis.METER}
    per_year = where.position.drive.hours_per_year
    if per_year is None:
        return {"running_hours": None, "age_basis": ""}
    return {
        "running_hours": calendar_hours(unit.installed_at, until, per_year),
        "age_basis": AgeBasis.CALENDAR,
    }


def end_recorded(stretch: Stretch, unit: Installation, where: Place) -> End:
    """The end that a person recorded; hours that followed from the calendar follow from it again."""
    end, per_year = stretch.end, where.position.drive.hours_per_year
    if end is None:
        return NO_END
    if end["age_basis"] != AgeBasis.CALENDAR or per_year is None or stretch.ended_from is None:
        return end
    if end["running_hours"] != calendar_hours(stretch.ended_from, end["removed_at"], per_year):
        return end
    return {**end, "running_hours": calendar_hours(unit.installed_at, end["removed_at"], per_year)}


def close(unit: Installation, end: End) -> None:
    for name, value in end.items():
        setattr(unit, name, value)


def book(position: Position, rows: Sequence[Installation], lives: Sequence[Life], now: datetime) -> Rederived:
    """Write what differs from what stands, and tell which lives ended, began or were restored."""
    stood = standing(rows)
    kept = {life.unit.pk for life in lives if life.unit.pk}
    dropped = [row for row in rows if row.pk not in kept]
    changed = [life.unit for life in lives if life.unit.pk and values_of(life.unit) != stood[life.unit.pk]]
    begun = [life.unit for life in lives if not life.unit.pk]
    found = Rederived(position, begun=list(begun))
    for unit in [*changed, *begun]:
        before = stood.get(unit.pk, {})
        if unit.removed_at is not None and any(before.get(f) != getattr(unit, f) for f in history.END_FIELDS):
            found.ended.append(unit)
        elif unit.removed_at is None and before.get("removed_at") is not None:
            found.restored.append(unit)
    if dropped or changed or begun:
        history.set_lives(position, dropped=dropped, changed=changed, begun=begun, at=now)
    return found


def standing(rows: Iterable[Installation]) -> dict[int, dict[str, Any]]:
    """What the database holds, as the rows in hand may have been changed already."""
    found = Installation.objects.filter(pk__in=[row.pk for row in rows]).values("pk", *LIFE_FIELDS)
    return {row.pop("pk"): row for row in found}


def values_of(unit: Installation) -> dict[str, Any]:
    names = {name: Installation._meta.get_field(name) for name in LIFE_FIELDS}
    return {name: getattr(unit, getattr(column, "attname", name)) for name, column in names.items()}


def link(orders: Iterable[WorkOrder], lives: Iterable[Life], placed: Placed) -> None:
    """Tie each order to the life that it ended and the one that it began."""
    ended = {life.ended_for.pk: life.unit.pk for life in lives if life.ended_for is not None}
    ended |= {number: unit.pk for number, unit in placed.adopted.items()}
    begun = {life.begun_for.pk: life.unit.pk for life in lives if life.begun_for is not None}
    for order in orders:
        wanted = ended.get(order.pk), begun.get(order.pk)
        if (order.ended_id, order.begun_id) != wanted:
            order.ended_id, order.begun_id = wanted
            WorkOrder.objects.filter(pk=order.pk).update(ended=wanted[0], begun=wanted[1])


def items_used(cuts: Iterable[WorkOrder]) -> dict[str, Item]:
    numbers = sorted({line["item"] for order in cuts for line in order.parts_used})
    found = Item.objects.filter(stock_number__in=numbers).select_related("specification")
    return {item.stock_number: item for item in found}
