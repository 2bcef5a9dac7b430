"""Records a count against the book as it was at the moment of counting."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from inventory.facts import fact
from inventory.models import (
    CountCause,
    CountState,
    CountTask,
    MovementKind,
    ReasonCode,
    StockEntry,
    StockPiece,
)
from inventory.stores.ledger.booking import book
from inventory.stores.ledger.locking import lock_shelf
from inventory.stores.ledger.movement import Booked, Movement, Who, check_moment, check_quantity, name_of
from inventory.stores.ledger.refusals import LedgerRefusal


class CountDone(LedgerRefusal):
    """The shelf was counted or dropped from the list already."""

    def __init__(self, task: CountTask) -> None:
        super().__init__(fact("count_task_closed", state=str(task.state)), field="count_task")


class CountedSince(LedgerRefusal):
    """A later count has corrected the book already."""

    def __init__(self, moment: datetime) -> None:
        super().__init__(
            fact("counted_again_since", counted_at=moment.isoformat(timespec="minutes")), field="seen_at"
        )


@dataclass(frozen=True, slots=True)
class CountResult:
    task: CountTask
    booked: Booked


def record_count(
    task: CountTask,
    counted: int,
    *,
    by: Who,
    seen_at: datetime | None = None,
    piece: StockPiece | None = None,
    note: str = "",
    at: datetime | None = None,
) -> CountResult:
    """Book the count relative to what the book said at `seen_at`; what was moved since then is kept.

    If fewer are left than are reserved, the reservations are shortened and an event tells their owners.
    """
    now = at or timezone.now()
    check_quantity("counted", counted, least=0)
    check_moment("seen_at", seen_at, now)
    moment = seen_at or now
    with transaction.atomic():
        # The level is locked before the task, as everywhere else, so that two writers never wait for each other in a circle.
        shelf = lock_shelf(task)
        current = _lock_open(task)
        if shelf.last_counted_at is not None and moment < shelf.last_counted_at:
            raise CountedSince(shelf.last_counted_at)
        seen = shelf.piece_here(piece).links if piece is not None else _book_at(current, moment, now)
        current.state, current.booked, current.counted = CountState.COUNTED, seen, counted
        current.counted_at, current.counted_by_name, current.note = moment, name_of(by), note
        booked = book(_movement(current, piece, by), at=now)
        current.entry = booked.entry
        current.save()
    return CountResult(current, booked)


def drop(task: CountTask, *, note: str, by: Who) -> CountTask:
    """Take the shelf off the list, for a reason."""
    with transaction.atomic():
        current = _lock_open(task)
        current.state, current.note, current.counted_by_name = CountState.DROPPED, note, name_of(by)
        current.save(update_fields=["state", "note", "counted_by_name", "updated_at"])
    return current


def _lock_open(task: CountTask) -> CountTask:
    rows = CountTask.objects.select_for_update(of=("self",)).select_related("item", "storeroom")
    current = rows.get(pk=task.pk)
    if current.state != CountState.OPEN:
        raise CountDone(current)
    return current


def _book_at(task: CountTask, moment: datetime, now: datetime) -> int:
    """By what had happened by then, also if it was booked later: a piece taken before the count was missing in it."""
    here = StockEntry.objects.filter(
        item=task.item, storeroom=task.storeroom, condition=task.condition
    ).order_by()
    by_then = here if moment >= now else here.filter(occurred_at__lte=moment)
    balance = by_then.aggregate(total=Sum("change", default=0))["total"]
    if balance < 0:
        raise LedgerRefusal(fact("book_unknown_at_moment"), field="seen_at")
    return int(balance)


def _movement(task: CountTask, piece: StockPiece | None, by: Who) -> Movement:
    variance = task.variance or 0
    code = ReasonCode.FOUND if variance > 0 else ReasonCode.NOT_THERE if variance < 0 else ""
    return Movement(
        kind=MovementKind.COUNT,
        item=task.item,
        storeroom=task.storeroom,
        condition=task.condition,
        by=by,
        counted=task.counted,
        seen=None if piece is not None else task.booked,
        piece=piece,
        override=f"{task.counted} were counted.",
        reason=task.note,
        reason_code=code,
        occurred_at=task.counted_at,
    )


BLIND = (CountCause.VALUE, CountCause.ZERO, CountCause.ASKED)
"""Counts whose result nobody knew beforehand; the others began with an error."""
