"""Answers to refusals of the ledger: 400 for a wrong member, or 409 with what can be done about it."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from rest_framework.request import Request

from api.edge.errors import Conflict, field_refusal, state_refusal
from api.wire.recorded_verdicts import verdict_as_json
from drives.models import EndedBy, Installation
from drives.service_record.pieces_out import PieceInMachine
from drives.service_record.reservation_override import may_override_reservation
from drives.substitutes.fitting_verdict import VerdictRefusal
from inventory.catalogue.plant_practice import allowed_chain_joints
from inventory.models import MovementKind, Reservation
from inventory.stores.ledger import (
    AlreadyBooked,
    AlreadyReversed,
    LedgerRefusal,
    MoreThanLeft,
    Movement,
    NotReversible,
    PiecesTooShort,
    ReservationEnded,
    ReservationGone,
    ReservedForOthers,
    StockShort,
)

OF_THE_STATE = (
    *(StockShort, PiecesTooShort, AlreadyBooked, AlreadyReversed, MoreThanLeft, NotReversible),
    ReservationEnded,
)


@contextmanager
def ledger_refusals(request: Request, movement: Movement | None = None) -> Iterator[None]:
    """Refusals by the state of the shelf, with their remedies; any other is answered as it is."""
    try:
        yield
    except OF_THE_STATE as refusal:
        raise conflict(request, refusal, movement) from refusal
    except PieceInMachine as refusal:
        unit = refusal.installation
        found = [*reversal_of_others(request, refusal), *fitted_unit_remedies(request, unit)]
        raise state_refusal(refusal, installation=unit.pk, remedies=found) from refusal


@contextmanager
def verdict_refusals(request: Request) -> Iterator[None]:
    """A verdict that is out of date, or an approval that is missing, is a conflict; a missing reason is a bad member."""
    try:
        yield
    except VerdictRefusal as refusal:
        answer: Any = state_refusal(refusal)
        if refusal.field:
            answer = field_refusal(refusal, refusal.field)
        answer.extra = {**getattr(answer, "extra", {}), "verdict": verdict_as_json(refusal.verdict)}
        raise answer from refusal


def conflict(request: Request, refusal: LedgerRefusal, movement: Movement | None) -> Conflict:
    extra: dict[str, object] = {"remedies": remedies(request, refusal, movement)}
    if isinstance(refusal, StockShort):
        extra |= {name: getattr(refusal, name) for name in ("requested", "available", "on_hand", "reserved")}
    if isinstance(refusal, ReservedForOthers):
        extra["reservations"] = holds(refusal.reservations)
    if isinstance(refusal, PiecesTooShort):
        extra["piece_links"] = list(refusal.pieces)
    if isinstance(refusal, AlreadyBooked):
        extra["movement"] = refusal.entry.pk
    return state_refusal(refusal, **extra)


def holds(reservations: Sequence[Reservation]) -> list[dict[str, Any]]:
    return [
        {"id": hold.pk, "work_order": hold.work_order, "open_quantity": hold.open_quantity}
        for hold in reservations
    ]


def remedies(request: Request, refusal: LedgerRefusal, movement: Movement | None) -> list[dict[str, Any]]:
    """Requests that set right what stands in the way; each can be sent as it is."""
    if movement is None:
        return []
    if isinstance(refusal, ReservationGone):
        return [remedy(request, "issue_available", "movement-list", {"kind": "issue", **body_of(movement)})]
    if isinstance(refusal, PiecesTooShort):
        return joined_remedy(request, refusal, movement)
    if not isinstance(refusal, StockShort):
        return []
    if movement.kind == MovementKind.ISSUE:
        return issue_remedies(request, refusal, movement)
    if movement.kind == MovementKind.COUNT:
        return [not_there_remedy(request, movement)] if movement.counted == 0 else []
    return [] if isinstance(refusal, ReservedForOthers) else [count_remedy(request, refusal, movement)]


def issue_remedies(request: Request, refusal: StockShort, movement: Movement) -> list[dict[str, Any]]:
    found = []
    if isinstance(refusal, ReservedForOthers):
        if may_override_reservation(movement.work_order):
            found.append(override_remedy(request, movement))
    else:
        found.append(remedy(request, "found", "movement-found", body_of(movement)))
    return [*found, not_there_remedy(request, movement)]


def remedy(request: Request, action: str, name: str, body: dict[str, Any], **address: Any) -> dict[str, Any]:
    return {
        "action": action,
        "method": "POST",
        "href": request.build_absolute_uri(reverse(name, kwargs=address)),
        "body": body,
    }


def reversal_of_others(request: Request, refusal: PieceInMachine) -> list[dict[str, Any]]:
    """The pieces of the issue that are in no machine; why may be put in the caller's own words."""
    if refusal.others < 1:
        return []
    body = {"quantity": refusal.others, "reason": _("The other pieces were not needed")}
    return [
        remedy(request, "reverse_others", "movement-reverse", body, pk=refusal.installation.stock_entry_id)
    ]


