"""What counts as demand: requests, filled or not, less returns; each need once, whoever recorded it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

from django.db.models.functions import Coalesce

from drives.demand.request_matching import DemandEvent, RequestMatcher, by_time
from drives.models import EndedBy, Installation, Position, RecordSource, Request
from drives.models.feed import ORDER_REFERENCE
from inventory.models import Condition, Item, MovementKind, ReasonCode, StockEntry
from inventory.stocking.demand_settings import SHIPPED, DemandSettings

PLANNED_ENDS = frozenset(
    {EndedBy.PREVENTIVE, EndedBy.MODIFICATION, EndedBy.RELOCATED, EndedBy.DECOMMISSIONED}
)
"""Ends whose date was chosen. A sprocket renewed at the same stop was not planned: it is needed with the failure."""

NOT_REPLACED = (EndedBy.DECOMMISSIONED, EndedBy.RELOCATED)


def load_demand_events(as_of: datetime, settings: DemandSettings = SHIPPED) -> tuple[DemandEvent, ...]:
    """Every demand event up to a moment, by time; six queries. The order of recording makes no difference."""
    removals, same_need = _removals(as_of), settings.same_need
    planned = _PlannedWork(removals, same_need)
    kinds = {pk: kind or "" for pk, kind in Item.objects.values_list("pk", "specification__kind")}
    positions = dict(Position.objects.values_list("tag", "id"))
    events = _requests(as_of, planned)
    issued, lent = _issues(as_of, planned, positions)
    events += _unmatched(issued, RequestMatcher(events, kinds, same_need))
    events += _unmatched(removals, RequestMatcher(events, kinds, same_need))
    return tuple(_subtract_returns(as_of, events, lent, positions))


def _removals(as_of: datetime) -> list[DemandEvent]:
    """Every removal by time; of no pieces where nothing was fitted instead, or no storeroom serves the position.

    Old records often have nothing else.
    """
    rows = Installation.objects.filter(removed_at__isnull=False, removed_at__lte=as_of).values_list(
        "removed_at",
        "position_id",
        "work_order",
        "ended_by",
        Coalesce("item_id", 0),
        "position__drive__equipment__area__plant__storeroom_id",
    )
    return [
        DemandEvent(
            at=at,
            item_id=item or None,
            storeroom_id=room or 0,
            position_id=position,
            quantity=0 if room is None or ended_by in NOT_REPLACED else 1,
            work_order=order,
            is_planned=ended_by in PLANNED_ENDS,
            result="",
            source="removal",
            origin=RecordSource.INSTALLATIONS,
        )
        for at, position, order, ended_by, item, room in sorted(rows, key=lambda row: row[:5])
        if at is not None
    ]


class _PlannedWork:
    """Whether the removal that a record belongs to was planned."""

    def __init__(self, removals: Iterable[DemandEvent], same_need: timedelta) -> None:
        self._same_need = same_need
        self._of_order: dict[str, list[DemandEvent]] = defaultdict(list)
        self._of_position: dict[int | None, list[DemandEvent]] = defaultdict(list)
        for removal in removals:
            self._of_position[removal.position_id].append(removal)
            if removal.work_order:
                self._of_order[removal.work_order].append(removal)

    def includes(self, position_id: int | None, work_order: str, at: datetime) -> bool:
        """By the order's own removal at that position, else by the nearest in time; without a position, by all of the order."""
        of_order = self._of_order.get(work_order, [])
        if position_id is None:
            return bool(of_order) and all(removal.is_planned for removal in of_order)
        own = [removal for removal in of_order if removal.position_id == position_id]
        removal = own[-1] if own else self._nearest(position_id, work_order, at)
        return removal is not None and removal.is_planned

    def _nearest(self, position_id: int, work_order: str, at: datetime) -> DemandEvent | None:
        near = [
            removal
            for removal in self._of_position[position_id]
            if abs(removal.at - at) <= self._same_need and not (removal.work_order and work_order)
        ]
        return min(near, key=lambda removal: (abs(removal.at - at), removal.at), default=None)


