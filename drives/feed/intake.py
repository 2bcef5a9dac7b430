"""Takes messages in: a message is stored, and the records are updated from all messages. Safe to repeat, in any order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from drives.feed import stored_messages as messages
from drives.feed.orders import note_new_message, update_order
from drives.feed.quarantine import retry_after
from drives.feed.readings import update_reading
from drives.feed.references import UNKNOWN, Reason
from drives.feed.stored_messages import METER_READING
from drives.models import InboundMessage, MessageOutcome, MeterReading, WorkOrder


@dataclass(frozen=True, slots=True)
class IntakeResult:
    """The outcome of one message. `applied`: it is new and counts now."""

    message: InboundMessage
    outcome: str
    applied: bool
    created: bool = False
    order: WorkOrder | None = None
    reading: MeterReading | None = None
    reasons: list[Reason] = field(default_factory=list)

    @property
    def waits_for_records(self) -> bool:
        """It is not applied, because it names something that is not recorded here."""
        return not self.applied and any(one["about"] == UNKNOWN for one in self.reasons)


def take_in(
    kind: str,
    source: str,
    external_id: str,
    body: Mapping[str, Any],
    *,
    strictly: bool = False,
    now: datetime | None = None,
) -> IntakeResult:
    """Take one message in. `body` has been validated and has `updated_at`."""
    at = now or timezone.now()
    try:
        taken = take_in_once(kind, source, external_id, body, at, strictly=strictly)
    except IntegrityError:
        # Another sender inserted the same order, reading or reference in the meantime. It can be seen now, so the second
        # run compares with it.
        taken = take_in_once(kind, source, external_id, body, at, strictly=strictly)
    if taken.applied:
        retry_after(taken.message, at)
    return taken


@transaction.atomic
def take_in_once(
    kind: str, source: str, external_id: str, body: Mapping[str, Any], now: datetime, *, strictly: bool
) -> IntakeResult:
    messages.lock_order("work_order" if kind != METER_READING else kind, source, external_id)
    version_at = datetime.fromisoformat(body["updated_at"])
    message, is_new = messages.store_message(kind, source, external_id, version_at, body, now)
    if not is_new and message.outcome != MessageOutcome.WAITING:
        return repeated(message)
    if is_new:
        note_new_message(message)
    if kind == METER_READING:
        reading, created = update_reading(source, external_id, now, strictly=strictly)
        order = None
    else:
        reading, updated = None, update_order(source, external_id, now)
        order, created = updated.order, updated.created
    message.refresh_from_db()
    if message.outcome == MessageOutcome.WAITING and not counts(message, order, reading):
        return IntakeResult(message, message.outcome, False, False, order, reading, message.reasons)
    if is_new and not counts(message, order, reading):
        messages.set_outcome(message, MessageOutcome.STALE, now)
    applied = is_new and counts(message, order, reading)
    outcome = str(message.outcome) if is_new else str(MessageOutcome.UNCHANGED)
    return IntakeResult(message, outcome, applied, created and applied, order, reading, message.reasons)


def counts(message: InboundMessage, order: WorkOrder | None, reading: MeterReading | None) -> bool:
    """Whether the record is as this message says."""
    if message.outcome not in (MessageOutcome.APPLIED, MessageOutcome.WAITING):
        return False
    if any(one["about"] == UNKNOWN for one in message.reasons):
        return False
    record = reading if message.kind == METER_READING else order
    if message.kind == "parts_used":
        return order is not None and message.outcome == MessageOutcome.APPLIED
    return record is not None and record.source_updated_at == message.version_at


def repeated(message: InboundMessage) -> IntakeResult:
    key = {"source": message.source, "external_id": message.external_id}
    order = reading = None
    if message.kind == METER_READING:
        reading = MeterReading.objects.select_related("position").filter(**key).first()
    else:
        order = WorkOrder.objects.select_related("position", "equipment").filter(**key).first()
    outcome = str(message.outcome)
    if outcome == MessageOutcome.APPLIED:
        outcome = str(MessageOutcome.UNCHANGED)
    return IntakeResult(message, outcome, False, False, order, reading, message.reasons)