def fitted_unit_remedies(request: Request, unit: Installation) -> list[dict[str, Any]]:
    """The unit came off, or it was never fitted; how it ended and why may be put in the caller's own words."""
    removal = {"removed_at": timezone.now().isoformat(timespec="seconds"), "ended_by": str(EndedBy.UNKNOWN)}
    never = {"reason": _("It was never fitted")}
    return [
        remedy(request, "remove", "installation-remove", removal, pk=unit.pk),
        remedy(request, "never_fitted", "installation-never-fitted", never, pk=unit.pk),
    ]


def override_remedy(request: Request, movement: Movement) -> dict[str, Any]:
    """Take what is reserved; the reason may be put in the caller's own words."""
    body = {
        "kind": "issue",
        **body_of(movement),
        "override": {"reason": movement.reason or _("Corrective work that cannot wait")},
    }
    return remedy(request, "override_reservation", "movement-list", body)


def not_there_remedy(request: Request, movement: Movement) -> dict[str, Any]:
    """The shelf is empty, whatever the book says: what else could serve is answered with it."""
    names = ("item", "storeroom", "condition", "work_order", "position")
    body = {name: value for name, value in body_of(movement).items() if name in names}
    return remedy(request, "not_there", "movement-not-there", body)


def joined_remedy(request: Request, refusal: PiecesTooShort, movement: Movement) -> list[dict[str, Any]]:
    """Join the pieces, where together they are long enough; for an issue no more of them than the plant allows."""
    may_join = len(refusal.pieces)
    if movement.kind == MovementKind.ISSUE:
        may_join = allowed_chain_joints() + 1
    enough = sum(refusal.pieces[:may_join]) >= (movement.quantity or 0) and movement.piece is None
    body = {"kind": str(movement.kind), **body_of(movement), "join_pieces": True}
    return [remedy(request, "join_pieces", "movement-list", body)] if enough else []


def count_remedy(request: Request, refusal: StockShort, movement: Movement) -> dict[str, Any]:
    """Count the shelf; `counted` is the least that must lie there, to be replaced by what does."""
    held_for_others = refusal.on_hand - refusal.available
    body = {
        "kind": "count",
        "item": movement.item.stock_number,
        "storeroom": movement.storeroom.code,
        "condition": str(movement.condition),
        "counted": refusal.requested + held_for_others,
        "seen": refusal.on_hand,
        "work_order": movement.work_order or None,
    }
    return remedy(request, "count", "movement-list", body)


def body_of(movement: Movement) -> dict[str, Any]:
    """Members of the requested movement, without its kind."""
    at, back = movement.occurred_at, movement.expected_back_on
    members: dict[str, Any] = {
        "item": movement.item.stock_number,
        "storeroom": movement.storeroom.code,
        "condition": str(movement.condition),
        "quantity": movement.quantity,
        "to_storeroom": movement.to_storeroom.code if movement.to_storeroom else None,
        "to_condition": movement.to_condition,
        "piece": movement.piece.pk if movement.piece else None,
        "join_pieces": movement.join_pieces,
        "work_order": movement.work_order,
        "position": movement.position,
        "reason": movement.reason,
        "reason_code": str(movement.reason_code),
        "reference": movement.reference,
        "expected_back_on": back.isoformat() if back else None,
        "occurred_at": at.isoformat() if at else None,
    }
    return {name: value for name, value in members.items() if value not in (None, "", False)}
