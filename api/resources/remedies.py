"""How the refusals of the ledger are answered: a bad member, or a conflict with what can be done about it."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.urls import reverse
from rest_framework.request import Request

from api.errors import Conflict, field_errors, pointer
from inventory.ledger import (
    AlreadyBooked,
    AlreadyReversed,
    LedgerRefusal,
    Movement,
    PiecesTooShort,
    ReservationEnded,
    Reserved,
    StockShort,
)
from inventory.models import Reservation

OF_THE_STATE = (StockShort, PiecesTooShort, AlreadyBooked, AlreadyReversed, ReservationEnded)
MEMBERS = {"pieces": "piece_links"}
"""Where the ledger's word for a field is not the name of the member."""


@contextmanager
def ledger_refusals(request: Request, movement: Movement | None = None) -> Iterator[None]:
    try:
        yield
    except LedgerRefusal as refusal:
        if not isinstance(refusal, OF_THE_STATE):
            member = MEMBERS.get(refusal.field, refusal.field)
            raise field_errors({pointer(member): refusal.sentence}) from refusal
        raise conflict(request, refusal, movement) from refusal


def conflict(request: Request, refusal: LedgerRefusal, movement: Movement | None) -> Conflict:
    extra: dict[str, object] = {"remedies": remedies(request, refusal, movement)}
    if isinstance(refusal, StockShort):
        extra |= {name: getattr(refusal, name) for name in ("asked", "available", "on_hand", "reserved")}
    if isinstance(refusal, Reserved):
        extra["reservations"] = holds(refusal.reservations)
    if isinstance(refusal, PiecesTooShort):
        extra["piece_links"] = list(refusal.pieces)
    if isinstance(refusal, AlreadyBooked):
        extra["movement"] = refusal.entry.pk
    return Conflict(refusal.sentence, **extra)


def holds(reservations: Sequence[Reservation]) -> list[dict[str, Any]]:
    return [
        {"id": hold.pk, "work_order": hold.work_order, "open_quantity": hold.open_quantity}
        for hold in reservations
    ]


def remedies(request: Request, refusal: LedgerRefusal, movement: Movement | None) -> list[dict[str, Any]]:
    """Requests that would set right what stands in the way, ready to be sent once they say what was found."""
    short = isinstance(refusal, StockShort) and not isinstance(refusal, Reserved)
    return [count_remedy(request, refusal, movement)] if short and movement is not None else []  # type: ignore[arg-type]


def count_remedy(request: Request, refusal: StockShort, movement: Movement) -> dict[str, Any]:
    """Count the shelf; `counted` is the least that must lie there, to be replaced by what does."""
    held_for_others = refusal.on_hand - refusal.available
    return {
        "action": "count",
        "method": "POST",
        "href": request.build_absolute_uri(reverse("movement-list")),
        "body": {
            "kind": "count",
            "item": movement.item.stock_number,
            "storeroom": movement.storeroom.code,
            "condition": str(movement.condition),
            "counted": refusal.asked + held_for_others,
            "seen": refusal.on_hand,
            "work_order": movement.work_order or None,
        },
    }
