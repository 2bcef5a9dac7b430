"""The only writer of delivery checks: a delivery is judged, booked and counted for its order in one transaction.

What passes is received; everything else goes on hold with its reason, and its order stays open. Whoever books for an
order locks the order first, then the check, then what the ledger locks.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, NamedTuple

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.catalogue.ordered_part import OrderedPart, ordered_item
from inventory.facts import Fact, Refusal, fact
from inventory.identification.readings import Readings
from inventory.identification.receiving import (
    OWN_SIZES_MM,
    SEPARATING,
    ReceivingCheck,
    judge_delivery,
)
from inventory.models import (
    Condition,
    DeliveryCheck,
    DeliveryOutcome,
    MovementKind,
    StockEntry,
    SupplyOrder,
    SupplyStatus,
    Unit,
)
from inventory.plumbing.events import record
from inventory.plumbing.record_validation import RecordRefusal, refuse_moment, refuse_quantity
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from inventory.stores.ledger.movement import Who, check_text, name_of
from inventory.stores.supply_orders import receive, take_back

InWords = Callable[[tuple[Fact, ...]], str]
LONGEST_REFERENCE, LONGEST_REASON = 80, 200


class DeliveryRefusal(RecordRefusal):
    """Nothing was recorded of the delivery."""


class OrderNotOpen(DeliveryRefusal):
    """So many pieces are not outstanding: `order`."""

    def __init__(self, found: Fact, order: SupplyOrder) -> None:
        super().__init__(found, field="quantity")
        self.order = order


class DeliveryKnown(DeliveryRefusal):
    """The reference was used for another delivery: `delivery_check`."""

    def __init__(self, known: DeliveryCheck, differs: str) -> None:
        found = fact("delivery_already_recorded", reference=known.reference, differs=differs)
        super().__init__(found, field="reference")
        self.delivery_check = known


class NotSoManyHeld(DeliveryRefusal):
    pass


@dataclass(frozen=True, kw_only=True)
class IncomingDelivery:
    """What came for an order, with its teeth and rows counted and its sizes read; `wrong` is what else is wrong."""

    order: SupplyOrder
    quantity: int
    by: Who
    readings: Readings | None = None
    pieces: tuple[int, ...] = ()
    """Of chain: the links of each piece; none where it is one."""
    wrong: str = ""
    reference: str = ""
    at: datetime | None = None

    @property
    def delivered(self) -> dict[str, float | int]:
        """As it is kept."""
        read = self.readings
        return {} if read is None else {"teeth": read.teeth, "strands": read.strands or 1, **sizes_of(read)}


class Recorded(NamedTuple):
    """`is_known`: the same delivery was recorded before under its reference."""

    check: DeliveryCheck
    is_known: bool = False


class Judged(NamedTuple):
    outcome: str
    reasons: tuple[Fact, ...]
    could_be: tuple[str, ...]
    ordered: dict[str, Any]


def check_of_order(order: SupplyOrder) -> tuple[OrderedPart, ReceivingCheck] | Fact:
    """What to measure on a delivery for this order; a fact where nothing on record can be measured."""
    part = ordered_item(order.item)
    if isinstance(part, Fact):
        return part
    if order.item.unit == Unit.LINK:
        return fact("item_without_teeth_to_check", item=order.item.stock_number)
    try:
        return part, part.check()
    except Refusal as refusal:
        return refusal.fact


def judge(order: SupplyOrder, readings: Readings | None, wrong: str) -> Judged:
    """The verdict on a delivery. A part without teeth on record is judged by the words of whoever looked at it alone."""
    stated = (fact("delivery_stated_wrong", words=wrong),) if wrong else ()
    known = check_of_order(order)
    if wrong and order.item.unit == Unit.LINK:
        raise DeliveryRefusal(fact("delivery_of_chain", item=order.item.stock_number), field="wrong")
    if isinstance(known, Fact):
        if readings is not None:
            raise DeliveryRefusal(known, field="delivered")
        return Judged(DeliveryOutcome.SOMETHING_ELSE if wrong else DeliveryOutcome.PASSES, stated, (), {})
    part, check = known
    if readings is None and wrong:
        return Judged(DeliveryOutcome.SOMETHING_ELSE, stated, (), part.as_json())
    if readings is None or readings.strands is None:
        raise DeliveryRefusal(fact("delivery_not_counted", item=order.item.stock_number), field="delivered")
    verdict = judge_delivery(
        check, teeth=readings.teeth, strands=readings.strands, read_mm=sizes_of(readings)
    )
    outcome = DeliveryOutcome.SOMETHING_ELSE if wrong else DeliveryOutcome(verdict.outcome)
    could_be = (
        () if verdict.outcome == "passes" else tuple(dict.fromkeys(rim.name for rim in verdict.could_be))
    )
    return Judged(outcome, (*stated, *verdict.reasons), could_be, part.as_json())


def sizes_of(readings: Readings) -> dict[str, float]:
    names = (*SEPARATING, *OWN_SIZES_MM)
    return {name: value for name in names if (value := getattr(readings, name)) is not None}


def record_delivery(delivery: IncomingDelivery, *, in_words: InWords) -> Recorded:
    """Judge, book and record a delivery; one whose reference is known gives the existing check.

    `in_words` makes of the verdict the reason under which the ledger holds it.
    """
    try:
        return _record_once(delivery, in_words)
    except IntegrityError:
        if not delivery.reference:
            raise
        # Another sender recorded the reference between the look-up and the insert: the second run finds it.
        return _record_once(delivery, in_words)


def _record_once(delivery: IncomingDelivery, in_words: InWords) -> Recorded:
    now = timezone.now()
    at = _checked_input(delivery, now)
    with transaction.atomic():
        order = _locked_order(delivery.order.pk)
        if known := _known(delivery):
            return Recorded(known, is_known=True)
        refuse_not_open(order, delivery.quantity)
        if at < order.ordered_at:
            raise DeliveryRefusal(fact("delivery_before_order"), field="checked_at")
        found = judge(order, delivery.readings, delivery.wrong)
        passes = found.outcome == DeliveryOutcome.PASSES
        receipt = _receipt(delivery, order, at)
        if not passes:
            why = f"{receipt.reason}: {in_words(found.reasons)}"[:LONGEST_REASON]
            receipt = replace(receipt, condition=Condition.ON_HOLD, reason=why)
        booked = ledger.book(receipt, at=now)
        check = DeliveryCheck.objects.create(
            order=order,
            item=order.item,
            storeroom=order.storeroom,
            reference=delivery.reference,
            quantity=delivery.quantity,
            held_quantity=0 if passes else delivery.quantity,
            received_quantity=delivery.quantity if passes else 0,
            outcome=found.outcome,
            ordered=found.ordered,
            delivered=delivery.delivered,
            wrong=delivery.wrong,
            could_be=list(found.could_be),
            reasons=[reason.as_json() for reason in found.reasons],
            checked_at=at,
            checked_by_name=name_of(delivery.by),
        )
        check.movements.add(booked.entry)
        if passes:
            receive(order, delivery.quantity, at)
        _record_event("checked", check, now)
    return Recorded(check)


def release(check: DeliveryCheck, quantity: int, *, reason: str, by: Who) -> DeliveryCheck:
    """Held pieces turned out to be what was ordered: they are free, and received for the order."""
    now = timezone.now()
    with transaction.atomic():
        held = _locked_check(check, quantity, reason)
        refuse_not_open(held.order, quantity)
        moved = ledger.book(
            Movement(
                kind=MovementKind.TRANSFER,
                item=held.order.item,
                storeroom=held.storeroom,
                to_storeroom=held.storeroom,
                condition=Condition.ON_HOLD,
                to_condition=Condition.NEW,
                quantity=quantity,
                reason=reason,
                by=by,
            ),
            at=now,
        )
        held.movements.add(*moved.entries)
        held.held_quantity -= quantity
        held.received_quantity += quantity
        receive(held.order, quantity, now)
        _settle(held, reason, by, now)
    return held


def send_back(check: DeliveryCheck, quantity: int, *, reason: str, by: Who) -> DeliveryCheck:
    """Held pieces go back to the supplier: their receipt is reversed, and the order goes on waiting for others."""
    with transaction.atomic():
        held = _locked_check(check, quantity, reason)
        reverse_booked(_receipt_of(held), quantity=quantity, reason=reason, by=by)
        held.refresh_from_db()
    return held


def undo(check: DeliveryCheck, *, reason: str, by: Who) -> None:
    """The delivery was booked by mistake: its receipt is reversed, and the order waits for all of it again."""
    with transaction.atomic():
        reverse_booked(_receipt_of(check), reason=reason, by=by)


def _receipt_of(check: DeliveryCheck) -> StockEntry:
    return check.movements.get(kind=MovementKind.RECEIPT, reverses__isnull=True)


def reverse_booked(
    entry: StockEntry, *, by: Who, reason: str, quantity: int | None = None, **how: Any
) -> ledger.Booked:
    """Reverse any movement; one of a delivery check is taken out of the check and of its order too."""
    with transaction.atomic():
        check = _check_of(entry, quantity)
        booked = ledger.reverse(entry, by=by, reason=reason, quantity=quantity, **how)
        if check is not None and not booked.is_replay:
            check.movements.add(*booked.entries)
            _take_out(check, entry, abs(booked.entry.change))
            _settle(check, reason, by, timezone.now())
    return booked


def _check_of(entry: StockEntry, quantity: int | None) -> DeliveryCheck | None:
    """The check of a movement that brought its pieces in or released them, locked as for a booking."""
    found = DeliveryCheck.objects.filter(movements=entry).first() if entry.reverses_id is None else None
    if found is None:
        return None
    check = _locked(found)
    left = check.quantity - check.sent_back_quantity if quantity is None else quantity
    if _is_held(check, entry) and left > check.held_quantity:
        raise NotSoManyHeld(_not_held(left, check), field="quantity")
    return check


def _is_held(check: DeliveryCheck, entry: StockEntry) -> bool:
    """Whether the movement put its pieces on hold."""
    return check.outcome != DeliveryOutcome.PASSES and entry.kind == MovementKind.RECEIPT


def _not_held(requested: int, check: DeliveryCheck) -> Fact:
    return fact("delivery_not_so_many_held", requested=requested, held=check.held_quantity)


def _take_out(check: DeliveryCheck, entry: StockEntry, quantity: int) -> None:
    """A reversed receipt has left the books; what a reversed transfer had released is held again."""
    if _is_held(check, entry):
        check.held_quantity -= quantity
    else:
        check.received_quantity -= quantity
        take_back(check.order, quantity)
    if entry.kind == MovementKind.RECEIPT:
        check.sent_back_quantity += quantity
    else:
        check.held_quantity += quantity


def _settle(check: DeliveryCheck, reason: str, by: Who, now: datetime) -> None:
    check.settled_at, check.settled_by_name, check.settled_reason = now, name_of(by), reason
    check.save()
    _record_event("settled", check, now)


def _receipt(delivery: IncomingDelivery, order: SupplyOrder, at: datetime) -> Movement:
    return Movement(
        kind=MovementKind.RECEIPT,
        item=order.item,
        storeroom=order.storeroom,
        quantity=delivery.quantity,
        pieces=delivery.pieces or None,
        reason=str(order),
        unit_cost=order.unit_price if order.currency == order.item.currency else None,
        by=delivery.by,
        occurred_at=at,
    )


def _checked_input(delivery: IncomingDelivery, now: datetime) -> datetime:
    refuse_quantity("quantity", delivery.quantity, refusal=DeliveryRefusal)
    check_text("reference", delivery.reference, LONGEST_REFERENCE)
    check_text("wrong", delivery.wrong, LONGEST_REASON)
    if delivery.at is None:
        return now
    refuse_moment("checked_at", delivery.at, now, DeliveryRefusal)
    return delivery.at


def _locked_order(key: int) -> SupplyOrder:
    rows = SupplyOrder.objects.select_related("item__specification", "storeroom")
    return rows.select_for_update(of=("self",)).get(pk=key)


def _locked(check: DeliveryCheck) -> DeliveryCheck:
    order = _locked_order(check.order_id)
    held = (
        DeliveryCheck.objects.select_related("storeroom", "item")
        .select_for_update(of=("self",))
        .get(pk=check.pk)
    )
    held.order = order
    return held


def _locked_check(check: DeliveryCheck, quantity: int, reason: str) -> DeliveryCheck:
    refuse_quantity("quantity", quantity, refusal=DeliveryRefusal)
    check_text("reason", reason, LONGEST_REASON)
    if not reason.strip():
        raise DeliveryRefusal(fact("delivery_reason_missing"), field="reason")
    held = _locked(check)
    if quantity > held.held_quantity:
        raise NotSoManyHeld(_not_held(quantity, held), field="quantity")
    return held


def refuse_not_open(order: SupplyOrder, quantity: int) -> None:
    """So many pieces must be outstanding."""
    number = str(order)
    if order.status != SupplyStatus.OPEN:
        raise OrderNotOpen(fact("delivery_for_closed_order", order=number, state=str(order.status)), order)
    if quantity > order.outstanding:
        found = fact(
            "delivery_above_outstanding", order=number, delivered=quantity, outstanding=order.outstanding
        )
        raise OrderNotOpen(found, order)


def _known(delivery: IncomingDelivery) -> DeliveryCheck | None:
    """The check of that reference; refuses a reference of another delivery."""
    if not delivery.reference:
        return None
    rows = DeliveryCheck.objects.select_related("order", "item", "storeroom")
    known = rows.filter(reference=delivery.reference).first()
    if known is None:
        return None
    compared = {
        "order": (delivery.order.pk, known.order_id),
        "quantity": (delivery.quantity, known.quantity),
        "delivered": (delivery.delivered, known.delivered),
        "wrong": (delivery.wrong, known.wrong),
    }
    differs = next((name for name, (sent, recorded) in compared.items() if sent != recorded), "")
    if differs:
        raise DeliveryKnown(known, differs)
    return known


def _record_event(what: str, check: DeliveryCheck, at: datetime) -> None:
    record(
        f"delivery.{what}",
        aggregate=f"delivery/{check.pk}",
        occurred_at=at,
        storeroom=check.storeroom.code,
        data={
            "delivery_check": check.pk,
            "source": check.order.source,
            "external_id": check.order.external_id,
            "supplier": check.order.supplier or None,
            "item": check.order.item.stock_number,
            "storeroom": check.storeroom.code,
            "outcome": str(check.outcome),
            "reasons": check.reasons,
            "quantity": check.quantity,
            "held": check.held_quantity,
            "received": check.received_quantity,
            "sent_back": check.sent_back_quantity,
            "recorded_by": check.settled_by_name or check.checked_by_name,
        },
    )
