"""Waiting messages: tried again when what they name may be recorded, discarded only by a person; and the mapping of codes."""

from collections.abc import Callable
from datetime import datetime

from django.db import transaction
from django.db.models import F

from drives.feed import stored_messages as messages
from drives.feed.code_mapping import VOCABULARY, orders_with
from drives.feed.orders import update_order
from drives.feed.readings import update_reading
from drives.feed.references import SHORT, UNKNOWN
from drives.feed.stored_messages import METER_READING, WORK_ORDER
from drives.models import CodeWord, InboundMessage, MessageOutcome, WorkOrder
from inventory.facts import fact
from inventory.plumbing import events
from inventory.plumbing.record_validation import RecordRefusal, word_not_known

Retry = Callable[[InboundMessage, datetime], None]
RETRIED_BY: dict[str, Retry] = {}
"""By kind, where a message is no work order or reading yet: who maps it again."""


class NotWaiting(RecordRefusal):
    """The message does not wait, so there is nothing to decide."""


def waiting() -> list[InboundMessage]:
    """The waiting messages in the order of their versions."""
    rows = InboundMessage.objects.filter(outcome=MessageOutcome.WAITING)
    return list(rows.order_by("version_at", "id"))


def retry(message: InboundMessage, now: datetime) -> InboundMessage:
    """Check again for what the message waits for."""
    with transaction.atomic():
        lock(message)
        if message.kind in RETRIED_BY:
            RETRIED_BY[message.kind](message, now)
        elif message.kind == METER_READING:
            update_reading(message.source, message.external_id, now, strictly=False)
        else:
            update_order(message.source, message.external_id, now)
        # Last, so that the message is not locked while this waits for a position.
        InboundMessage.objects.filter(pk=message.pk).update(tries=F("tries") + 1, tried_at=now)
    message.refresh_from_db()
    return message


def retry_waiting(now: datetime) -> tuple[int, int]:
    """Retry all waiting messages, in version order, until none succeeds; gives how many waited before and after."""
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
    """Retry messages that an applied message may have unblocked: stock that its order returned, a reading that fits now."""
    for other in unblocked_by(message):
        if other.pk != message.pk:
            retry(other, now)


def unblocked_by(message: InboundMessage) -> list[InboundMessage]:
    """Many may wait, so all of them are read only for an order with parts."""
    if message.kind == METER_READING:
        rows = InboundMessage.objects.filter(outcome=MessageOutcome.WAITING, kind=METER_READING)
        return list(rows.filter(body__position=message.body["position"]).order_by("version_at", "id"))
    items = items_of(message)
    if not items:
        return []
    return [
        other
        for other in waiting()
        if items & {one["value"] for one in other.reasons if one["about"] == SHORT}
    ]


def items_of(message: InboundMessage) -> set[str]:
    """Every item in parts used of any version of the order."""
    versions = InboundMessage.objects.filter(source=message.source, external_id=message.external_id)
    bodies = versions.exclude(kind=METER_READING).values_list("body", flat=True)
    return {line["item"] for body in bodies for line in body.get("parts_used") or []}


def discard(message: InboundMessage, *, by: str, why: str, now: datetime) -> InboundMessage:
    """Exclude a message for good; it stays readable, with who decided and why."""
    with transaction.atomic():
        lock(message)
        held = InboundMessage.objects.select_for_update().get(pk=message.pk)
        refuse_unless_waiting(held)
        if is_in_force(held):
            raise NotWaiting(fact("message_already_counts"), field="message")
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


def refuse_unless_waiting(message: InboundMessage) -> None:
    if message.outcome != MessageOutcome.WAITING:
        raise NotWaiting(fact("message_not_waiting", outcome=str(message.outcome)), field="message")


def is_in_force(message: InboundMessage) -> bool:
    if message.kind != WORK_ORDER or any(one["about"] == UNKNOWN for one in message.reasons):
        return False
    return WorkOrder.objects.filter(
        source=message.source, external_id=message.external_id, source_updated_at=message.version_at
    ).exists()


def lock(message: InboundMessage) -> None:
    kind = WORK_ORDER if message.kind != METER_READING else METER_READING
    messages.lock_order(kind, message.source, message.external_id)


class WordRefusal(RecordRefusal):
    """The word is not in the vocabulary of its field."""


def map_code(code: CodeWord, word: str, *, by: str, now: datetime) -> CodeWord:
    """Give a code its word, or remove it with an empty one; every order with the code is updated."""
    if word and word not in VOCABULARY[code.field]:
        raise WordRefusal(word_not_known("word", word, VOCABULARY[code.field]), field="word")
    with transaction.atomic():
        held = CodeWord.objects.select_for_update().get(pk=code.pk)
        held.word, held.read_by_name = word, by if word else ""
        held.save(update_fields=["word", "read_by_name", "updated_at"])
    # One transaction for each order: a long list of orders does not stay locked, and a second run does no harm.
    for source, external_id in orders_with(held):
        with transaction.atomic():
            messages.lock_order(WORK_ORDER, source, external_id)
            update_order(source, external_id, now)
    return held
