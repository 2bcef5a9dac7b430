"""What counts as demand: what was asked for, met or not, less what came back; each need once, whoever recorded it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime

from drives.demand.request_matching import SAME_NEED, Asking, Paper, in_time
from drives.models import EndedBy, Installation, Position, Request
from inventory.models import Condition, Item, MovementKind, ReasonCode, StockEntry

PLANNED_ENDS = frozenset(
    {EndedBy.PREVENTIVE, EndedBy.MODIFICATION, EndedBy.RELOCATED, EndedBy.DECOMMISSIONED}
)
"""Ends that somebody chose a date for. A mate renewed at the same stop was not planned: it is asked for with the failure."""

NOT_REPLACED = (EndedBy.DECOMMISSIONED, EndedBy.RELOCATED)


@dataclass(frozen=True, slots=True)
class _End:
    position_id: int
    item_id: int | None
    at: datetime
    work_order: str
    ended_by: str
    storeroom_id: int | None


def askings(as_of: datetime) -> tuple[Asking, ...]:
    """Every asking up to a moment, in the order of time; six queries. The order of recording makes no difference."""
    ends = _ends(as_of)
    planned = _Planned(ends)
    kinds = {pk: kind or "" for pk, kind in Item.objects.values_list("pk", "specification__kind")}
    places = dict(Position.objects.values_list("tag", "id"))
    asked = _requests(as_of, planned)
    issued, lent = _issues(as_of, planned, places)
    asked += _beyond_paper(issued, Paper(asked, kinds))
    asked += _beyond_paper(_removals(ends), Paper(asked, kinds))
    return tuple(_less_returns(as_of, asked, lent, places))


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
    return sorted(
        ends, key=lambda end: (end.at, end.position_id, end.work_order, end.ended_by, end.item_id or 0)
    )


def _requests(as_of: datetime, planned: "_Planned") -> list[Asking]:
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
        self._of_order: dict[str, list[_End]] = defaultdict(list)
        self._of_place: dict[int, list[_End]] = defaultdict(list)
        for end in ends:
            self._of_place[end.position_id].append(end)
            if end.work_order:
                self._of_order[end.work_order].append(end)

    def says(self, position_id: int | None, work_order: str, at: datetime) -> bool:
        """By the order's own end of that place, else by one near in time; without a place, by all that the order ended."""
        of_order = self._of_order.get(work_order, [])
        if position_id is None:
            return bool(of_order) and all(end.ended_by in PLANNED_ENDS for end in of_order)
        own = [end for end in of_order if end.position_id == position_id]
        end = own[-1] if own else self._near(position_id, work_order, at)
        return end is not None and end.ended_by in PLANNED_ENDS

    def _near(self, position_id: int, work_order: str, at: datetime) -> _End | None:
        near = [
            end
            for end in self._of_place[position_id]
            if abs(end.at - at) <= SAME_NEED and not (end.work_order and work_order)
        ]
        return min(near, key=lambda end: (abs(end.at - at), end.at), default=None)


def _issues(
    as_of: datetime, planned: _Planned, places: Mapping[str, int]
) -> tuple[list[Asking], list[Asking]]:
    """What was handed out for good, and what is lent out and still expected back, which is no demand."""
    issued: list[Asking] = []
    lent: list[Asking] = []
    for entry in StockEntry.objects.issues().not_reversed().filter(occurred_at__lte=as_of).order_by():
        position = places.get(entry.position)
        is_lent = entry.expected_back_on is not None and entry.expected_back_on >= as_of.date()
        (lent if is_lent else issued).append(
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
    return issued, lent


def _removals(ends: list[_End]) -> list[Asking]:
    """Units that were renewed: old records often have nothing else."""
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
        if end.storeroom_id is not None and end.ended_by not in NOT_REPLACED
    ]


def _beyond_paper(found: list[Asking], paper: Paper) -> list[Asking]:
    """What no asking on paper stands for already."""
    left = [
        replace(asking, quantity=asking.quantity - paper.take(asking))
        for asking in sorted(found, key=in_time)
    ]
    return [asking for asking in left if asking.quantity > 0]


def _less_returns(
    as_of: datetime, asked: list[Asking], lent: list[Asking], places: Mapping[str, int]
) -> list[Asking]:
    """A return takes the latest asking of its work order back, of its place where it names no order.

    What is lent out comes back first. What came back defective was needed all the same, and a used unit that came
    back without a word is the one that was taken off: neither cancels anything.
    """
    entries = StockEntry.objects.not_reversed().filter(kind=MovementKind.RETURN, occurred_at__lte=as_of)
    entries = entries.exclude(reason_code=ReasonCode.DEFECTIVE)
    entries = entries.exclude(reason_code="", condition=Condition.USED_SERVICEABLE)
    left = sorted(asked, key=in_time) + sorted(lent, key=in_time)
    for entry in entries.order_by(
        "occurred_at", "item_id", "storeroom_id", "work_order", "position", "reference", "change"
    ):
        pieces = entry.change
        for index in range(len(left) - 1, -1, -1):
            if pieces and _came_from(left[index], entry, places.get(entry.position)):
                taken = min(pieces, left[index].quantity)
                left[index] = replace(left[index], quantity=left[index].quantity - taken)
                pieces -= taken
    return [asking for asking in left[: len(asked)] if asking.quantity > 0]


def _came_from(asking: Asking, entry: StockEntry, position: int | None) -> bool:
    if asking.at > entry.occurred_at or entry.item_id not in (asking.given_id, asking.item_id):
        return False
    if entry.work_order:
        return asking.work_order == entry.work_order
    return (
        asking.storeroom_id == entry.storeroom_id and position is not None and asking.position_id == position
    )
