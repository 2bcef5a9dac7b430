"""Installations at a position, from what people recorded and the failures in work orders."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Q

from drives.feed.movements_from_orders import issued_for
from drives.feed.recorded_texts import recorded_text
from drives.feed.service_intervals import (
    PlacedFailures,
    Removal,
    ServiceInterval,
    ends_installation,
    moment_of,
    place_failures,
)
from drives.models import AgeBasis, EndedBy, Installation, MeterReading, Position, RecordedVerdict, WorkOrder
from drives.service_record import history
from drives.service_record.history import INSTALLATION_FIELDS, age_by_calendar, calendar_hours
from drives.service_record.meter_readings import metered_hours, readings_of
from drives.substitutes.past_verdicts import keep_unit_verdicts
from inventory.models import Item, PartKind, StockEntry

NOT_REMOVED: Removal = {
    **dict.fromkeys(history.END_FIELDS, ""),
    "removed_at": None,
    "running_hours": None,
}


@dataclass(slots=True)
class PlannedInstallation:
    """One installation as it should be; `unit` is new if no row exists for it."""

    unit: Installation
    begun_for: WorkOrder | None = None
    ended_for: WorkOrder | None = None


@dataclass(slots=True)
class PositionChanges:
    """What changed at a position; `unplaced` are the failures that found no unit there."""

    position: Position
    ended: list[Installation] = field(default_factory=list)
    begun: list[Installation] = field(default_factory=list)
    restored: list[Installation] = field(default_factory=list)
    orders: list[WorkOrder] = field(default_factory=list)
    unplaced: set[int] = field(default_factory=set)


@dataclass(frozen=True, slots=True)
class PositionContext:
    position: Position
    items: dict[str, Item]
    issues: dict[tuple[int, int], StockEntry]
    readings: Sequence[MeterReading]


def update_installations(position: Position, now: datetime) -> PositionChanges:
    """To be called with the position's row locked."""
    rows = list(
        Installation.objects.filter(position=position)
        .select_related("item__specification", "specification", "stock_entry")
        .order_by("installed_at", "id")
    )
    here = Q(position=position) | Q(ended__position=position) | Q(begun__position=position)
    orders = list(WorkOrder.objects.filter(here).order_by("id"))
    failures = [order for order in orders if ends_installation(order) and order.position_id == position.pk]
    if not failures and not any(order.ended_id or order.begun_id for order in orders):
        return PositionChanges(position)
    placed = place_failures(rows, orders, failures)
    context = PositionContext(
        position, items_used(failures), issued_for(failures, position.tag), readings_of(position.pk)
    )
    stored = {row.pk: values_of(row) for row in rows}
    for row in rows:
        row.position = position
    planned = [one for interval in placed.intervals for one in installations_of(interval, context, rows)]
    found = record_changes(position, rows, stored, planned, now)
    link(orders, planned, placed)
    found.orders, found.unplaced = failures, {order.pk for order in placed.unplaced}
    return found


def installations_of(
    interval: ServiceInterval, context: PositionContext, rows: Sequence[Installation]
) -> list[PlannedInstallation]:
    by_pk = {row.pk: row for row in rows}
    opens = interval.opens
    planned = [PlannedInstallation(interval.rows[0]) if opens is None else begin(opens, None, context, by_pk)]
    for failure in interval.failures:
        planned[-1].ended_for = failure
        planned.append(begin(failure, planned[-1].unit, context, by_pk))
        close(planned[-2].unit, reported_removal(failure, planned[-2].unit, context))
    close(planned[-1].unit, recorded_removal(interval, planned[-1].unit, context))
    return planned


def begin(
    order: WorkOrder, before: Installation | None, context: PositionContext, by_pk: dict[int, Installation]
) -> PlannedInstallation:
    """The installation that the job began: of the used part that fits, else of the same part again."""
    unit = by_pk.get(order.begun_id or 0) or Installation(position=context.position)
    item = item_fitted(order, before, context)
    why = "installed_by_order"
    if item is not None:
        unit.item, unit.specification = item, item.specification
    elif before is not None:
        unit.item, unit.specification = before.item, before.specification
        why = "installed_by_order_item_not_named"
    if unit.item is not None and (order.pk, unit.item.merged_into_id) in context.issues:
        # The order names an old number; the piece was issued under the one that goes on.
        unit.item = unit.item.merged_into
    unit.installed_at = moment_of(order)
    unit.installed_why = recorded_text(why, order=order.external_id)
    entry = context.issues.get((order.pk, unit.item.pk)) if unit.item is not None else None
    unit.stock_entry = entry
    return PlannedInstallation(unit, begun_for=order)


def item_fitted(order: WorkOrder, before: Installation | None, context: PositionContext) -> Item | None:
    net: dict[str, int] = {}
    for line in order.parts_used:
        net[line["item"]] = net.get(line["item"], 0) + int(line["quantity"])
    used = [context.items[number] for number, pieces in sorted(net.items()) if pieces > 0]
    same = None if before is None else before.item
    if same in used:
        return same
    fitting = [item for item in used if may_be_fitted(item, context.position)]
    alike = [
        item for item in fitting if item.specification and item.specification.teeth == context.position.teeth
    ]
    return next(iter(alike or fitting), None)


