"""Records what was found on a shelf of the list, against the book as it was at the moment of counting."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

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
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Booked, Movement, Who, check_moment, check_quantity, name_of
from inventory.stores.ledger.refusals import LedgerRefusal
from inventory.stores.ledger.shelf import Shelf


class CountDone(LedgerRefusal):
    """The shelf was counted or dropped from the list before."""

    def __init__(self, task: CountTask) -> None:
        super().__init__("count_task", f"This was {task.state} already: ask for another count.")


class CountedSince(LedgerRefusal):
    """A later count set the book right already."""

    def __init__(self, moment: datetime) -> None:
        super().__init__(
            "seen_at", f"The shelf was counted again at {moment:%Y-%m-%d %H:%M} UTC: that count holds."
        )


@dataclass(frozen=True, slots=True)
class Counted:
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
) -> Counted:
    """Book the count relative to what the book said at `seen_at`; what was moved since then is kept.

    Where fewer are left than are held back, the reservations keep what they lack as short, and their owners are told.
    """
    now = at or timezone.now()
    check_quantity("counted", counted, least=0)
    check_moment("seen_at", seen_at, now)
    moment = seen_at or now
    with transaction.atomic():
        # The shelf before the task, as everywhere else: two who meet wait for each other in turn.
        shelf = _locked(task)
        standing = _still_open(task)
        if shelf.last_counted_at is not None and moment < shelf.last_counted_at:
            raise CountedSince(shelf.last_counted_at)
        seen = shelf.piece_here(piece).links if piece is not None else _book_at(standing, moment, now)
        booked = book(_movement(standing, counted, seen, piece, by, note, moment), at=now)
        _close(standing, booked, seen, counted, moment, by, note)
    return Counted(standing, booked)


def drop(task: CountTask, *, note: str, by: Who) -> CountTask:
    """Take the shelf off the list, for a reason."""
    with transaction.atomic():
        standing = _still_open(task)
        standing.state, standing.note, standing.counted_by_name = CountState.DROPPED, note, name_of(by)
        standing.save(update_fields=["state", "note", "counted_by_name", "updated_at"])
    return standing


def _still_open(task: CountTask) -> CountTask:
    rows = CountTask.objects.select_for_update(of=("self",)).select_related("item", "storeroom")
    standing = rows.get(pk=task.pk)
    if standing.state != CountState.OPEN:
        raise CountDone(standing)
    return standing


def _locked(task: CountTask) -> Shelf:
    shelf = Shelf(task.item, task.storeroom, task.condition)
    lock_shelves({(task.item_id, task.storeroom_id, task.condition): shelf})
    return shelf


def _book_at(task: CountTask, moment: datetime, now: datetime) -> int:
    """What had happened by then, whenever it was booked: a piece taken before the count was missing when it was made."""
    here = StockEntry.objects.filter(
        item=task.item, storeroom=task.storeroom, condition=task.condition
    ).order_by()
    by_then = here if moment >= now else here.filter(occurred_at__lte=moment)
    balance = by_then.aggregate(total=Sum("change", default=0))["total"]
    if balance < 0:
        raise LedgerRefusal("seen_at", "The book cannot tell what lay there then: count the shelf again.")
    return int(balance)


def _movement(
    task: CountTask,
    counted: int,
    seen: int,
    piece: StockPiece | None,
    by: Who,
    note: str,
    moment: datetime,
) -> Movement:
    code = ReasonCode.FOUND if counted > seen else ReasonCode.NOT_THERE if counted < seen else ""
    return Movement(
        kind=MovementKind.COUNT,
        item=task.item,
        storeroom=task.storeroom,
        condition=task.condition,
        by=by,
        counted=counted,
        seen=None if piece is not None else seen,
        piece=piece,
        override=f"{counted} were counted.",
        reason=note,
        reason_code=code,
        occurred_at=moment,
    )


def _close(
    task: CountTask, booked: Booked, seen: int, counted: int, moment: datetime, by: Who, note: str
) -> None:
    task.state, task.booked, task.counted = CountState.COUNTED, seen, counted
    task.counted_at, task.counted_by_name, task.entry, task.note = moment, name_of(by), booked.entry, note
    task.save(
        update_fields=[
            "state",
            "booked",
            "counted",
            "counted_at",
            "counted_by_name",
            "entry",
            "note",
            "updated_at",
        ]
    )


BLIND = (CountCause.VALUE, CountCause.ZERO, CountCause.ASKED)
"""Counts of which nobody knew beforehand what they would find; the others began with an error."""
