"""What counts as demand: requests, filled or not, less returns; each need once, whoever recorded it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from operator import itemgetter
from sys import intern
from typing import Any

from django.db.models import QuerySet

from drives.demand.cover import grouped
from drives.demand.record_part import WHOLE_RECORD, Removal, WholeRecord
from drives.demand.request_matching import DemandEvent, RequestMatcher, in_time, moment, within
from drives.models import EndedBy, RecordSource
from drives.models.feed import ORDER_REFERENCE
from inventory.models import Item, StockEntry
from inventory.stocking.demand_settings import SHIPPED, DemandSettings

PLANNED_ENDS = frozenset(
    {EndedBy.PREVENTIVE, EndedBy.MODIFICATION, EndedBy.RELOCATED, EndedBy.DECOMMISSIONED}
)
"""Ends whose date was chosen. A sprocket renewed at the same stop was not planned: it is needed with the failure."""

CHOSEN_DAYS = PLANNED_ENDS | {EndedBy.LIMIT_REACHED}
"""Ends that stop no drive before the part is there: what an inspection sees in time runs until then."""

NOT_REPLACED = (EndedBy.DECOMMISSIONED, EndedBy.RELOCATED)


@dataclass(frozen=True, slots=True)
class KnownItems:
    """The kind of each item, and the item that each merged number goes on under."""

    kinds: Mapping[int, str]
    merged: Mapping[int, int]

    @classmethod
    def of(cls, items: QuerySet[Item]) -> "KnownItems":
        kinds, merged = {}, {}
        for pk, kind, into in items.values_list("pk", "specification__kind", "merged_into_id"):
            kinds[pk] = kind or ""
            if into is not None:
                merged[pk] = into
        return cls(kinds, merged)

    def staying(self, item: int) -> int:
        return self.merged.get(item, item)


def load_demand_events(
    as_of: datetime,
    settings: DemandSettings = SHIPPED,
    record: WholeRecord = WHOLE_RECORD,
    items: KnownItems | None = None,
) -> tuple[DemandEvent, ...]:
    """Every demand event up to a moment, by time; nine queries. The order of recording makes no difference.

    What was booked or fitted under a merged number is demand for the one that stays. `items`, where they are loaded already.
    """
    items = KnownItems.of(Item.objects.order_by()) if items is None else items
    kinds, same_need = items.kinds, settings.same_need
    removals = _removals(record.removals(as_of), same_need, items)
    work = _RemovalWork(removals, same_need, record.worn_chains(as_of, settings))
    positions = record.positions_by_tag()
    events = _requests(record.requests(as_of), work)
    issued, lent = _issues(record.issues(as_of), as_of, work, positions, items)
    for repeated in (issued, removals):
        events += _unmatched(repeated, events, kinds, same_need)
    return tuple(_subtract_returns(record.returns(as_of), events, lent, positions, items))


def _removals(rows: Iterable[Removal], same_need: timedelta, items: KnownItems) -> list[DemandEvent]:
    """Every removal by time; of no pieces where nothing was fitted instead, or no storeroom serves the position.

    Old records often have nothing else.
    """
    ordered = sorted(rows, key=lambda row: row[:5])
    stops = _Stops(((at, drive, ended_by) for at, _, _, ended_by, _, _, drive in ordered), same_need)
    return [
        DemandEvent(
            at=at,
            item_id=items.staying(item) or None,
            storeroom_id=room or 0,
            position_id=position,
            quantity=0 if room is None or ended_by in NOT_REPLACED else 1,
            work_order=order,
            is_planned=ended_by in PLANNED_ENDS,
            result="",
            source="removal",
            origin=RecordSource.INSTALLATIONS,
            stops=stops.is_stop(at, drive, ended_by),
        )
        for at, position, order, ended_by, item, room, drive in ordered
    ]


class _Stops:
    """Whether a removal found its drive standing."""

    def __init__(self, ends: Iterable[tuple[datetime, int, str]], same_need: timedelta) -> None:
        self._same_need = same_need
        self._of_drive: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
        for at, drive, ended_by in ends:
            if ended_by != EndedBy.OPPORTUNITY:
                self._of_drive[drive].append((at, ended_by))
        for of_drive in self._of_drive.values():
            of_drive.sort()

    def is_stop(self, at: datetime, drive: int, ended_by: str) -> bool:
        """What was renewed because the drive stood open stops it as what opened it does."""
        if ended_by != EndedBy.OPPORTUNITY:
            return ended_by not in CHOSEN_DAYS
        near = [end for _, end in within(self._of_drive[drive], at, self._same_need, key=itemgetter(0))]
        return not near or any(end not in CHOSEN_DAYS for end in near)


class _RemovalWork:
    """The removal that a record belongs to: whether it was planned, and whether the drive stood."""

    def __init__(
        self,
        removals: Iterable[DemandEvent],
        same_need: timedelta,
        worn_chains: Mapping[int, Iterable[datetime]],
    ) -> None:
        self._same_need, self._worn_chains = same_need, worn_chains
        self._of_order: dict[str, list[DemandEvent]] = defaultdict(list)
        self._of_position: dict[int | None, list[DemandEvent]] = defaultdict(list)
        for removal in removals:
            self._of_position[removal.position_id].append(removal)
            if removal.work_order:
                self._of_order[removal.work_order].append(removal)

    def is_planned(self, position_id: int | None, work_order: str, at: datetime) -> bool:
        removals = self._of(position_id, work_order, at)
        return bool(removals) and all(removal.is_planned for removal in removals)

    def stops(self, position_id: int | None, work_order: str, at: datetime) -> bool:
        """Also without a removal a chain that was measured worn just before is renewed on a day that was chosen."""
        removals = self._of(position_id, work_order, at)
        if removals:
            return any(removal.stops for removal in removals)
        worn = self._worn_chains.get(position_id or 0, ())
        return not any(timedelta(0) <= at - seen <= self._same_need for seen in worn)

    def _of(self, position_id: int | None, work_order: str, at: datetime) -> list[DemandEvent]:
        """The order's own removal at that position, else the nearest in time; without a position, all of the order."""
        of_order = self._of_order.get(work_order, [])
        if position_id is None:
            return of_order
        own = [removal for removal in of_order if removal.position_id == position_id]
        return own[-1:] or self._nearest(position_id, work_order, at)

    def _nearest(self, position_id: int, work_order: str, at: datetime) -> list[DemandEvent]:
        removals = within(self._of_position[position_id], at, self._same_need, key=moment)
        near = [removal for removal in removals if not (removal.work_order and work_order)]
        return sorted(near, key=lambda removal: (abs(removal.at - at), removal.at))[:1]


