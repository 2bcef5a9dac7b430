"""The only writer of supply orders: what purchasing says, taken in any order and as often as it is sent.

The sender's `updated_at` decides: the newest message holds whole, so the state never depends on the way they came.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import Item, Storeroom, SupplyOrder, SupplyStatus
from inventory.models.fields import GREATEST_QUANTITY
from inventory.plumbing.record_validation import RecordRefusal, refuse_moment, refuse_unsound_columns

CONTENT = (
    "item_id",
    "storeroom_id",
    "quantity",
    "received_quantity",
    "ordered_at",
    "promised_on",
    "received_at",
    "emergency",
    "unit_price",
    "currency",
    "status",
)
"""What a message says of its order, the version apart."""
WORDS = {"received_quantity": "received", "source_updated_at": "updated_at"}
"""Where the sender's word for a column is another."""
AT_ONCE = 400
Key = tuple[str, str]


class SupplyRefusal(RecordRefusal):
    """The message says what cannot be; nothing was recorded."""


@dataclass(frozen=True, slots=True)
class Upserted:
    """`applied`: the message was newer and holds now; `is_same`: what it says holds, whoever said it."""

    order: SupplyOrder
    applied: bool
    created: bool = False
    is_same: bool = True


def upsert(
    source: str,
    external_id: str,
    *,
    updated_at: datetime | None,
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    ordered_at: datetime,
    promised_on: date | None = None,
    received: int = 0,
    received_at: datetime | None = None,
    emergency: bool = False,
    unit_price: Decimal | None = None,
    currency: str = "EUR",
    status: str = SupplyStatus.OPEN,
    now: datetime | None = None,
) -> Upserted:
    """Record what the sender says of one order, unless something as new is recorded already."""
    message = SupplyOrder(
        source=source,
        external_id=external_id,
        source_updated_at=updated_at,
        item=item,
        storeroom=storeroom,
        quantity=quantity,
        ordered_at=ordered_at,
        promised_on=promised_on,
        received_quantity=received,
        received_at=received_at,
        emergency=emergency,
        unit_price=unit_price,
        currency=currency,
        status=status,
    )
    try:
        (outcome,) = upsert_many([message], now=now)
    except IntegrityError:
        (outcome,) = upsert_many([message], now=now)  # Another sender recorded the order in between.
    if isinstance(outcome, SupplyRefusal):
        raise outcome
    return outcome


def upsert_many(
    messages: Sequence[SupplyOrder], *, now: datetime | None = None
) -> list[Upserted | SupplyRefusal]:
    """The same for many messages in few statements; each gets its own answer. They are drafts, not yet saved."""
    at = now or timezone.now()
    refusals = [fault_of(message, at) for message in messages]
    sound = [message for message, refusal in zip(messages, refusals, strict=True) if refusal is None]
    with transaction.atomic():
        known = _locked(_key(message) for message in sound)
        taken = [_take(message, known) for message in sound]
        _save([answer.order for answer in taken if answer.applied], at)
    answers = iter(taken)
    return [refusal or next(answers) for refusal in refusals]


def fault_of(message: SupplyOrder, now: datetime) -> SupplyRefusal | None:
    """What is wrong with a message by itself: whether it is refused never hangs on what came before it."""
    try:
        _check_names(message)
        refuse_unsound_columns(message)
        _check_quantities(message)
        _check_moments(message, now)
        _check_version(message, now)
    except RecordRefusal as refusal:
        return SupplyRefusal(WORDS.get(refusal.field, refusal.field), refusal.sentence)
    return None


def _check_names(message: SupplyOrder) -> None:
    for name in ("source", "external_id"):
        if not getattr(message, name).strip():
            raise RecordRefusal(name, f"{name} must not be empty: it tells one order from another.")


def _check_version(message: SupplyOrder, now: datetime) -> None:
    if message.source_updated_at is None:
        raise RecordRefusal(
            "updated_at", "Give updated_at, when the sender last changed the order: it tells new from old."
        )
    refuse_moment("updated_at", message.source_updated_at, now)


def _check_quantities(message: SupplyOrder) -> None:
    ordered, received = message.quantity, message.received_quantity
    if not 1 <= ordered <= GREATEST_QUANTITY:
        raise RecordRefusal("quantity", f"quantity must lie from 1 to {GREATEST_QUANTITY}.")
    if received > ordered:
        raise RecordRefusal(
            "received",
            f"received is {received} of {ordered} ordered: if more came than was ordered, send it as quantity too.",
        )
    if message.unit_price is not None and message.unit_price < 0:
        raise RecordRefusal("unit_price", "unit_price must be 0 or more.")
    if message.status == SupplyStatus.RECEIVED and received < 1:
        raise RecordRefusal("received", "Say in received how many came, or send the order as cancelled.")


def _check_moments(message: SupplyOrder, now: datetime) -> None:
    refuse_moment("ordered_at", message.ordered_at, now)
    came = message.received_at
    if came is None:
        if message.status == SupplyStatus.RECEIVED:
            raise RecordRefusal(
                "received_at",
                "Say in received_at when the last piece was on the shelf: lead times rest on it.",
            )
        return
    refuse_moment("received_at", came, now)
    if came < message.ordered_at:
        raise RecordRefusal("received_at", "received_at must not be before ordered_at.")
    if message.received_quantity < 1:
        raise RecordRefusal("received", "received_at says that something came: say in received how many.")


def _key(order: SupplyOrder) -> Key:
    return order.source, order.external_id


def _locked(keys: Iterable[Key]) -> dict[Key, SupplyOrder]:
    """The orders recorded already, their rows held in one order."""
    asked = sorted(set(keys))
    found: dict[Key, SupplyOrder] = {}
    for start in range(0, len(asked), AT_ONCE):
        batch = asked[start : start + AT_ONCE]
        rows = SupplyOrder.objects.filter(
            source__in={source for source, _ in batch}, external_id__in={number for _, number in batch}
        )
        for order in rows.order_by("pk").select_for_update(of=("self",)):
            found[_key(order)] = order
    return {key: found[key] for key in asked if key in found}


def _take(message: SupplyOrder, known: dict[Key, SupplyOrder]) -> Upserted:
    """Let the newer of the message and what is known hold; nothing is saved yet."""
    order = known.setdefault(_key(message), message)
    if order is message:
        return Upserted(order, applied=True, created=True)
    is_same = all(getattr(order, name) == getattr(message, name) for name in CONTENT)
    if not _is_newer(message, order):
        return Upserted(order, applied=False, is_same=is_same)
    order.source_updated_at = message.source_updated_at
    for name in CONTENT:
        setattr(order, name, getattr(message, name))
    return Upserted(order, applied=True)


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
