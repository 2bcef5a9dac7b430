"""Whether the parts of a job will be there when it begins, and by when the missing ones must be ordered."""

import math
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import QuerySet, Sum

from drives.models import Position, WorkOrder
from drives.substitutes.offers import available_substitutes
from inventory.facts import Fact, fact
from inventory.models import Item, MovementKind, Reservation, StockEntry, StockLevel, Storeroom, SupplyOrder
from inventory.stores.lead_times import LeadTime, LeadTimes, lead_times

STAGING_DAYS = 1
"""Parts are staged the day before the job: start value, no source."""
ISSUES_AND_RETURNS = (MovementKind.ISSUE, MovementKind.RETURN)


class JobLineState(StrEnum):
    READY = "ready"
    SUBSTITUTE = "substitute"
    ON_ORDER = "on_order"
    SHORT = "short"


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """`issued` has gone to this job, `reserved` is kept for it, `available` may be issued besides.

    `order_by` is known where a lead time and a date are.
    """

    item: str
    quantity: int
    state: JobLineState
    reason: Fact
    issued: int = 0
    reserved: int = 0
    available: int = 0
    missing: int = 0
    due_on: date | None = None
    order_by: date | None = None
    is_late: bool = False
    substitutes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobReadiness:
    """The job is ready when every line is; the earliest date by which something has to be ordered."""

    lines: tuple[JobLine, ...]
    needed_by: date | None
    order_by: date | None

    @property
    def is_ready(self) -> bool:
        return all(line.state is JobLineState.READY for line in self.lines)


def readiness(work_order: WorkOrder, *, at: datetime) -> JobReadiness:
    """What a job needs against what is issued, reserved, available, on order or replaceable at its plant's storeroom."""
    needs = _needs(work_order.parts_needed)
    items = {item.stock_number: item for item in Item.objects.filter(stock_number__in=needs)}
    loaded = _JobStock.load(work_order, items.values(), at)
    lines = tuple(
        _line(work_order, number, quantity, items.get(number), loaded) for number, quantity in needs.items()
    )
    dates = [line.order_by for line in lines if line.order_by is not None and line.missing]
    return JobReadiness(lines, work_order.needed_by, min(dates, default=None))


def order_by(needed_by: date | None, lead_time: LeadTime | None) -> date | None:
    """needed_by less the staging day, less the lead time that 19 of 20 deliveries keep."""
    if needed_by is None or lead_time is None:
        return None
    days = STAGING_DAYS + math.ceil(lead_time.late_days)
    return needed_by - timedelta(days=days) if days < needed_by.toordinal() else date.min


@dataclass(frozen=True, slots=True, kw_only=True)
class _JobStock:
    """Loaded once for all lines of a job, by item."""

    room: Storeroom | None
    issued: Mapping[int, int]
    reserved: Mapping[int, int]
    available: Mapping[int, int]
    orders: Mapping[int, list[SupplyOrder]]
    lead_times: LeadTimes
    at: datetime

    @classmethod
    def load(cls, work_order: WorkOrder, items: Iterable[Item], at: datetime) -> "_JobStock":
        ids, job = [item.pk for item in items], work_order.external_id
        room = work_order.plant.storeroom if work_order.plant else None
        levels = StockLevel.objects.available().filter(item__in=ids)
        reserved = Reservation.objects.open().of_work_order(job).filter(item__in=ids)
        coming = SupplyOrder.objects.open().filter(item__in=ids)
        if room is not None:
            levels, coming = levels.filter(storeroom=room), coming.filter(storeroom=room)
        moved = StockEntry.objects.of_work_order(job).filter(item__in=ids, kind__in=ISSUES_AND_RETURNS)
        orders: dict[int, list[SupplyOrder]] = {}
        for order in coming.order_by("promised_on", "ordered_at", "pk"):
            orders.setdefault(order.item_id, []).append(order)
        return cls(
            room=room,
            issued={item: max(-change, 0) for item, change in _sums(moved, "change").items()},
            reserved=_sums(reserved, "open_quantity"),
            available=_sums(levels.with_available(), "free"),
            orders=orders,
            lead_times=lead_times(at),
            at=at,
        )


def _sums(rows: QuerySet[Any], column: str) -> dict[int, int]:
    return dict(rows.order_by().values_list("item").annotate(total=Sum(column)))


def _needs(parts_needed: Any) -> dict[str, int]:
    """Pieces of each item; several lines of one item are added up."""
    needs: Counter[str] = Counter()
    for part in parts_needed or ():
        needs[str(part.get("item") or "")] += int(part.get("quantity") or 1)
    del needs[""]
    return needs


def _line(work_order: WorkOrder, number: str, quantity: int, item: Item | None, loaded: _JobStock) -> JobLine:
    if item is None:
        reason, state = fact("item_number_not_known"), JobLineState.SHORT
        return JobLine(item=number, quantity=quantity, state=state, missing=quantity, reason=reason)
    issued = min(loaded.issued.get(item.pk, 0), quantity)
    reserved = min(loaded.reserved.get(item.pk, 0), quantity - issued)
    available = loaded.available.get(item.pk, 0)
    rest = quantity - issued - reserved
    line = JobLine(
        item=number,
        quantity=quantity,
        issued=issued,
        reserved=reserved,
        available=available,
        missing=max(rest - available, 0),
        state=JobLineState.READY,
        reason=fact("available_but_not_reserved", quantity=rest) if rest else fact("issued_or_reserved"),
    )
    return _missing_line(work_order, item, line, loaded) if line.missing else line


def _missing_line(work_order: WorkOrder, item: Item, line: JobLine, loaded: _JobStock) -> JobLine:
    lead_time = loaded.lead_times.of(item.pk, loaded.room.pk) if loaded.room is not None else None
    line = replace(line, order_by=order_by(work_order.needed_by, lead_time))
    due = _covered_on(loaded.orders.get(item.pk, []), line.missing)
    if due is not None and (work_order.needed_by is None or due < work_order.needed_by):
        reason = fact("on_order_in_time", due_on=due.isoformat())
        return replace(line, state=JobLineState.ON_ORDER, due_on=due, reason=reason)
    is_late = line.order_by is not None and line.order_by < loaded.at.date()
    line = replace(line, due_on=due, is_late=is_late)
    others = _substitutes(item, work_order.position, line.missing, loaded)
    if others:
        reason = fact("missing_with_substitutes", missing=line.missing, substitutes=others)
        return replace(line, state=JobLineState.SUBSTITUTE, substitutes=others, reason=reason)
    reason = fact("missing_and_not_on_order", missing=line.missing)
    if due is not None:
        reason = fact("on_order_too_late", due_on=due.isoformat())
    return replace(line, state=JobLineState.SHORT, reason=reason)


def _covered_on(orders: list[SupplyOrder], missing: int) -> date | None:
    """When the open orders have brought what is missing; None where they do not, or no date was promised."""
    for order in orders:
        if order.promised_on is None:
            continue
        missing -= order.outstanding
        if missing <= 0:
            return order.promised_on
    return None


def _substitutes(item: Item, position: Position | None, missing: int, loaded: _JobStock) -> tuple[str, ...]:
    if loaded.room is None:
        return ()
    offers = available_substitutes(item, position, here=loaded.room, at=loaded.at)
    candidates = [offer.candidate for offer in offers if offer.candidate.item != item]
    return tuple(one.item.stock_number for one in candidates if one.available >= missing)
