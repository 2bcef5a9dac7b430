"""An asking for pieces, and which records of one need belong together: each piece on paper answers once."""

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from drives.models import RequestResult
from inventory.models import PartKind

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
        where = f"position {self.position_id}" if self.position_id else f"item {self.item_id}"
        return ("day", f"{self.at:%Y-%m-%d} {where}")


def in_time(asking: Asking) -> tuple[object, ...]:
    """Sort key: nothing that an asking says is left out, so that the order of recording makes no difference."""
    return (
        asking.at,
        asking.work_order,
        asking.item_id or 0,
        asking.position_id or 0,
        asking.storeroom_id,
        asking.source,
        asking.quantity,
        asking.result,
        asking.given_id or 0,
        asking.is_planned,
    )


@dataclass(slots=True)
class _Sheet:
    asking: Asking
    left: int


class Paper:
    """Askings that another record may repeat."""

    def __init__(self, asked: Iterable[Asking], kinds: Mapping[int, str]) -> None:
        self._kinds = kinds
        self._of: dict[Hashable, list[_Sheet]] = defaultdict(list)
        for asking in sorted(asked, key=in_time):
            sheet = _Sheet(asking, asking.quantity)
            for key in _keys(asking):
                self._of[key].append(sheet)

    def take(self, repeated: Asking) -> int:
        """So many pieces of a record stand on paper already; they are used up by it."""
        taken = 0
        for sheet in sorted(self._answering(repeated), key=lambda sheet: _nearness(sheet.asking, repeated)):
            pieces = min(sheet.left, repeated.quantity - taken)
            sheet.left -= pieces
            taken += pieces
        return taken

    def _answering(self, repeated: Asking) -> Iterator[_Sheet]:
        found = {id(sheet): sheet for key in _keys(repeated) for sheet in self._of.get(key, ())}
        for sheet in found.values():
            if (
                sheet.left
                and self._is_same_part(sheet.asking, repeated)
                and _is_same_need(sheet.asking, repeated)
            ):
                yield sheet

    def _is_same_part(self, asking: Asking, repeated: Asking) -> bool:
        """The number handed out may differ from the one asked for, and that of the unit taken off from both."""
        if repeated.item_id in (asking.item_id, asking.given_id):
            return True
        told = asking.given_id is not None or (
            asking.item_id is not None and asking.result != RequestResult.FILLED_BY_SUBSTITUTE
        )
        if told and repeated.source != "removal":
            return False
        kinds = {self._kind(asking.item_id), self._kind(repeated.item_id)}
        return len(kinds) == 1 or "" in kinds

    def _kind(self, item_id: int | None) -> str:
        """A place by itself asks for a sprocket."""
        return self._kinds.get(item_id, "") if item_id is not None else str(PartKind.SPROCKET)


def _keys(asking: Asking) -> Iterator[Hashable]:
    if asking.work_order:
        yield ("order", asking.work_order)
    if asking.position_id is not None:
        yield ("place", asking.position_id)
    elif not asking.work_order:
        for item in {asking.item_id, asking.given_id} - {None}:
            yield ("counter", asking.storeroom_id, item)


def _is_same_need(asking: Asking, repeated: Asking) -> bool:
    if None not in (asking.position_id, repeated.position_id) and asking.position_id != repeated.position_id:
        return False
    if asking.work_order and repeated.work_order:
        return asking.work_order == repeated.work_order
    return asking.position_id == repeated.position_id and abs(asking.at - repeated.at) <= SAME_NEED


def _nearness(asking: Asking, repeated: Asking) -> tuple[object, ...]:
    """Of equals the earliest: it is the first that no later record can answer."""
    return (
        asking.work_order != repeated.work_order,
        asking.position_id != repeated.position_id,
        repeated.item_id not in (asking.item_id, asking.given_id),
        asking.storeroom_id != repeated.storeroom_id,
        in_time(asking),
    )
