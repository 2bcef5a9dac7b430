"""The only writer of requests: what was asked for, and what came of it. One that was wrong is retracted, not edited."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from drives.models import Position, Request, RequestResult
from inventory.models import Item, Storeroom
from inventory.models.fields import GREATEST_QUANTITY
from inventory.plumbing.record_validation import RecordRefusal, refuse_moment, refuse_unsound_columns

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
"""What a request says; the same reference with anything else is another request."""
GAVE_NOTHING = (RequestResult.NOT_FILLED, RequestResult.NOT_STOCKED)
AT_ONCE = 400


class RequestRefusal(RecordRefusal):
    """The request says what cannot be; nothing was recorded."""


class ReferenceTaken(RequestRefusal):
    """The reference is known and says something else: `request`."""

    def __init__(self, request: Request, differs: Sequence[str]) -> None:
        words = ", ".join(name.removesuffix("_id") for name in differs)
        super().__init__(
            "reference",
            f"{request.reference} is recorded already with another {words}: "
            "retract that one and give the right one a reference of its own.",
        )
        self.request = request


class Retracted(RequestRefusal):
    """The request was retracted already."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """`is_known`: the reference was recorded before and says the same."""

    request: Request
    is_known: bool = False


def record_request(
    *,
    at: datetime,
    storeroom: Storeroom,
    result: str,
    item: Item | None = None,
    position: Position | None = None,
    quantity: int = 1,
    issued_item: Item | None = None,
    is_planned: bool | None = None,
    work_order: str = "",
    reference: str = "",
    note: str = "",
    now: datetime | None = None,
) -> Recorded:
    """Record what somebody asked for; a reference known already gives the record that stands."""
    draft = Request(
        at=at,
        storeroom=storeroom,
        result=result,
        item=item,
        position=position,
        quantity=quantity,
        issued_item=issued_item,
        is_planned=is_planned,
        work_order=work_order,
        reference=reference,
        note=note,
    )
    try:
        (outcome,) = record_many([draft], now=now)
    except IntegrityError:
        (outcome,) = record_many([draft], now=now)  # Another sender recorded the reference in between.
    if isinstance(outcome, RequestRefusal):
        raise outcome
    return outcome


def record_many(drafts: Sequence[Request], *, now: datetime | None = None) -> list[Recorded | RequestRefusal]:
    """The same for many drafts, not yet saved, in few statements; each gets its own answer."""
    at = now or timezone.now()
    refusals = [fault_of(draft, at) for draft in drafts]
    sound = [draft for draft, refusal in zip(drafts, refusals, strict=True) if refusal is None]
    with transaction.atomic():
        known = _known({draft.reference for draft in sound if draft.reference})
        taken = [_take(draft, known) for draft in sound]
        new = [one.request for one in taken if isinstance(one, Recorded) and not one.is_known]
        Request.objects.bulk_create(new, batch_size=AT_ONCE)
    answers = iter(taken)
    return [refusal or next(answers) for refusal in refusals]


def retract(request: Request, at: datetime, *, now: datetime | None = None) -> Request:
    """Take a request out of the demand; it stays to be read."""
    try:
        refuse_moment("at", at, now or timezone.now())
    except RecordRefusal as refusal:
        raise RequestRefusal(refusal.field, refusal.sentence) from refusal
    with transaction.atomic():
        held = Request.objects.select_for_update(of=("self",)).get(pk=request.pk)
        if held.retracted_at is not None:
            raise Retracted(
                "request",
                f"This request was retracted on {held.retracted_at:%Y-%m-%d} already: it counts no more.",
            )
        if at < held.at:
            raise RequestRefusal("at", f"at must not be before {held.at:%Y-%m-%d}, when it was asked for.")
        held.retracted_at = at
        held.save(update_fields=["retracted_at", "updated_at"])
    return held


def fault_of(draft: Request, now: datetime) -> RequestRefusal | None:
    """What is wrong with a request by itself."""
    try:
        _check_what_was_asked(draft)
        refuse_moment("at", draft.at, now)
        refuse_unsound_columns(draft)
        _check_what_was_given(draft)
    except RecordRefusal as refusal:
        return RequestRefusal(refusal.field, refusal.sentence)
    return None


def _check_what_was_asked(draft: Request) -> None:
    if draft.item_id is None and draft.position_id is None:
        raise RecordRefusal("item", "Say what was asked for: an item, a position or both.")
    if not 1 <= draft.quantity <= GREATEST_QUANTITY:
        raise RecordRefusal("quantity", f"quantity must lie from 1 to {GREATEST_QUANTITY}.")
    if draft.result not in RequestResult.values:
        raise RecordRefusal("result", f"result must be one of {', '.join(RequestResult.values)}.")


def _check_what_was_given(draft: Request) -> None:
    given, asked = draft.issued_item_id, draft.item_id
    if given is None:
        return
    if draft.result in GAVE_NOTHING:
        raise RecordRefusal(
            "issued_item",
            f"{draft.result} says that nothing was given: leave issued_item out, or mend the result.",
        )
    if draft.result == RequestResult.FILLED_BY_SUBSTITUTE and given == asked:
        raise RecordRefusal(
            "issued_item", "The item itself was given: that is filled, not filled_by_substitute."
        )
    if draft.result == RequestResult.FILLED and asked not in (None, given):
        raise RecordRefusal(
            "issued_item", "Another item was given: that is filled_by_substitute, not filled."
        )


def _known(references: set[str]) -> dict[str, Request]:
    asked = sorted(references)
    found: dict[str, Request] = {}
    for start in range(0, len(asked), AT_ONCE):
        for request in Request.objects.filter(reference__in=asked[start : start + AT_ONCE]):
            found[request.reference] = request
    return found


def _take(draft: Request, known: dict[str, Request]) -> Recorded | ReferenceTaken:
    """The record that stands for the draft; nothing is saved yet."""
    if not draft.reference:
        return Recorded(draft)
    stands = known.setdefault(draft.reference, draft)
    if stands is draft:
        return Recorded(draft)
    differs = [name for name in CONTENT if getattr(stands, name) != getattr(draft, name)]
    return ReferenceTaken(stands, differs) if differs else Recorded(stands, is_known=True)
