"""A demand event, and which records belong to one need: each requested piece is matched by at most one issue or removal."""

from bisect import bisect_left, bisect_right
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from operator import attrgetter
from typing import TypeVar

from drives.models import RequestResult
from inventory.models import PartKind

Row = TypeVar("Row")


@dataclass(frozen=True, slots=True)
class DemandEvent:
    """Pieces of one item needed at one moment."""

    at: datetime
    item_id: int | None
    storeroom_id: int
    position_id: int | None
    quantity: int
    work_order: str
    is_planned: bool
    result: str
    source: str
    """`request`, `issue` (issued without a request) or `removal` (a unit renewed, with no record of the part)."""
    given_id: int | None = None
    """The item that was issued."""
    origin: str = ""
    """How the record came, a `RecordSource`."""
    stops: bool = True
    """Its drive stands from then on. False: what was renewed had been seen at an inspection, and the day was chosen."""

    @property
    def job(self) -> tuple[str, str]:
        """Lines of one work order are one job; without an order, those of one day and position."""
        if self.work_order:
            return ("work order", self.work_order)
        where = f"position {self.position_id}" if self.position_id else f"item {self.item_id}"
        return ("day", f"{self.at:%Y-%m-%d} {where}")


moment = attrgetter("at")


def in_time(events: Iterable[DemandEvent]) -> list[DemandEvent]:
    """By every member of an event, so that the order of recording makes no difference; few of them share a moment."""
    moments = groupby(sorted(events, key=moment), key=moment)
    return [event for _, together in moments for event in _by_all(list(together))]


def _by_all(events: list[DemandEvent]) -> list[DemandEvent]:
    return sorted(events, key=_members) if len(events) > 1 else events


def _members(event: DemandEvent) -> tuple[object, ...]:
    return (
        event.at,
        event.work_order,
        event.item_id or 0,
        event.position_id or 0,
        event.storeroom_id,
        event.source,
        event.quantity,
        event.result,
        event.given_id or 0,
        event.is_planned,
        event.origin,
        event.stops,
    )


def within(
    rows: Sequence[Row], at: datetime, span: timedelta, *, key: Callable[[Row], datetime]
) -> Sequence[Row]:
    """Of rows in the order of time those no farther than a span from a moment."""
    return rows[bisect_left(rows, at - span, key=key) : bisect_right(rows, at + span, key=key)]


@dataclass(slots=True)
class _Unmatched:
    event: DemandEvent
    left: int


class RequestMatcher:
    """Recorded events that another record may repeat."""

    def __init__(self, events: Iterable[DemandEvent], kinds: Mapping[int, str], same_need: timedelta) -> None:
        self._kinds = kinds
        self._same_need_within = same_need
        self._by_key: dict[Hashable, list[_Unmatched]] = defaultdict(list)
        for event in in_time(events):
            unmatched = _Unmatched(event, event.quantity)
            for key in _keys(event):
                self._by_key[key].append(unmatched)

    def match(self, repeated: DemandEvent) -> int:
        """How many pieces of a record are recorded already; each of them is matched once."""
        matched = 0
        for one in sorted(self._same_need(repeated), key=lambda one: _nearness(one.event, repeated)):
            pieces = min(one.left, repeated.quantity - matched)
            one.left -= pieces
            matched += pieces
        return matched

    def _same_need(self, repeated: DemandEvent) -> Iterator[_Unmatched]:
        found = {id(one): one for key in _keys(repeated) for one in self._near(key, repeated.at)}
        for one in found.values():
            if not one.left or not self._is_same_part(one.event, repeated):
                continue
            if _is_same_need(one.event, repeated, self._same_need_within):
                yield one

    def _near(self, key: Hashable, at: datetime) -> Sequence[_Unmatched]:
        """What shares no work order has to be near in time too."""
        rows = self._by_key.get(key, [])
        if isinstance(key, str):
            return rows
        return within(rows, at, self._same_need_within, key=lambda one: one.event.at)

    def _is_same_part(self, event: DemandEvent, repeated: DemandEvent) -> bool:
        """The item issued may differ from the one requested, and the unit removed from both."""
        if repeated.item_id in (event.item_id, event.given_id):
            return True
        is_given_known = event.given_id is not None or (
            event.item_id is not None and event.result != RequestResult.FILLED_BY_SUBSTITUTE
        )
        if is_given_known and repeated.source != "removal":
            return False
        kinds = {self._kind(event.item_id), self._kind(repeated.item_id)}
        return len(kinds) == 1 or "" in kinds

    def _kind(self, item_id: int | None) -> str:
        """A position without an item needs a sprocket."""
        return self._kinds.get(item_id, "") if item_id is not None else str(PartKind.SPROCKET)


def _keys(event: DemandEvent) -> Iterator[Hashable]:
    """A work order, a position, or what was asked for at a counter."""
    if event.work_order:
        yield event.work_order
    if event.position_id is not None:
        yield event.position_id
    elif not event.work_order:
        for item in {event.item_id, event.given_id} - {None}:
            yield (event.storeroom_id, item)


def _is_same_need(event: DemandEvent, repeated: DemandEvent, within: timedelta) -> bool:
    """Records of one position within this time are one need, where no work order says so."""
    if None not in (event.position_id, repeated.position_id) and event.position_id != repeated.position_id:
        return False
    if event.work_order and repeated.work_order:
        return event.work_order == repeated.work_order
    return event.position_id == repeated.position_id and abs(event.at - repeated.at) <= within


def _nearness(event: DemandEvent, repeated: DemandEvent) -> tuple[object, ...]:
    """Of equals the earliest, since no later record can match it."""
    return (
        event.work_order != repeated.work_order,
        event.position_id != repeated.position_id,
        repeated.item_id not in (event.item_id, event.given_id),
        event.storeroom_id != repeated.storeroom_id,
        _members(event),
    )
