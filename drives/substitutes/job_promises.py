"""Each free piece promised to one job: the job with the earliest date has the first right. No query."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from math import ceil

from inventory.facts import Fact, fact
from inventory.stocking.chain_pieces import ChainCut, ChainJob, CutPlan, cut_jobs

MINUTES_A_DAY = 24 * 60


@dataclass(frozen=True, slots=True, kw_only=True)
class JobClaim:
    """What one open job needs of one item, line by line. `room_id` is the storeroom that serves its plant."""

    job_id: int
    work_order: str
    needed_by: date | None
    room_id: int | None
    lines: tuple[int, ...]
    issued: int = 0
    reserved: int = 0
    reserved_in: frozenset[int] = frozenset()
    is_visible: bool = True
    """Whether whoever asks may know of this job."""

    @property
    def quantity(self) -> int:
        return sum(self.lines)

    @property
    def order(self) -> tuple[object, ...]:
        """By date; a job without a date comes last."""
        return (self.needed_by is None, self.needed_by or date.min, self.job_id)


@dataclass(frozen=True, slots=True)
class FreeStock:
    """Of one item in one storeroom: what may be issued and is not reserved; of chain, all its pieces."""

    room_id: int
    room: str
    quantity: int
    piece_links: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class ReservedStock:
    room_id: int
    room: str
    work_order: str
    quantity: int


@dataclass(frozen=True, slots=True)
class IncomingStock:
    room_id: int
    due_on: date
    quantity: int


@dataclass(frozen=True, kw_only=True)
class JobSupply:
    """All that there is of one item, and how long it takes to bring it from one storeroom to another."""

    is_chain: bool
    shelves: tuple[FreeStock, ...] = ()
    reservations: tuple[ReservedStock, ...] = ()
    incoming: tuple[IncomingStock, ...] = ()
    minutes: Mapping[tuple[int, int], int] = field(default_factory=dict)
    """By the storerooms from and to."""

    def minutes_to(self, claim: JobClaim, room_id: int) -> int | None:
        """None where the transfer time is not recorded; a job without a storeroom of its own has everything at hand."""
        if claim.room_id is None or claim.room_id == room_id:
            return 0
        return self.minutes.get((room_id, claim.room_id))


@dataclass(frozen=True, slots=True, kw_only=True)
class StockSource:
    """Pieces for a job from one storeroom; of chain, the links cut from one piece. `minutes` to the job's own storeroom."""

    storeroom: str
    quantity: int
    minutes: int
    piece_links: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class JobPromise:
    """What one job gets of one item. `short` has the lines, or what is missing of them, that nothing serves."""

    claim: JobClaim
    sources: tuple[StockSource, ...] = ()
    short: tuple[int, ...] = ()
    due_on: date | None = None
    """When open orders have brought what is missing."""
    in_the_way: tuple[Fact, ...] = ()

    @property
    def missing(self) -> int:
        return sum(self.short)

    @property
    def is_ready(self) -> bool:
        return not self.short

    @property
    def is_brought(self) -> bool:
        return any(source.minutes for source in self.sources)


@dataclass(frozen=True)
class ItemPromises:
    """By job; and what is left on the shelves after all of them."""

    by_job: Mapping[int, JobPromise]
    left: JobSupply

    def shortages_before(self, claim: JobClaim) -> tuple[int, ...]:
        """What jobs with an earlier right lack of the same item."""
        earlier = (one for one in self.by_job.values() if one.claim.order < claim.order)
        return tuple(short for one in earlier for short in one.short)


def promise_item(claims: Iterable[JobClaim], supply: JobSupply, *, chain_joints: int = 0) -> ItemPromises:
    """What each job gets: what is reserved for it, then what is free in its own storeroom, then in the nearest."""
    ordered = sorted(claims, key=lambda claim: claim.order)
    promised, left = (
        _promise_chain(ordered, supply, chain_joints) if supply.is_chain else _promise_pieces(ordered, supply)
    )
    promised = _with_orders(promised, supply)
    return ItemPromises({one.claim.job_id: one for one in _with_what_is_in_the_way(promised, supply)}, left)


def lines_served(left: JobSupply, claim: JobClaim, lines: Sequence[int], *, chain_joints: int = 0) -> bool:
    """Whether what is left serves all these lines at the place of one job."""
    promises = promise_item(
        [replace(claim, lines=tuple(lines), issued=0, reserved=0)], left, chain_joints=chain_joints
    )
    return promises.by_job[claim.job_id].is_ready


