"""Messages that wait: tried again when what they name may be there, discarded only by a person who says why."""

from datetime import datetime

from django.db import transaction
from django.db.models import F

from drives.feed import stored_messages as messages
from drives.feed.naming import SHORT, UNKNOWN
from drives.feed.orders import derive
from drives.feed.readings import derive_reading
from drives.feed.stored_messages import METER_READING, WORK_ORDER
from drives.models import InboundMessage, MessageOutcome, WorkOrder
from inventory.plumbing import events
from inventory.plumbing.record_validation import RecordRefusal


class NotWaiting(RecordRefusal):
    """The message does not wait: there is nothing to decide."""


def waiting() -> list[InboundMessage]:
    """What waits, in the order of its versions."""
    rows = InboundMessage.objects.filter(outcome=MessageOutcome.WAITING)
    return list(rows.order_by("version_at", "id"))


def retry(message: InboundMessage, now: datetime) -> InboundMessage:
    """Look once more for what the message waits for."""
    with transaction.atomic():
        hold(message)
        if message.kind == METER_READING:
            derive_reading(message.source, message.external_id, now, strictly=False)
        else:
            derive(message.source, message.external_id, now)
        # Last, so that its row is not held while a place is waited for.
        InboundMessage.objects.filter(pk=message.pk).update(tries=F("tries") + 1, tried_at=now)
    message.refresh_from_db()
    return message


def retry_waiting(now: datetime) -> tuple[int, int]:
    """Try all that waits, in version order, until nothing more comes of it; gives how many waited and how many still do."""
    first = left = waiting()
    while left:
        for message in left:
            retry(message, now)
        still = waiting()
        if len(still) == len(left):
            break
        left = still
    return len(first), len(left)


def retry_after(message: InboundMessage, now: datetime) -> None:
    """What an applied message may have set free: pieces that its order gave back, a reading that fits now."""
    items: set[str] | None = None
    for other in waiting():
        if other.pk == message.pk:
            continue
        short = {one["value"] for one in other.reasons if one["about"] == SHORT}
        if short and message.kind != METER_READING:
            items = items_of(message) if items is None else items
            if short & items:
                retry(other, now)
        elif (
            METER_READING == message.kind == other.kind and message.body["position"] == other.body["position"]
        ):
            retry(other, now)


def items_of(message: InboundMessage) -> set[str]:
    """Every item that any version of the order said was used."""
    told = InboundMessage.objects.filter(source=message.source, external_id=message.external_id)
    bodies = told.exclude(kind=METER_READING).values_list("body", flat=True)
    return {line["item"] for body in bodies for line in body.get("parts_used") or []}


def discard(message: InboundMessage, *, by: str, why: str, now: datetime) -> InboundMessage:
    """Take a message out of the count for good; it stays to be read, with who decided and why."""
    with transaction.atomic():
        hold(message)
        held = InboundMessage.objects.select_for_update().get(pk=message.pk)
        if held.outcome != MessageOutcome.WAITING:
            raise NotWaiting("message", f"This message does not wait: its outcome is {held.outcome}.")
        if is_in_force(held):
            raise NotWaiting(
                "message",
                "This message is in force but for what it waits for: mend that and retry, "
                "or let its source send a newer version.",
            )
        held.outcome, held.settled_at = MessageOutcome.DISCARDED, now
        held.settled_by_name, held.settled_reason = by, why
        held.save(update_fields=["outcome", "settled_at", "settled_by_name", "settled_reason"])
        events.record(
            "message.discarded",
            aggregate=f"message/{held.pk}",
            occurred_at=now,
            data={"message": held.pk, "by": by, "reason": why},
        )
    return held


def is_in_force(message: InboundMessage) -> bool:
    if message.kind != WORK_ORDER or any(one["about"] == UNKNOWN for one in message.reasons):
        return False
    return WorkOrder.objects.filter(
        source=message.source, external_id=message.external_id, source_updated_at=message.version_at
    ).exists()


def hold(message: InboundMessage) -> None:
    kind = WORK_ORDER if message.kind != METER_READING else METER_READING
    messages.hold(kind, message.source, message.external_id)
