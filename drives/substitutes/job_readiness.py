"""Whether the parts of a job will be there when it begins, line by line, and by when what is missing has to be ordered."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Any

from django.db.models import Sum

from drives.models import Position, WorkOrder
from drives.substitutes.next_best import next_best
from inventory.models import Item, MovementKind, Reservation, StockEntry, StockLevel, Storeroom, SupplyOrder
from inventory.stores.lead_times import LeadTime, lead_times

STAGING_DAYS = 1
"""Parts stand together the day before the job: start value, no source."""


TAKEN_AND_BROUGHT_BACK = (MovementKind.ISSUE, MovementKind.RETURN)


class LineState(StrEnum):
    READY = "ready"
    SUBSTITUTE = "substitute"
    ON_ORDER = "on_order"
    SHORT = "short"


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadyLine:
    """`issued` has gone to this job, `held` is reserved for it, `free` may be had besides.

    `order_by` is known where a lead time and a date are.
    """

    item: str
    quantity: int
    state: LineState
    issued: int = 0
    held: int = 0
    free: int = 0
    missing: int = 0
    due_on: date | None = None
    order_by: date | None = None
    is_late: bool = False
    substitutes: tuple[str, ...] = ()
    sentence: str = ""


@dataclass(frozen=True, slots=True)
class JobReadiness:
    """The job is ready when every line is; the earliest date by which something has to be ordered."""

    lines: tuple[ReadyLine, ...]
    needed_by: date | None
    order_by: date | None

    @property
    def is_ready(self) -> bool:
        return all(line.state is LineState.READY for line in self.lines)


def readiness(work_order: WorkOrder, *, at: datetime) -> JobReadiness:
    """What a job needs against what is held for it, free, on order or replaceable, in its plant's storeroom."""
    room = _storeroom_of(work_order)
    needs = _needs(work_order.parts_needed)
    items = {item.stock_number: item for item in Item.objects.filter(stock_number__in=needs)}
    seen = _Seen.load(items.values(), work_order.external_id, room, at)
    lines = tuple(
        _line(work_order, number, quantity, items.get(number), seen, at) for number, quantity in needs.items()
    )
    dates = [line.order_by for line in lines if line.order_by is not None and line.missing]
    return JobReadiness(lines, work_order.needed_by, min(dates, default=None))


def order_by(needed_by: date | None, lead_time: LeadTime | None) -> date | None:
    """needed_by less the staging day, less the lead time that 19 of 20 deliveries keep."""
    if needed_by is None or lead_time is None:
        return None
    days = STAGING_DAYS + math.ceil(lead_time.late_days)
    return needed_by - timedelta(days=days) if days < needed_by.toordinal() else date.min


@dataclass(frozen=True, slots=True)
class _Seen:
    """Read once for all lines."""

    room: Storeroom | None
    issued: Mapping[int, int]
    held: Mapping[int, int]
    free: Mapping[int, int]
    orders: Mapping[int, list[SupplyOrder]]
    lead_times: Any

    @classmethod
    def load(cls, items: Any, job: str, room: Storeroom | None, at: datetime) -> "_Seen":
        ids = [item.pk for item in items]
        levels = StockLevel.objects.available().filter(item__in=ids)
        holds = Reservation.objects.open().of_work_order(job).filter(item__in=ids)
        coming = SupplyOrder.objects.open().filter(item__in=ids)
        if room is not None:
            levels, coming = levels.filter(storeroom=room), coming.filter(storeroom=room)
        orders: dict[int, list[SupplyOrder]] = {}
        for order in coming.order_by("promised_on", "ordered_at", "pk"):
            orders.setdefault(order.item_id, []).append(order)
        free = levels.with_available().order_by().values("item").annotate(total=Sum("free"))
        own = holds.order_by().values("item").annotate(total=Sum("open_quantity"))
        gone = StockEntry.objects.of_work_order(job).filter(item__in=ids, kind__in=TAKEN_AND_BROUGHT_BACK)
        issued = gone.order_by().values("item").annotate(total=Sum("change"))
        return cls(
            room,
            {row["item"]: max(-row["total"], 0) for row in issued},
            {row["item"]: row["total"] for row in own},
            {row["item"]: row["total"] for row in free},
            orders,
            lead_times(at),
        )