def without_lines(
    left: JobSupply, claim: JobClaim, lines: Sequence[int], *, chain_joints: int = 0
) -> JobSupply:
    return promise_item(
        [replace(claim, lines=tuple(lines), issued=0, reserved=0)], left, chain_joints=chain_joints
    ).left


def _promise_pieces(claims: Sequence[JobClaim], supply: JobSupply) -> tuple[list[JobPromise], JobSupply]:
    free = {shelf.room_id: shelf.quantity for shelf in supply.shelves}
    found = []
    for claim in claims:
        missing = max(claim.quantity - claim.issued - claim.reserved, 0)
        sources = []
        for minutes, shelf in _nearest(claim, supply):
            taken = min(missing, free[shelf.room_id])
            if taken:
                free[shelf.room_id] -= taken
                missing -= taken
                sources.append(StockSource(storeroom=shelf.room, quantity=taken, minutes=minutes))
        short = (missing,) if missing else ()
        found.append(JobPromise(claim=claim, sources=tuple(sources), short=short))
    shelves = tuple(replace(shelf, quantity=free[shelf.room_id]) for shelf in supply.shelves)
    return found, replace(supply, shelves=shelves)


def _nearest(claim: JobClaim, supply: JobSupply) -> list[tuple[int, FreeStock]]:
    reached = ((supply.minutes_to(claim, shelf.room_id), shelf) for shelf in supply.shelves)
    known = [(minutes, shelf) for minutes, shelf in reached if minutes is not None]
    return sorted(known, key=lambda found: (found[0], found[1].room))


@dataclass(frozen=True, slots=True)
class _ChainPiece:
    shelf: FreeStock
    links: int


def _promise_chain(
    claims: Sequence[JobClaim], supply: JobSupply, joints: int
) -> tuple[list[JobPromise], JobSupply]:
    """What is reserved is cut first, then the lines of the jobs by date: a line is a chain, and is cut whole."""
    bench = _ChainBench(claims, supply, joints)
    jobs = bench.jobs(held={})
    plan = cut_jobs(bench.lengths, [job for _, job in jobs])
    held = bench.held_beside(jobs, plan)
    if held:
        jobs = bench.jobs(held=held)
        plan = cut_jobs(bench.lengths, [job for _, job in jobs])
    return [bench.promise(claim, jobs, plan) for claim in claims], _chain_left(
        supply, bench.pieces, plan.left
    )


ChainJobs = list[tuple[int | None, ChainJob]]
"""Each with the id of the job that it is for; None for what is only held back."""


class _ChainBench:
    """The pieces of all storerooms, and the chains to be cut from them."""

    def __init__(self, claims: Sequence[JobClaim], supply: JobSupply, joints: int) -> None:
        self.claims, self.supply, self.joints = claims, supply, joints
        self.pieces = [_ChainPiece(shelf, links) for shelf in supply.shelves for links in shelf.piece_links]
        self.lengths = [piece.links for piece in self.pieces]
        self.lines = {claim.job_id: _lines_left(claim) for claim in claims}

    def jobs(self, *, held: Mapping[int, int]) -> ChainJobs:
        """Reserved chain first: of other work, then of these jobs with what is held for them beside their lines."""
        found: ChainJobs = [(None, self._held(one)) for one in _reserved_for_others(self.claims, self.supply)]
        for claim in sorted(self.claims, key=lambda claim: not claim.reserved):
            found += [(claim.job_id, self._line(claim, links)) for links in self.lines[claim.job_id]]
            if claim.job_id in held:
                rooms = tuple(
                    0.0 if piece.shelf.room_id in claim.reserved_in else None for piece in self.pieces
                )
                found.append((None, ChainJob(held[claim.job_id], joints=len(self.pieces), ranks=rooms)))
        return found

    def held_beside(self, jobs: ChainJobs, plan: CutPlan) -> dict[int, int]:
        """Links that are reserved for a job and in none of its cuts: nobody else gets them."""
        cut: dict[int, int] = defaultdict(int)
        for (job_id, job), cuts in zip(jobs, plan.cuts, strict=True):
            if job_id is not None and cuts is not None:
                cut[job_id] += job.links
        beside = {claim.job_id: claim.reserved - cut[claim.job_id] for claim in self.claims}
        return {job_id: links for job_id, links in beside.items() if links > 0}

    def promise(self, claim: JobClaim, jobs: ChainJobs, plan: CutPlan) -> JobPromise:
        own = [
            (job.links, cuts) for (pk, job), cuts in zip(jobs, plan.cuts, strict=True) if pk == claim.job_id
        ]
        sources = [self._source(claim, cut) for _, cuts in own for cut in cuts or ()]
        short = tuple(links for links, cuts in own if cuts is None)
        return JobPromise(claim=claim, sources=tuple(sources), short=short)

    def _held(self, reserved: ReservedStock) -> ChainJob:
        ranks = tuple(0.0 if piece.shelf.room_id == reserved.room_id else None for piece in self.pieces)
        return ChainJob(reserved.quantity, joints=len(self.pieces), ranks=ranks)

    def _line(self, claim: JobClaim, links: int) -> ChainJob:
        """From where it is reserved before anywhere else, then from the nearest storeroom."""
        ranks = tuple(
            -1.0
            if piece.shelf.room_id in claim.reserved_in
            else self.supply.minutes_to(claim, piece.shelf.room_id)
            for piece in self.pieces
        )
        return ChainJob(links, joints=self.joints, ranks=ranks)

    def _source(self, claim: JobClaim, cut: ChainCut) -> StockSource:
        shelf = self.pieces[cut.piece].shelf
        minutes = self.supply.minutes_to(claim, shelf.room_id) or 0
        return StockSource(
            storeroom=shelf.room, quantity=cut.links, minutes=minutes, piece_links=cut.piece_links
        )


