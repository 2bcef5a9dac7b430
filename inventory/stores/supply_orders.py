"""The only writer of supply orders. Messages of purchasing may arrive in any order, and repeatedly.

The message with the newest `updated_at` counts as a whole, so the state does not depend on the order of arrival.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import IntegerField, OuterRef, QuerySet, Subquery, Sum
from django.db.models.functions import Coalesce
from django.utils import timezone

from inventory.facts import fact
from inventory.models import DeliveryCheck, SupplyOrder, SupplyStatus
from inventory.plumbing.record_validation import (
    RecordRefusal,
    refuse_moment,
    refuse_quantity,
    refuse_unsound_columns,
)

NOT_CONTENT = {"id", "created_at", "updated_at", "source", "external_id", "source_updated_at"}
CONTENT = tuple(
    column.attname for column in SupplyOrder._meta.concrete_fields if column.name not in NOT_CONTENT
)
"""The columns of a message apart from its version."""
MESSAGE_NAMES = {"received_quantity": "received", "source_updated_at": "updated_at"}
"""Columns that have another name in the message."""
AT_ONCE = 400
OrderKey = tuple[str, str]


class SupplyRefusal(RecordRefusal):
    """Nothing was recorded of the message."""


@dataclass(frozen=True, slots=True)
class Upserted:
    """`applied`: the message was newer and counts now; `is_same`: the order equals the message, whoever sent it."""

    order: SupplyOrder
    applied: bool
    created: bool = False
    is_same: bool = True


def upsert(message: SupplyOrder, *, now: datetime | None = None) -> Upserted:
    """Record one message, an unsaved draft, unless one as new is recorded already."""
    try:
        (outcome,) = upsert_many([message], now=now)
    except IntegrityError:
        # Another sender inserted the order between the look-up and the insert: the second run finds and locks it.
        (outcome,) = upsert_many([message], now=now)
    if isinstance(outcome, SupplyRefusal):
        raise outcome
    return outcome


def upsert_many(
    messages: Sequence[SupplyOrder], *, now: datetime | None = None
) -> list[Upserted | SupplyRefusal]:
    """Record many messages, unsaved drafts, in few statements; each gets its own answer."""
    at = now or timezone.now()
    refusals = [refusal_of(message, at) for message in messages]
    sound = [message for message, refusal in zip(messages, refusals, strict=True) if refusal is None]
    with transaction.atomic():
        known = _locked(_key(message) for message in sound)
        taken = [_take(message, known) for message in sound]
        _save([answer.order for answer in taken if answer.applied], at)
    answers = iter(taken)
    return [refusal or next(answers) for refusal in refusals]


def receive(order: SupplyOrder, quantity: int, at: datetime) -> None:
    """Count pieces that a check of a delivery let pass; the order is locked, and as many are outstanding."""
    order.received_quantity += quantity
    order.received_at = max(order.received_at or at, at)
    if not order.outstanding:
        order.status = SupplyStatus.RECEIVED
    _save_received(order)


def take_back(order: SupplyOrder, quantity: int) -> None:
    """The pieces were not received after all, and are open again; the order is locked."""
    order.received_quantity = max(order.received_quantity - quantity, 0)
    if not order.received_quantity:
        order.received_at = None
    if order.status == SupplyStatus.RECEIVED:
        order.status = SupplyStatus.OPEN
    _save_received(order)


def _save_received(order: SupplyOrder) -> None:
    order.save(update_fields=["received_quantity", "received_at", "status", "updated_at"])


def refusal_of(message: SupplyOrder, now: datetime) -> SupplyRefusal | None:
    """Whether the message itself is refused; this never depends on earlier messages."""
    try:
        _check_names(message)
        _check_quantities(message)
        refuse_unsound_columns(message)
        _check_price_and_status(message)
        _check_moments(message, now)
        _check_version(message, now)
    except RecordRefusal as refusal:
        return SupplyRefusal(refusal.fact, field=MESSAGE_NAMES.get(refusal.field, refusal.field))
    return None


def _check_names(message: SupplyOrder) -> None:
    for name in ("source", "external_id"):
        if not getattr(message, name).strip():
            raise RecordRefusal(fact("order_name_empty", field=name), field=name)


def _check_version(message: SupplyOrder, now: datetime) -> None:
    if message.source_updated_at is None:
        raise RecordRefusal(fact("order_version_missing"), field="updated_at")
    refuse_moment("updated_at", message.source_updated_at, now)


def _check_quantities(message: SupplyOrder) -> None:
    # Before the columns: PostgreSQL has a limit of its own for integers, and the refusal must be the same on both databases.
    ordered, received = message.quantity, message.received_quantity
    refuse_quantity("quantity", ordered)
    if received > ordered:
        raise RecordRefusal(
            fact("received_above_ordered", received=received, ordered=ordered), field="received"
        )


def _check_price_and_status(message: SupplyOrder) -> None:
    if message.unit_price is not None and message.unit_price < 0:
        raise RecordRefusal(fact("value_negative", field="unit_price"), field="unit_price")
    if message.status == SupplyStatus.RECEIVED and message.received_quantity < 1:
        raise RecordRefusal(fact("received_order_without_quantity"), field="received")


def _check_moments(message: SupplyOrder, now: datetime) -> None:
    refuse_moment("ordered_at", message.ordered_at, now)
    came = message.received_at
    if came is None:
        if message.status == SupplyStatus.RECEIVED:
            raise RecordRefusal(fact("received_order_without_date"), field="received_at")
        return
    refuse_moment("received_at", came, now)
    if came < message.ordered_at:
        raise RecordRefusal(fact("received_before_ordered"), field="received_at")
    if message.received_quantity < 1:
        raise RecordRefusal(fact("received_date_without_quantity"), field="received")


def _key(order: SupplyOrder) -> OrderKey:
    return order.source, order.external_id


def _locked(keys: Iterable[OrderKey]) -> dict[OrderKey, SupplyOrder]:
    """The orders recorded already, their rows locked."""
    keys_wanted = sorted(set(keys))
    found: dict[OrderKey, SupplyOrder] = {}
    for start in range(0, len(keys_wanted), AT_ONCE):
        batch = keys_wanted[start : start + AT_ONCE]
        rows = SupplyOrder.objects.filter(
            source__in={source for source, _ in batch}, external_id__in={number for _, number in batch}
        )
        # Locked in the order of their ids, so that two senders of the same orders wait for each other and never in a circle.
        for order in _with_checked(rows).order_by("pk").select_for_update(of=("self",)):
            found[_key(order)] = order
    return {key: found[key] for key in keys_wanted if key in found}


def _with_checked(orders: QuerySet[SupplyOrder]) -> Any:
    """Each order with `checked_in`, the pieces that checks of its deliveries have received."""
    checks = DeliveryCheck.objects.filter(order=OuterRef("pk")).order_by().values("order")
    total = checks.annotate(total=Sum("received_quantity")).values("total")
    return orders.annotate(checked_in=Coalesce(Subquery(total, output_field=IntegerField()), 0))


def _take(message: SupplyOrder, known: dict[OrderKey, SupplyOrder]) -> Upserted:
    """The newer of the message and the known order counts; nothing is saved yet."""
    order = known.setdefault(_key(message), message)
    if order is message:
        return Upserted(order, applied=True, created=True)
    _keep_checked(message, order)
    is_same = all(getattr(order, name) == getattr(message, name) for name in CONTENT)
    if not _is_newer(message, order):
        return Upserted(order, applied=False, is_same=is_same)
    order.source_updated_at = message.source_updated_at
    for name in CONTENT:
        setattr(order, name, getattr(message, name))
    return Upserted(order, applied=True)


def _keep_checked(message: SupplyOrder, order: SupplyOrder) -> None:
    """What a check of a delivery has received is not taken back by a message of a sender who does not know of it yet."""
    checked_in = min(getattr(order, "checked_in", 0), message.quantity)
    if message.received_quantity >= checked_in:
        return
    message.received_quantity = checked_in
    came = message.received_at or order.received_at or message.ordered_at
    message.received_at = max(came, message.ordered_at)
    if message.status == SupplyStatus.OPEN and not message.outstanding:
        message.status = SupplyStatus.RECEIVED


def _is_newer(message: SupplyOrder, order: SupplyOrder) -> bool:
    recorded, sent = order.source_updated_at, message.source_updated_at
    return recorded is None or (sent is not None and sent > recorded)


def _save(written: Iterable[SupplyOrder], at: datetime) -> None:
    orders = list({_key(order): order for order in written}.values())
    changed = [order for order in orders if order.pk is not None]
    SupplyOrder.objects.bulk_create([order for order in orders if order.pk is None], batch_size=AT_ONCE)
    for order in changed:
        order.updated_at = at
    names = [SupplyOrder._meta.get_field(name).name for name in CONTENT]
    SupplyOrder.objects.bulk_update(changed, [*names, "source_updated_at", "updated_at"], batch_size=AT_ONCE)
