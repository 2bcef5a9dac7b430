"""What counts as demand: what was asked for, met or not, less what came back; each need once, whoever recorded it."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from drives.models import EndedBy, Installation, Position, Request
from inventory.models import MovementKind, ReasonCode, StockEntry

PLANNED_ENDS = frozenset(
    {EndedBy.PREVENTIVE, EndedBy.MODIFICATION, EndedBy.RELOCATED, EndedBy.DECOMMISSIONED}
)
"""Ends that somebody chose a date for. A mate renewed at the same stop was not planned: it is asked for with the failure."""

SAME_NEED = timedelta(days=7)
"""Records of one place closer than this are one need, where no work order says so."""


@dataclass(frozen=True, slots=True)
class Asking:
    """Pieces of one item asked for at one moment."""

    at: datetime
    item_id: int | None
    storeroom_id: int
    position_id: int | None
    quantity: int
    work_order: str
    is_planned: bool
    result: str
    source: str
    """`request`, `issue` (booked without a request) or `removal` (a unit renewed, no paper for the part)."""
    given_id: int | None = None
    """The item that was handed out."""

    @property
    def event(self) -> tuple[str, str]:
        """Lines of one work order are one event; without an order, those of one day and place."""
        if self.work_order:
            return ("work order", self.work_order)
        return ("day", f"{self.at:%Y-%m-%d} {self.position_id or self.item_id}")


@dataclass(frozen=True, slots=True)
class _End:
    position_id: int
    item_id: int | None
    at: datetime
    work_order: str
    ended_by: str
    storeroom_id: int | None


def askings(as_of: datetime) -> tuple[Asking, ...]:
    """Every asking up to a moment, in the order of time; five queries. The order of recording makes no difference."""
    ends = _ends(as_of)
    asked = _requests(as_of, ends)
    asked += _issues_without_request(as_of, asked, ends)
    asked += _removals_without_paper(asked, ends)
    return tuple(sorted(_less_returns(as_of, asked), key=_in_time))


def _in_time(asking: Asking) -> tuple[object, ...]:
    return (
        asking.at,
        asking.work_order,
        asking.item_id or 0,
        asking.position_id or 0,
        asking.storeroom_id,
        asking.source,
        asking.quantity,
        asking.result,
    )


def _ends(as_of: datetime) -> list[_End]:
    rows = Installation.objects.filter(removed_at__isnull=False, removed_at__lte=as_of).values_list(
        "position_id",
        "item_id",
        "removed_at",
        "work_order",
        "ended_by",
        "position__drive__equipment__area__plant__storeroom_id",
    )
    ends = [
        _End(position, item, at, order, ended_by, room)
        for position, item, at, order, ended_by, room in rows
        if at is not None
    ]
    return sorted(ends, key=lambda end: (end.at, end.position_id))


def _requests(as_of: datetime, ends: list[_End]) -> list[Asking]:
    planned = _Planned(ends)
    rows = Request.objects.standing().until(as_of).order_by("at")
    return [
        Asking(
            at=row.at,
            item_id=row.item_id,
            storeroom_id=row.storeroom_id,
            position_id=row.position_id,
            quantity=row.quantity,
            work_order=row.work_order,
            is_planned=planned.says(row.position_id, row.work_order, row.at)
            if row.is_planned is None
            else row.is_planned,
            result=row.result,
            source="request",
            given_id=row.issued_item_id,
        )
        for row in rows
    ]


class _Planned:
    """Whether the end of the unit, for which something was asked, had been planned."""

    def __init__(self, ends: Iterable[_End]) -> None:
        self._of_order: dict[tuple[int, str], _End] = {}
        self._of_place: dict[int, list[_End]] = defaultdict(list)
        for end in ends:
            self._of_place[end.position_id].append(end)
            if end.work_order:
                self._of_order[end.position_id, end.work_order] = end

    def says(self, position_id: int | None, work_order: str, at: datetime) -> bool:
        if position_id is None:
            return False
        end = self._of_order.get((position_id, work_order)) if work_order else self._near(position_id, at)
        return end is not None and end.ended_by in PLANNED_ENDS

    def _near(self, position_id: int, at: datetime) -> _End | None:
        near = [end for end in self._of_place[position_id] if abs(end.at - at) <= SAME_NEED]
        return min(near, key=lambda end: (abs(end.at - at), end.at), default=None)


def _issues_without_request(as_of: datetime, asked: list[Asking], ends: list[_End]) -> list[Asking]:
    """Issues that nobody wrote a request for; what is lent out and still expected back is no demand."""
    known = _Paper(asked)
    places = dict(Position.objects.values_list("tag", "id"))
    planned = _Planned(ends)
    entries = StockEntry.objects.issues().not_reversed().filter(occurred_at__lte=as_of)
    lent = entries.filter(expected_back_on__gte=as_of.date()).values("pk")
    found = []
    for entry in entries.exclude(pk__in=lent).order_by("occurred_at", "item_id", "reference", "change"):
        position = places.get(entry.position)
        if known.take(entry.item_id, entry.work_order, position, entry.occurred_at, -entry.change):
            continue
        found.append(
            Asking(
                at=entry.occurred_at,
                item_id=entry.item_id,
                storeroom_id=entry.storeroom_id,
                position_id=position,
                quantity=-entry.change,
                work_order=entry.work_order,
                is_planned=planned.says(position, entry.work_order, entry.occurred_at),
                result="filled",
                source="issue",
                given_id=entry.item_id,
            )
        )
    return found


class _Paper:
    """Requests that an issue may answer, each piece once."""

    def __init__(self, asked: Iterable[Asking]) -> None:
        self._left: dict[tuple[str, int], int] = defaultdict(int)
        self._loose: dict[tuple[int, int], list[datetime]] = defaultdict(list)
        for asking in asked:
            for item in {asking.item_id, asking.given_id} - {None}:
                if asking.work_order:
                    self._left[asking.work_order, item or 0] += asking.quantity
                elif asking.position_id is not None:
                    self._loose[item or 0, asking.position_id].append(asking.at)

    def take(self, item_id: int, work_order: str, position: int | None, at: datetime, pieces: int) -> bool:
        if work_order:
            left = self._left.get((work_order, item_id), 0)
            self._left[work_order, item_id] = max(left - pieces, 0)
            return left > 0
        near = [when for when in self._loose.get((item_id, position or 0), ()) if abs(when - at) <= SAME_NEED]
        if near:
            self._loose[item_id, position or 0].remove(near[0])
        return bool(near)


def _removals_without_paper(asked: list[Asking], ends: list[_End]) -> list[Asking]:
    """Units that were renewed although nothing was asked for on paper: old records often have nothing else."""
    orders = {(asking.position_id, asking.work_order) for asking in asked if asking.work_order}
    places: dict[int, list[datetime]] = defaultdict(list)
    for asking in asked:
        if asking.position_id is not None:
            places[asking.position_id].append(asking.at)
    return [
        Asking(
            at=end.at,
            item_id=end.item_id,
            storeroom_id=end.storeroom_id,
            position_id=end.position_id,
            quantity=1,
            work_order=end.work_order,
            is_planned=end.ended_by in PLANNED_ENDS,
            result="",
            source="removal",
        )
        for end in ends
        if end.storeroom_id is not None
        and end.ended_by not in (EndedBy.DECOMMISSIONED, EndedBy.RELOCATED)
        and (end.position_id, end.work_order) not in orders
        and not any(abs(when - end.at) <= SAME_NEED for when in places[end.position_id])
    ]


def _less_returns(as_of: datetime, asked: list[Asking]) -> list[Asking]:
    """A return takes the latest asking of its work order back, of its place where it names no order.

    What came back defective was needed all the same: it cancels nothing.
    """
    entries = StockEntry.objects.not_reversed().filter(kind=MovementKind.RETURN, occurred_at__lte=as_of)
    entries = entries.exclude(reason_code=ReasonCode.DEFECTIVE)
    places = dict(Position.objects.values_list("tag", "id"))
    left = sorted(asked, key=_in_time)
    for entry in entries.order_by("occurred_at", "item_id", "reference", "change"):
        pieces = entry.change
        for index in range(len(left) - 1, -1, -1):
            if pieces and _came_from(left[index], entry, places.get(entry.position)):
                taken = min(pieces, left[index].quantity)
                left[index] = replace(left[index], quantity=left[index].quantity - taken)
                pieces -= taken
    return [asking for asking in left if asking.quantity > 0]


def _came_from(asking: Asking, entry: StockEntry, position: int | None) -> bool:
    if asking.at > entry.occurred_at or entry.item_id not in (asking.given_id, asking.item_id):
        return False
    if entry.work_order:
        return asking.work_order == entry.work_order
    return (
        asking.storeroom_id == entry.storeroom_id and position is not None and asking.position_id == position
    )