def _lines_left(claim: JobClaim) -> list[int]:
    """The lines of a job that are not issued yet, the longest first; a chain that was issued in part is not there."""
    issued, left = claim.issued, []
    for links in sorted(claim.lines, reverse=True):
        if issued >= links:
            issued -= links
        else:
            left.append(links)
    return left


def _reserved_for_others(claims: Sequence[JobClaim], supply: JobSupply) -> list[ReservedStock]:
    known = {claim.work_order for claim in claims}
    return [one for one in supply.reservations if one.work_order not in known]


def _chain_left(supply: JobSupply, pieces: Sequence[_ChainPiece], left: Sequence[int]) -> JobSupply:
    """All that was reserved is cut off, so nothing is reserved of what is left."""
    by_room: dict[int, list[int]] = defaultdict(list)
    for piece, links in zip(pieces, left, strict=True):
        by_room[piece.shelf.room_id] += [links] if links else []
    shelves = tuple(
        replace(shelf, quantity=sum(by_room[shelf.room_id]), piece_links=tuple(by_room[shelf.room_id]))
        for shelf in supply.shelves
    )
    return replace(supply, shelves=shelves, reservations=())


def _with_orders(promises: Sequence[JobPromise], supply: JobSupply) -> list[JobPromise]:
    """Each piece on order is promised once too; an order that brings too little covers nothing."""
    incoming = sorted(supply.incoming, key=lambda one: one.due_on)
    left = [one.quantity for one in incoming]
    found = []
    for promise in promises:
        missing, days = promise.missing, []
        for number, one in enumerate(incoming):
            minutes = supply.minutes_to(promise.claim, one.room_id)
            taken = 0 if minutes is None else min(missing, left[number])
            if taken and minutes is not None:
                left[number], missing = left[number] - taken, missing - taken
                days.append(one.due_on + timedelta(days=ceil(minutes / MINUTES_A_DAY)))
        found.append(replace(promise, due_on=None if missing else max(days, default=None)))
    return found


def _with_what_is_in_the_way(promises: Sequence[JobPromise], supply: JobSupply) -> Iterable[JobPromise]:
    """For a job that lacks something: what other work has reserved, and what goes to jobs with an earlier right."""
    earlier: list[JobPromise] = []
    for promise in promises:
        if promise.short:
            claim = promise.claim
            reserved = [
                _reserved_fact(one) for one in supply.reservations if one.work_order != claim.work_order
            ]
            gone = [_promised_fact(one) for one in earlier if one.sources]
            far = [
                fact("transfer_time_not_recorded", storeroom=shelf.room, quantity=shelf.quantity)
                for shelf in supply.shelves
                if shelf.quantity and supply.minutes_to(claim, shelf.room_id) is None
            ]
            promise = replace(promise, in_the_way=(*reserved, *gone, *far))
        earlier.append(promise)
        yield promise


def _reserved_fact(one: ReservedStock) -> Fact:
    return fact("reserved_in_storeroom", work_order=one.work_order, quantity=one.quantity, storeroom=one.room)


def _promised_fact(promise: JobPromise) -> Fact:
    quantity = sum(source.quantity for source in promise.sources)
    if not promise.claim.is_visible:
        return fact("promised_to_job_of_other_plant", quantity=quantity)
    day = promise.claim.needed_by
    return fact(
        "promised_to_earlier_job",
        work_order=promise.claim.work_order,
        quantity=quantity,
        needed_by=None if day is None else day.isoformat(),
    )
