"""Corrections at the counter when the book and the shelf differ: one request, all of it or nothing."""

from dataclasses import dataclass, replace
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import (
    Condition,
    CountCause,
    CountTask,
    Item,
    MovementKind,
    ReasonCode,
    StockEntry,
    Storeroom,
)
from inventory.stores.counting.count_requests import request_count
from inventory.stores.counting.counts import CountResult
from inventory.stores.ledger.booking import book
from inventory.stores.ledger.locking import lock_shelf
from inventory.stores.ledger.movement import Booked, Movement, Who, checked
from inventory.stores.ledger.shelf import LockedShelf


@dataclass(frozen=True, slots=True)
class FoundStock:
    """The count that corrected the book (None if the reference was booked before), and the issue."""

    count: Booked | None
    issue: Booked
    task: CountTask | None


def book_found(issue: Movement, *, counted: int | None = None, at: datetime | None = None) -> FoundStock:
    """Count the shelf and issue from it; `counted` includes the piece in hand.

    Without `counted` it is the least that allows the issue and leaves the stock reserved for others.
    """
    now = at or timezone.now()
    checked(issue, now)
    with transaction.atomic():
        if _is_booked(issue):
            return FoundStock(None, book(issue, at=now), None)
        shelf = lock_shelf(issue)
        lying = _least(shelf, issue) if counted is None else counted
        count = book(_count_before(issue, shelf, lying), at=now)
        issued = book(issue, at=now)
        task = request_count(issue.item, issue.storeroom, issue.condition, cause=CountCause.FOUND, at=now)
    return FoundStock(count, issued, task)


def book_not_there(
    item: Item,
    storeroom: Storeroom,
    *,
    by: Who,
    condition: str = Condition.NEW,
    work_order: str = "",
    reason: str = "",
    reference: str = "",
    occurred_at: datetime | None = None,
    at: datetime | None = None,
) -> CountResult:
    """Count the shelf as empty; its reservations are shortened, with an event for each."""
    now = at or timezone.now()
    zero = Movement(
        kind=MovementKind.COUNT,
        item=item,
        storeroom=storeroom,
        condition=condition,
        by=by,
        counted=0,
        override=reason or "The shelf was empty.",
        work_order=work_order,
        reason=reason,
        reason_code=ReasonCode.NOT_THERE,
        reference=reference,
        occurred_at=occurred_at,
    )
    with transaction.atomic():
        count = book(zero, at=now)
        task = request_count(item, storeroom, condition, cause=CountCause.NOT_THERE, at=now)
    return CountResult(task, count)


def _is_booked(issue: Movement) -> bool:
    return bool(issue.reference) and StockEntry.objects.filter(reference=issue.reference).exists()


def _least(shelf: LockedShelf, issue: Movement) -> int:
    quantity = issue.quantity or 0
    if shelf.is_in_links:
        return shelf.on_hand + quantity
    own = sum(reservation.open_quantity for reservation in shelf.reserved_for(issue.work_order))
    return max(shelf.on_hand, quantity + shelf.reserved - own)


def _count_before(issue: Movement, shelf: LockedShelf, lying: int) -> Movement:
    return replace(
        issue,
        kind=MovementKind.COUNT,
        quantity=None,
        counted=lying,
        seen=shelf.on_hand,
        join_pieces=False,
        position="",
        reason_code=ReasonCode.FOUND,
        reference="",
        override="",
        expected_back_on=None,
    )