def _requests(rows: Iterable[Any], work: _RemovalWork) -> list[DemandEvent]:
    return [
        DemandEvent(
            at=row.at,
            item_id=row.item_id,
            storeroom_id=row.storeroom_id,
            position_id=row.position_id,
            quantity=row.quantity,
            work_order=row.work_order,
            is_planned=work.is_planned(row.position_id, row.work_order, row.at)
            if row.is_planned is None
            else row.is_planned,
            result=intern(str(row.result)),
            source="request",
            given_id=row.issued_item_id,
            origin=source_of(row.reference, RecordSource.REQUESTS),
            stops=work.stops(row.position_id, row.work_order, row.at),
        )
        for row in rows
    ]


def source_of(reference: str, otherwise: RecordSource) -> str:
    return RecordSource.WORK_ORDERS if reference.startswith(ORDER_REFERENCE) else otherwise


def _issues(
    entries: Iterable[Any],
    as_of: datetime,
    work: _RemovalWork,
    positions: Mapping[str, int],
    items: KnownItems,
) -> tuple[list[DemandEvent], list[DemandEvent]]:
    """What was issued for good, and what is lent out and expected back, which is no demand."""
    issued: list[DemandEvent] = []
    lent: list[DemandEvent] = []
    for entry in entries:
        position, item = positions.get(entry.position), items.staying(entry.item_id)
        is_lent = entry.expected_back_on is not None and entry.expected_back_on >= as_of.date()
        (lent if is_lent else issued).append(
            DemandEvent(
                at=entry.occurred_at,
                item_id=item,
                storeroom_id=entry.storeroom_id,
                position_id=position,
                quantity=-entry.net,
                work_order=entry.work_order,
                is_planned=work.is_planned(position, entry.work_order, entry.occurred_at),
                result="filled",
                source="issue",
                given_id=item,
                origin=source_of(entry.reference, RecordSource.MOVEMENTS),
                stops=work.stops(position, entry.work_order, entry.occurred_at),
            )
        )
    return issued, lent


def _unmatched(
    events: list[DemandEvent], recorded: list[DemandEvent], kinds: Mapping[int, str], same_need: timedelta
) -> list[DemandEvent]:
    """What is left of each event after the pieces that are recorded already."""
    if not events:
        return []
    matcher = RequestMatcher(recorded, kinds, same_need)
    return _what_is_left((event, event.quantity - matcher.match(event)) for event in in_time(events))


def _what_is_left(events: Iterable[tuple[DemandEvent, int]]) -> list[DemandEvent]:
    return [
        event if left == event.quantity else replace(event, quantity=left)
        for event, left in events
        if left > 0
    ]


def _subtract_returns(
    returns: Iterable[Any],
    events: list[DemandEvent],
    lent: list[DemandEvent],
    positions: Mapping[str, int],
    items: KnownItems,
) -> list[DemandEvent]:
    """A return cancels the latest event of its work order, or of its position where it names no order.

    What is lent out comes back first.
    """
    left, returns = in_time(events) + in_time(lent), list(returns)
    places = _places_to_return_from(left) if returns else {}
    for entry in returns:
        pieces, position = entry.net, positions.get(entry.position)
        item = items.staying(entry.item_id)
        key: object = entry.work_order or (entry.storeroom_id, position)
        for index in reversed(places.get(key, ())):
            if pieces and _is_returned(left[index], entry, item, position):
                taken = min(pieces, left[index].quantity)
                left[index] = replace(left[index], quantity=left[index].quantity - taken)
                pieces -= taken
    return [event for event in left[: len(events)] if event.quantity > 0]


def _places_to_return_from(events: list[DemandEvent]) -> Mapping[object, tuple[int, ...]]:
    """Where the events of each work order, and of each storeroom and position, stand in the list."""
    of_order = ((event.work_order, place) for place, event in enumerate(events) if event.work_order)
    of_position = (((event.storeroom_id, event.position_id), place) for place, event in enumerate(events))
    return grouped((*of_order, *of_position))


def _is_returned(event: DemandEvent, entry: StockEntry, item: int, position: int | None) -> bool:
    if event.at > entry.occurred_at or item not in (event.given_id, event.item_id):
        return False
    if entry.work_order:
        return event.work_order == entry.work_order
    return event.storeroom_id == entry.storeroom_id and position is not None and event.position_id == position
