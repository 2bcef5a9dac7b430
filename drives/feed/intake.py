"""The way in: a message is kept, and the state is brought to what all messages say. Safe to repeat, in any order."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from drives.feed import stored_messages as messages
from drives.feed.naming import UNKNOWN, Reason
from drives.feed.orders import derive, first_seen
from drives.feed.quarantine import retry_after
from drives.feed.readings import derive_reading
from drives.feed.stored_messages import METER_READING
from drives.models import InboundMessage, MessageOutcome, MeterReading, WorkOrder


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one message. `applied`: it is what counts now, and was not known before."""

    message: InboundMessage
    outcome: str
    applied: bool
    created: bool = False
    order: WorkOrder | None = None
    reading: MeterReading | None = None
    reasons: list[Reason] = field(default_factory=list)

    @property
    def waits_for_records(self) -> bool:
        """Nothing of it is applied: it names what is not recorded here."""
        return not self.applied and any(one["about"] == UNKNOWN for one in self.reasons)


def take_in(
    kind: str,
    source: str,
    external_id: str,
    body: Mapping[str, Any],
    *,
    strictly: bool = False,
    now: datetime | None = None,
) -> Taken:
    """Take one message in. `body` is one that its reader has found sound; it says `updated_at`."""
    at = now or timezone.now()
    try:
        taken = take_once(kind, source, external_id, body, at, strictly=strictly)
    except IntegrityError:
        # Another sender told of the same order, position or reading in the same moment: by now it can be seen.
        taken = take_once(kind, source, external_id, body, at, strictly=strictly)
    if taken.applied:
        retry_after(taken.message, at)
    return taken


@transaction.atomic
def take_once(
    kind: str, source: str, external_id: str, body: Mapping[str, Any], now: datetime, *, strictly: bool
) -> Taken:
    messages.hold("work_order" if kind != METER_READING else kind, source, external_id)
    version_at = datetime.fromisoformat(body["updated_at"])
    message, is_new = messages.keep(kind, source, external_id, version_at, body, now)
    if not is_new and message.outcome != MessageOutcome.WAITING:
        return said_again(message)
    if is_new:
        first_seen(message)
    if kind == METER_READING:
        reading, created = derive_reading(source, external_id, now, strictly=strictly)
        order = None
    else:
        reading, derived = None, derive(source, external_id, now)
        order, created = derived.order, derived.created
    message.refresh_from_db()
    if message.outcome == MessageOutcome.WAITING and not counts(message, order, reading):
        return Taken(message, message.outcome, False, False, order, reading, message.reasons)
    if is_new and not counts(message, order, reading):
        messages.settle(message, MessageOutcome.STALE, now)
    applied = is_new and counts(message, order, reading)
    outcome = str(message.outcome) if is_new else str(MessageOutcome.UNCHANGED)
    return Taken(message, outcome, applied, created and applied, order, reading, message.reasons)


def counts(message: InboundMessage, order: WorkOrder | None, reading: MeterReading | None) -> bool:
    """Whether the record stands as this message has it."""
    if message.outcome not in (MessageOutcome.APPLIED, MessageOutcome.WAITING):
        return False
    if any(one["about"] == UNKNOWN for one in message.reasons):
        return False
    record = reading if message.kind == METER_READING else order
    if message.kind == "parts_used":
        return order is not None and message.outcome == MessageOutcome.APPLIED
    return record is not None and record.source_updated_at == message.version_at


def said_again(message: InboundMessage) -> Taken:
    key = {"source": message.source, "external_id": message.external_id}
    order = reading = None
    if message.kind == METER_READING:
        reading = MeterReading.objects.select_related("position").filter(**key).first()
    else:
        order = WorkOrder.objects.select_related("position", "equipment").filter(**key).first()
    outcome = str(message.outcome)
    if outcome == MessageOutcome.APPLIED:
        outcome = str(MessageOutcome.UNCHANGED)
    return Taken(message, outcome, False, False, order, reading, message.reasons)
