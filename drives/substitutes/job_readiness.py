"""Whether the parts of a job will be there when it begins, and by when the missing ones must be ordered."""

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from enum import StrEnum

from django.utils import timezone

from drives.models import NeededPart, WorkOrder
from drives.substitutes.job_promises import (
    ItemPromises,
    JobPromise,
    JobSupply,
    StockSource,
    lines_served,
    without_lines,
)
from drives.substitutes.job_stock import promises_of
from drives.substitutes.line_substitutes import substitutes_of_jobs
from inventory.facts import Fact, fact
from inventory.models import Item
from inventory.planning.terms import Terms, load_terms
from inventory.stores import order_dates
from inventory.stores.lead_times import LeadTime, LeadTimes, lead_times_of

MOST_SUBSTITUTES = 5
MOST_PIECES_NAMED = 5


class JobLineState(StrEnum):
    READY = "ready"
    TRANSFER = "transfer"
    """There, and to be brought from another storeroom."""
    SUBSTITUTE = "substitute"
    ON_ORDER = "on_order"
    SHORT = "short"


THERE = (JobLineState.READY, JobLineState.TRANSFER)


@dataclass(frozen=True, slots=True, kw_only=True)
class JobLine:
    """`issued` has gone to this job, `reserved` is kept for it, `available` is promised to it besides, from `sources`.

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
    sources: tuple[StockSource, ...] = ()
    in_the_way: tuple[Fact, ...] = ()
    substitutes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class JobReadiness:
    """The job is ready when every line is there; the earliest date by which something has to be ordered."""

    lines: tuple[JobLine, ...]
    needed_by: date | None
    order_by: date | None
    staging_days: int

    @property
    def is_ready(self) -> bool:
        return all(line.state in THERE for line in self.lines)


def readiness(work_order: WorkOrder, *, at: datetime) -> JobReadiness:
    """What a job needs against what is issued, reserved, free in any storeroom, on order or replaceable.

    Of the other jobs those count that share an item with it. The number of queries does not depend on how many they are.
    """
    return readiness_of([work_order], at=at)[work_order.pk]


def readiness_of(jobs: Sequence[WorkOrder], *, at: datetime) -> dict[int, JobReadiness]:
    """By job; what there is, and what could serve, is read once for all of them.

    One query more for each job that lacks sprockets, and two for each storeroom whose lead times are asked for.
    """
    needed: dict[int, Counter[str]] = {job.pk: Counter() for job in jobs}
    rows = NeededPart.objects.filter(work_order__in=jobs).order_by("pk")
    for job_id, number, quantity in rows.values_list("work_order_id", "stock_number", "quantity"):
        needed[job_id][number] += quantity
    numbers = {number for counts in needed.values() for number in counts}
    found = Item.objects.with_specification().filter(stock_number__in=numbers)
    items = {item.stock_number: item for item in found.order_by("pk")}
    stocks = _load_stocks(
        jobs, {pk: [items[one] for one in counts if one in items] for pk, counts in needed.items()}, at
    )
    ready = {}
    for job in jobs:
        stock = stocks[job.pk]
        lines = [
            stock.line(items[number]) if number in items else _unknown(number, quantity)
            for number, quantity in needed[job.pk].items()
        ]
        dates = [line.order_by for line in lines if line.order_by is not None and line.missing]
        first = min(dates, default=None)
        ready[job.pk] = JobReadiness(tuple(lines), job.needed_by, first, stock.terms.staging_days)
    return ready


def order_by(needed_by: date | None, lead_time: LeadTime | None, *, staging_days: int) -> date | None:
    """needed_by less the staging days, less the lead time that 19 of 20 deliveries keep in whole days."""
    if needed_by is None or lead_time is None:
        return None
    return order_dates.order_by(needed_by, staging_days + lead_time.late_days)


def _unknown(number: str, quantity: int) -> JobLine:
    reason, state = fact("item_number_not_known"), JobLineState.SHORT
    return JobLine(item=number, quantity=quantity, state=state, missing=quantity, reason=reason)


@dataclass(frozen=True, kw_only=True)
class _JobStock:
    """What one job gets of each of its items, and what could serve in place of what it lacks."""

    job: WorkOrder
    terms: Terms
    promises: Mapping[int, ItemPromises]
    others: Mapping[int, list[Item]]
    """By item that is missing, what fits in its place, best first."""
    left: dict[int, JobSupply] = field(default_factory=dict)
    """Of these, what no job gets; less with every line that they serve."""
    lead_times: LeadTimes | None
    at: datetime

    def line(self, item: Item) -> JobLine:
        promise = self.promises[item.pk].by_job[self.job.pk]
        line = _line(item, promise)
        return self._missing(item, promise, line) if promise.short else line

    def _missing(self, item: Item, promise: JobPromise, line: JobLine) -> JobLine:
        terms, needed_by = self.terms, self.job.needed_by
        room, known = _room_of(self.job), self.lead_times
        lead_time = known.of(item.pk, room) if known is not None and room is not None else None
        latest = order_by(needed_by, lead_time, staging_days=terms.staging_days)
        line = replace(line, order_by=latest, due_on=promise.due_on)
        if _comes_in_time(promise.due_on, needed_by, terms.staging_days):
            reason = fact("on_order_in_time", due_on=str(promise.due_on))
            return replace(line, state=JobLineState.ON_ORDER, reason=reason)
        line = replace(line, is_late=latest is not None and latest < timezone.localdate(self.at))
        others = self._substitutes(item, promise)
        if others:
            reason = fact("missing_with_substitutes", missing=line.missing, substitutes=others)
            return replace(line, state=JobLineState.SUBSTITUTE, substitutes=others, reason=reason)
        return replace(line, reason=self._why_short(item, promise))

    def _why_short(self, item: Item, promise: JobPromise) -> Fact:
        if promise.due_on is not None:
            return fact("on_order_too_late", due_on=promise.due_on.isoformat())
        shelves = self.promises[item.pk].left.shelves
        pieces = sorted((links for shelf in shelves for links in shelf.piece_links), reverse=True)
        if sum(pieces) >= max(promise.short):
            return fact(
                "no_piece_for_chain_job",
                links=max(promise.short),
                piece_links=tuple(pieces[:MOST_PIECES_NAMED]),
                joints=self.terms.chain_joints,
            )
        return fact("missing_and_not_on_order", missing=promise.missing)

    def _substitutes(self, item: Item, promise: JobPromise) -> tuple[str, ...]:
        """What is left of other parts after every job that needs these, and after jobs with an earlier right to them."""
        joints = self.terms.chain_joints
        before = self.promises[item.pk].shortages_before(promise.claim)
        serving = [
            other
            for other in self.others.get(item.pk, ())
            if lines_served(
                self.left[other.pk], promise.claim, (*before, *promise.short), chain_joints=joints
            )
        ]
        if serving:
            first = serving[0].pk
            self.left[first] = without_lines(
                self.left[first], promise.claim, promise.short, chain_joints=joints
            )
        return tuple(other.stock_number for other in serving[:MOST_SUBSTITUTES])


def _load_stocks(
    jobs: Sequence[WorkOrder], items: Mapping[int, Sequence[Item]], at: datetime
) -> dict[int, _JobStock]:
    """By job; `items` are those that it needs."""
    terms = load_terms()
    every = {item.pk: item for many in items.values() for item in many}
    promises = promises_of(every.values(), chain_joints=terms.chain_joints, jobs=jobs)
    short = {
        job.pk: [item for item in items[job.pk] if promises[item.pk].by_job[job.pk].short] for job in jobs
    }
    others = substitutes_of_jobs([(job, short[job.pk]) for job in jobs])
    serving = {item.pk: item for by_item in others.values() for many in by_item.values() for item in many}
    left = promises_of(serving.values(), chain_joints=terms.chain_joints, jobs=jobs) if serving else {}
    lacking: dict[int, set[int]] = defaultdict(set)
    for job in jobs:
        if (room := _room_of(job)) is not None:
            lacking[room].update(item.pk for item in short[job.pk])
    lead_times = {room: lead_times_of(sorted(ids), room, at) for room, ids in lacking.items() if ids}
    return {
        job.pk: _JobStock(
            job=job,
            terms=terms,
            promises=promises,
            others=others[job.pk],
            left={pk: one.left for pk, one in left.items()},
            lead_times=lead_times.get(_room_of(job) or 0),
            at=at,
        )
        for job in jobs
    }


def _room_of(job: WorkOrder) -> int | None:
    return job.plant.storeroom_id if job.plant else None


def _line(item: Item, promise: JobPromise) -> JobLine:
    claim = promise.claim
    issued = min(claim.issued, claim.quantity)
    reserved = min(claim.reserved, claim.quantity - issued)
    available = max(claim.quantity - issued - reserved - promise.missing, 0)
    line = JobLine(
        item=item.stock_number,
        quantity=claim.quantity,
        issued=issued,
        reserved=reserved,
        available=available,
        missing=promise.missing,
        sources=promise.sources,
        in_the_way=promise.in_the_way,
        state=JobLineState.SHORT,
        reason=fact("issued_or_reserved"),
    )
    if promise.short:
        return line
    if promise.is_brought:
        return replace(line, state=JobLineState.TRANSFER, reason=_brought(promise))
    reason = fact("available_but_not_reserved", quantity=available) if available else line.reason
    return replace(line, state=JobLineState.READY, reason=reason)


def _brought(promise: JobPromise) -> Fact:
    sources = tuple(
        fact("source_storeroom", quantity=one.quantity, storeroom=one.storeroom, minutes=one.minutes)
        for one in promise.sources
        if one.minutes
    )
    return fact("available_in_other_storerooms", sources=sources)


def _comes_in_time(due: date | None, needed_by: date | None, staging_days: int) -> bool:
    return due is not None and (needed_by is None or due + timedelta(days=staging_days) <= needed_by)
