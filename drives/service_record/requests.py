"""The only writer of requests for parts and their results. A wrong one is retracted, not edited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from drives.models import Request, RequestResult
from inventory.facts import fact
from inventory.plumbing.record_validation import (
    RecordRefusal,
    day,
    refuse_moment,
    refuse_quantity,
    refuse_unsound_columns,
)

CONTENT = (
    "at",
    "item_id",
    "position_id",
    "storeroom_id",
    "quantity",
    "result",
    "issued_item_id",
    "is_planned",
    "work_order",
    "note",
)
"""The content of a request; the same reference with other content is another request."""
NOTHING_ISSUED = (RequestResult.NOT_FILLED, RequestResult.NOT_STOCKED)
AT_ONCE = 400


class RequestRefusal(RecordRefusal):
    """Nothing was recorded of the request."""


class ReferenceTaken(RequestRefusal):
    """The reference belongs to a request with other content: `request`."""

    def __init__(self, request: Request, differs: Sequence[str]) -> None:
        names = tuple(name.removesuffix("_id") for name in differs)
        found = fact("reference_already_recorded", reference=request.reference, differs=names)
        super().__init__(found, field="reference")
        self.request = request


class AlreadyRetracted(RequestRefusal):
    pass


@dataclass(frozen=True, slots=True)
class RecordedRequest:
    """`is_known`: the same request was recorded before under its reference."""

    request: Request
    is_known: bool = False


def record_request(**columns: Any) -> RecordedRequest:
    """Record a request; a known reference gives the existing record."""
    draft = Request(**columns)
    try:
        (outcome,) = record_many([draft])
    except IntegrityError:
        # Another sender inserted the reference between the look-up and the insert: the second run finds it.
        (outcome,) = record_many([draft])
    if isinstance(outcome, RequestRefusal):
        raise outcome
    return outcome


def record_many(
    drafts: Sequence[Request], *, now: datetime | None = None
) -> list[RecordedRequest | RequestRefusal]:
    """Record many requests, unsaved drafts, in few statements; each gets its own answer."""
    at = now or timezone.now()
    refusals = [refusal_of(draft, at) for draft in drafts]
    sound = [draft for draft, refusal in zip(drafts, refusals, strict=True) if refusal is None]
    with transaction.atomic():
        known = _known({draft.reference for draft in sound if draft.reference})
        taken = [_take(draft, known) for draft in sound]
        new = [one.request for one in taken if isinstance(one, RecordedRequest) and not one.is_known]
        Request.objects.bulk_create(new, batch_size=AT_ONCE)
    answers = iter(taken)
    return [refusal or next(answers) for refusal in refusals]


def retract(request: Request, at: datetime, *, now: datetime | None = None) -> Request:
    """Take a request out of the demand; the record stays."""
    refuse_moment("at", at, now or timezone.now(), RequestRefusal)
    with transaction.atomic():
        # Locked and read again: of two retractions the second must see the first.
        held = Request.objects.select_for_update(of=("self",)).get(pk=request.pk)
        if held.retracted_at is not None:
            raise AlreadyRetracted(
                fact("request_already_retracted", retracted_on=day(held.retracted_at)), field="request"
            )
        if at < held.at:
            raise RequestRefusal(fact("retracted_before_request", requested_on=day(held.at)), field="at")
        held.retracted_at = at
        held.save(update_fields=["retracted_at", "updated_at"])
    return held


def refusal_of(draft: Request, now: datetime) -> RequestRefusal | None:
    """Whether the request itself is refused."""
    try:
        _check_requested(draft)
        refuse_moment("at", draft.at, now)
        refuse_unsound_columns(draft)
        _check_issued(draft)
    except RecordRefusal as refusal:
        return RequestRefusal(refusal.fact, field=refusal.field)
    return None


def _check_requested(draft: Request) -> None:
    if draft.item_id is None and draft.position_id is None:
        raise RecordRefusal(fact("request_without_item_or_position"), field="item")
    refuse_quantity("quantity", draft.quantity)


def _check_issued(draft: Request) -> None:
    issued, requested = draft.issued_item_id, draft.item_id
    if issued is None:
        return
    if draft.result in NOTHING_ISSUED:
        raise RecordRefusal(fact("issued_although_not_filled", result=str(draft.result)), field="issued_item")
    if draft.result == RequestResult.FILLED_BY_SUBSTITUTE and issued == requested:
        raise RecordRefusal(fact("substitute_is_the_item_itself"), field="issued_item")
    if draft.result == RequestResult.FILLED and requested not in (None, issued):
        raise RecordRefusal(fact("filled_with_another_item"), field="issued_item")


def _known(references: set[str]) -> dict[str, Request]:
    wanted = sorted(references)
    found: dict[str, Request] = {}
    for start in range(0, len(wanted), AT_ONCE):
        for request in Request.objects.filter(reference__in=wanted[start : start + AT_ONCE]):
            found[request.reference] = request
    return found


def _take(draft: Request, known: dict[str, Request]) -> RecordedRequest | ReferenceTaken:
    """The record for the draft, new or existing; nothing is saved yet."""
    if not draft.reference:
        return RecordedRequest(draft)
    existing = known.setdefault(draft.reference, draft)
    if existing is draft:
        return RecordedRequest(draft)
    differs = [name for name in CONTENT if getattr(existing, name) != getattr(draft, name)]
    return ReferenceTaken(existing, differs) if differs else RecordedRequest(existing, is_known=True)
