"""Records of a feed that cannot be used yet: they wait beside the other messages, with the names of their sender."""

import json
from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from django.utils import timezone

from api.exchange.results import RowResult
from drives.feed.references import REFUSED, reason
from drives.feed.stored_messages import set_outcome
from drives.models import InboundMessage, MessageOutcome

RECORD = "record"
LONGEST = 60


def held(source: str, kind: str, reference: str) -> InboundMessage | None:
    """The record of that reference while it waits."""
    rows = InboundMessage.objects.filter(
        kind=RECORD, source=source, external_id=reference[:LONGEST], outcome=MessageOutcome.WAITING
    )
    return rows.filter(sent__kind=kind).order_by("-id").first()


def hold(
    source: str, kind: str, reference: str, record: Mapping[str, Any], result: RowResult
) -> InboundMessage:
    """One waiting message for each reference: the newest record takes the place of an older one."""
    now = timezone.now()
    text = json.dumps(record, sort_keys=True, ensure_ascii=False)
    message = held(source, kind, reference) or InboundMessage(
        source=source, kind=RECORD, external_id=reference[:LONGEST], outcome=MessageOutcome.WAITING
    )
    message.version_at, message.tried_at = now, now
    message.body, message.body_hash = dict(record), sha256(text.encode()).hexdigest()
    message.sent = {"kind": kind, "record": dict(record)}
    message.save()
    reasons = [
        reason(REFUSED, error.column, error.fact, str(record.get(error.column, "")))
        for error in result.errors
    ]
    return set_outcome(message, MessageOutcome.WAITING, now, reasons)


def release(source: str, kind: str, reference: str) -> None:
    """What waited under that reference is settled by the record that was taken in."""
    message = held(source, kind, reference)
    if message is not None:
        set_outcome(message, MessageOutcome.APPLIED, timezone.now())