def _requests(as_of: datetime, planned: _PlannedWork) -> list[DemandEvent]:
    return [
        DemandEvent(
            at=row.at,
            item_id=row.item_id,
            storeroom_id=row.storeroom_id,
            position_id=row.position_id,
            quantity=row.quantity,
            work_order=row.work_order,
            is_planned=planned.includes(row.position_id, row.work_order, row.at)
            if row.is_planned is None
            else row.is_planned,
            result=row.result,
            source="request",
            given_id=row.issued_item_id,
            origin=_origin(row.reference, RecordSource.REQUESTS),
        )
        for row in Request.objects.standing().until(as_of).order_by("at")
    ]


def _origin(reference: str, otherwise: RecordSource) -> str:
    return RecordSource.WORK_ORDERS if reference.startswith(ORDER_REFERENCE) else otherwise


def _issues(
    as_of: datetime, planned: _PlannedWork, positions: Mapping[str, int]
) -> tuple[list[DemandEvent], list[DemandEvent]]:
    """What was issued for good, and what is lent out and expected back, which is no demand."""
    issued: list[DemandEvent] = []
    lent: list[DemandEvent] = []
    for entry in StockEntry.objects.issues().not_reversed().filter(occurred_at__lte=as_of).order_by():
        position = positions.get(entry.position)
        is_lent = entry.expected_back_on is not None and entry.expected_back_on >= as_of.date()
        (lent if is_lent else issued).append(
            DemandEvent(
                at=entry.occurred_at,
                item_id=entry.item_id,
                storeroom_id=entry.storeroom_id,
                position_id=position,
                quantity=-entry.net,
                work_order=entry.work_order,
                is_planned=planned.includes(position, entry.work_order, entry.occurred_at),
                result="filled",
                source="issue",
                given_id=entry.item_id,
                origin=_origin(entry.reference, RecordSource.MOVEMENTS),
            )
        )
    return issued, lent


def _unmatched(events: list[DemandEvent], recorded: RequestMatcher) -> list[DemandEvent]:
    """What is left of each event after the pieces that are recorded already."""
    left = [
        replace(event, quantity=event.quantity - recorded.match(event))
        for event in sorted(events, key=by_time)
    ]
    return [event for event in left if event.quantity > 0]


def _subtract_returns(
    as_of: datetime, events: list[DemandEvent], lent: list[DemandEvent], positions: Mapping[str, int]
) -> list[DemandEvent]:
    """A return cancels the latest event of its work order, or of its position where it names no order.

    What is lent out comes back first. A piece returned as defective was needed all the same; a worn one, and a used unit
    returned without a reason, is the one that was removed: none of them cancels anything.
    """
    entries = StockEntry.objects.not_reversed().filter(kind=MovementKind.RETURN, occurred_at__lte=as_of)
    entries = entries.exclude(reason_code__in=(ReasonCode.DEFECTIVE, ReasonCode.WORN))
    entries = entries.exclude(reason_code="", condition=Condition.USED_SERVICEABLE)
    left = sorted(events, key=by_time) + sorted(lent, key=by_time)
    for entry in entries.order_by(
        "occurred_at", "item_id", "storeroom_id", "work_order", "position", "reference", "change"
    ):
        pieces = entry.net
        for index in range(len(left) - 1, -1, -1):
            if pieces and _is_returned(left[index], entry, positions.get(entry.position)):
                taken = min(pieces, left[index].quantity)
                left[index] = replace(left[index], quantity=left[index].quantity - taken)
                pieces -= taken
    return [event for event in left[: len(events)] if event.quantity > 0]


def _is_returned(event: DemandEvent, entry: StockEntry, position: int | None) -> bool:
    if event.at > entry.occurred_at or entry.item_id not in (event.given_id, event.item_id):
        return False
    if entry.work_order:
        return event.work_order == entry.work_order
    return event.storeroom_id == entry.storeroom_id and position is not None and event.position_id == position