def _storeroom_of(work_order: WorkOrder) -> Storeroom | None:
    place, equipment = work_order.position, work_order.equipment
    if place is not None:
        equipment = place.drive.equipment
    return equipment.area.plant.storeroom if equipment is not None else None


def _needs(parts_needed: Any) -> dict[str, int]:
    """Pieces of each item; what is asked for twice is asked for together."""
    needs: dict[str, int] = {}
    for part in parts_needed or ():
        number = str(part.get("item") or "")
        needs[number] = needs.get(number, 0) + int(part.get("quantity") or 1)
    needs.pop("", None)
    return needs


def _line(
    work_order: WorkOrder, number: str, quantity: int, item: Item | None, seen: _Seen, at: datetime
) -> ReadyLine:
    if item is None:
        return ReadyLine(
            item=number,
            quantity=quantity,
            state=LineState.SHORT,
            missing=quantity,
            sentence="No item of that number is known.",
        )
    issued = min(seen.issued.get(item.pk, 0), quantity)
    held = min(seen.held.get(item.pk, 0), quantity - issued)
    free = seen.free.get(item.pk, 0)
    loose = quantity - issued - held
    missing = max(loose - free, 0)
    told: dict[str, Any] = {
        "item": number,
        "quantity": quantity,
        "issued": issued,
        "held": held,
        "free": free,
        "missing": missing,
    }
    if not missing:
        words = f"{loose} free, not held for it yet." if loose else "Issued to this job or held for it."
        return ReadyLine(**told, state=LineState.READY, sentence=words)
    return _lacking(work_order, item, told, seen, at)


def _lacking(work_order: WorkOrder, item: Item, told: dict[str, Any], seen: _Seen, at: datetime) -> ReadyLine:
    missing = told["missing"]
    lead_time = seen.lead_times.of(item.pk, seen.room.pk) if seen.room is not None else None
    by = order_by(work_order.needed_by, lead_time)
    told["order_by"] = by
    due = _covered_on(seen.orders.get(item.pk, []), missing)
    in_time = due is not None and (work_order.needed_by is None or due < work_order.needed_by)
    if due is not None and in_time:
        return ReadyLine(**told, state=LineState.ON_ORDER, due_on=due, sentence=f"On order until {due}.")
    others = _substitutes(item, work_order.position, seen.room, missing, at)
    is_late = by is not None and by < at.date()
    if others:
        words = f"{missing} missing; {', '.join(others)} could serve."
        return ReadyLine(
            **told,
            state=LineState.SUBSTITUTE,
            due_on=due,
            is_late=is_late,
            substitutes=others,
            sentence=words,
        )
    words = f"On order until {due}: too late." if due is not None else f"{missing} missing and not on order."
    return ReadyLine(**told, state=LineState.SHORT, due_on=due, is_late=is_late, sentence=words)


def _covered_on(orders: list[SupplyOrder], missing: int) -> date | None:
    """When the open orders have brought what is missing; None where they do not, or nobody promised a day."""
    for order in orders:
        if order.promised_on is None:
            continue
        missing -= order.outstanding
        if missing <= 0:
            return order.promised_on
    return None


def _substitutes(
    item: Item, position: Position | None, room: Storeroom | None, missing: int, at: datetime
) -> tuple[str, ...]:
    if room is None:
        return ()
    offers = [offer for offer in next_best(item, position, here=room, at=at) if offer.candidate.item != item]
    return tuple(
        offer.candidate.item.stock_number for offer in offers if offer.candidate.available >= missing
    )