def may_be_fitted(item: Item, position: Position) -> bool:
    """A sprocket for the chain of the drive; not a bush, a key or a length of chain."""
    part = item.specification
    if part is None or part.kind != PartKind.SPROCKET:
        return False
    chain = position.drive.chain_designation
    return not chain or not part.chain_designation or part.chain_designation == chain


def reported_removal(order: WorkOrder, unit: Installation, context: PositionContext) -> Removal:
    is_unmapped = "ended_by" in order.unread_codes
    ended_by = order.ended_by or (EndedBy.UNKNOWN if is_unmapped else EndedBy.FAILURE)
    hours = order.running_hours
    if hours is None:
        hours = metered_hours(context.readings, unit.installed_at, moment_of(order))
    basis = str(AgeBasis.METER)
    if hours is None:
        hours, basis = age_by_calendar(
            context.position.drive.hours_per_year, unit.installed_at, moment_of(order)
        )
    return {
        "removed_at": moment_of(order),
        "ended_by": str(ended_by),
        "mechanism": order.mechanism,
        "cause": order.cause,
        "part": order.part,
        "work_order": order.external_id,
        "running_hours": hours,
        "age_basis": basis,
    }


def recorded_removal(interval: ServiceInterval, unit: Installation, context: PositionContext) -> Removal:
    """The end that a person recorded; hours by calendar are calculated again from the present beginning."""
    end, per_year = interval.end, context.position.drive.hours_per_year
    if end is None:
        return NOT_REMOVED
    if end["age_basis"] != AgeBasis.CALENDAR or per_year is None or interval.ended_from is None:
        return end
    if end["running_hours"] != calendar_hours(interval.ended_from, end["removed_at"], per_year):
        return end
    return {**end, "running_hours": calendar_hours(unit.installed_at, end["removed_at"], per_year)}


def close(unit: Installation, end: Removal) -> None:
    for name, value in end.items():
        setattr(unit, name, value)


def record_changes(
    position: Position,
    rows: Sequence[Installation],
    stored: dict[int, dict[str, Any]],
    planned: Sequence[PlannedInstallation],
    now: datetime,
) -> PositionChanges:
    """Write what differs from the `stored` values; gives which ended, began or were restored."""
    kept = {one.unit.pk for one in planned if one.unit.pk}
    dropped = [row for row in rows if row.pk not in kept]
    changed = [one.unit for one in planned if one.unit.pk and values_of(one.unit) != stored[one.unit.pk]]
    begun = [one.unit for one in planned if not one.unit.pk]
    found = PositionChanges(position, begun=list(begun))
    for unit in [*changed, *begun]:
        before = stored.get(unit.pk, {})
        if unit.removed_at is not None and any(before.get(f) != getattr(unit, f) for f in history.END_FIELDS):
            found.ended.append(unit)
        elif unit.removed_at is None and before.get("removed_at") is not None:
            found.restored.append(unit)
    if dropped or changed or begun:
        history.correct_installations(position, dropped=dropped, changed=changed, begun=begun, at=now)
        renewed = [unit for unit in changed if _is_another_part(unit, stored[unit.pk])]
        RecordedVerdict.objects.filter(installation__in=renewed).delete()
        by_order = {one.unit: one.begun_for.source for one in planned if one.begun_for is not None}
        for unit in [*renewed, *begun]:
            keep_unit_verdicts([unit], by_order.get(unit, ""))
    return found


def _is_another_part(unit: Installation, before: dict[str, Any]) -> bool:
    return any(getattr(unit, name) != before[name] for name in ("item_id", "specification_id"))


def values_of(unit: Installation) -> dict[str, Any]:
    return {name: getattr(unit, name) for name in INSTALLATION_FIELDS}


def link(orders: Iterable[WorkOrder], planned: Iterable[PlannedInstallation], placed: PlacedFailures) -> None:
    """Link each order to the installation that it ended and the one that it began."""
    ended = {one.ended_for.pk: one.unit.pk for one in planned if one.ended_for is not None}
    ended |= {number: unit.pk for number, unit in placed.adopted.items()}
    begun = {one.begun_for.pk: one.unit.pk for one in planned if one.begun_for is not None}
    for order in orders:
        wanted = ended.get(order.pk), begun.get(order.pk)
        if (order.ended_id, order.begun_id) != wanted:
            order.ended_id, order.begun_id = wanted
            WorkOrder.objects.filter(pk=order.pk).update(ended=wanted[0], begun=wanted[1])


def items_used(failures: Iterable[WorkOrder]) -> dict[str, Item]:
    numbers = sorted({line["item"] for order in failures for line in order.parts_used})
    found = Item.objects.filter(stock_number__in=numbers).select_related("specification", "merged_into")
    return {item.stock_number: item for item in found}
