"""The ways out when the book and the shelf differ at the counter: one request, all of it or nothing."""

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
from inventory.stores.counting.asking import ask_for_count
from inventory.stores.ledger.booking import book
from inventory.stores.ledger.locking import locked_shelf
from inventory.stores.ledger.movement import Booked, Movement, Who, checked
from inventory.stores.ledger.shelf import Shelf


@dataclass(frozen=True, slots=True)
class Found:
    """The count that set the book right (none where the reference was booked before), and the issue."""

    count: Booked | None
    issue: Booked
    task: CountTask | None


@dataclass(frozen=True, slots=True)
class NotThere:
    count: Booked
    task: CountTask


def found(issue: Movement, *, counted: int | None = None, at: datetime | None = None) -> Found:
    """Count the shelf and issue from it together: what lies there with the piece in the hand is `counted`.

    Left out, it is the least that makes the issue right, with what is held back for others left where it is.
    """
    now = at or timezone.now()
    checked(issue, now)
    with transaction.atomic():
        if _is_booked(issue):
            return Found(None, book(issue, at=now), None)
        shelf = locked_shelf(issue.item, issue.storeroom, issue.condition)
        lying = _least(shelf, issue) if counted is None else counted
        count = book(_count_before(issue, shelf, lying), at=now)
        issued = book(issue, at=now)
        task = ask_for_count(issue.item, issue.storeroom, issue.condition, cause=CountCause.FOUND, at=now)
    return Found(count, issued, task)


def not_there(
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
) -> NotThere:
    """Count the shelf to nothing; reservations that relied on it are kept as short, and told."""
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
        task = ask_for_count(item, storeroom, condition, cause=CountCause.NOT_THERE, at=now)
    return NotThere(count, task)


def _is_booked(issue: Movement) -> bool:
    return bool(issue.reference) and StockEntry.objects.filter(reference=issue.reference).exists()


def _least(shelf: Shelf, issue: Movement) -> int:
    quantity = issue.quantity or 0
    if shelf.is_in_links:
        return shelf.on_hand + quantity
    own = sum(hold.open_quantity for hold in shelf.held_for(issue.work_order))
    return max(shelf.on_hand, quantity + shelf.reserved - own)


def _count_before(issue: Movement, shelf: Shelf, lying: int) -> Movement:
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
