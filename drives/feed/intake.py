"""Takes messages in: a message is stored, and the records are updated from all messages. Safe to repeat, in any order."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import QuerySet
from django.utils import timezone

from drives.feed import stored_messages as messages
from drives.feed.orders import note_new_message, update_order
from drives.feed.quarantine import retry_after
from drives.feed.readings import update_reading
from drives.feed.references import UNKNOWN, Reason
from drives.feed.stored_messages import METER_READING, PARTS_USED
from drives.models import InboundMessage, MessageOutcome, MeterReading, WorkOrder
from inventory.facts import Fact


@dataclass(frozen=True, slots=True)
class IntakeResult:
    """The outcome of one message, and the record that it is about. `applied`: it is new and counts now."""

    message: InboundMessage
    outcome: str
    record: Any = None
    applied: bool = False
    created: bool = False
    notes: tuple[Fact, ...] = ()

    @property
    def reasons(self) -> list[Reason]:
        return list(self.message.reasons)

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
    record: WorkOrder | MeterReading | None
    notes: tuple[Fact, ...] = ()
    if kind == METER_READING:
        record, created = update_reading(source, external_id, now, strictly=strictly)
    else:
        updated = update_order(source, external_id, now)
        record, created, notes = updated.order, updated.created, updated.counted
    message.refresh_from_db()
    counts = is_counted(message, record)
    if message.outcome == MessageOutcome.WAITING and not counts:
        return IntakeResult(message, message.outcome, record)
    if is_new and not counts:
        messages.set_outcome(message, MessageOutcome.STALE, now)
    applied = is_new and counts
    outcome = str(message.outcome) if is_new else str(MessageOutcome.UNCHANGED)
    return IntakeResult(message, outcome, record, applied, created and applied, notes)


def is_counted(message: InboundMessage, record: WorkOrder | MeterReading | None) -> bool:
    """Whether the record is as this message says."""
    if message.outcome not in (MessageOutcome.APPLIED, MessageOutcome.WAITING) or record is None:
        return False
    if any(one["about"] == UNKNOWN for one in message.reasons):
        return False
    if message.kind == PARTS_USED:
        return message.outcome == MessageOutcome.APPLIED
    return record.source_updated_at == message.version_at


def repeated(message: InboundMessage) -> IntakeResult:
    rows: QuerySet[Any] = WorkOrder.objects.select_related("position", "equipment")
    if message.kind == METER_READING:
        rows = MeterReading.objects.select_related("position")
    record = rows.filter(source=message.source, external_id=message.external_id).first()
    is_applied = message.outcome == MessageOutcome.APPLIED
    return IntakeResult(message, str(MessageOutcome.UNCHANGED if is_applied else message.outcome), record)
