"""Messages as they came: each is kept once, and what became of it is written beside it."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection
from django.db.models import QuerySet

from drives.feed.naming import Reason
from drives.models import InboundMessage, MessageOutcome
from inventory.plumbing import events

WORK_ORDER, PARTS_USED, METER_READING = "work_order", "parts_used", "meter_reading"


def hold(kind: str, source: str, external_id: str) -> None:
    """Let nobody else work on the same order until the transaction ends; on SQLite it is alone anyway."""
    if connection.vendor == "postgresql":
        digest = hashlib.sha256(f"{kind}\n{source}\n{external_id}".encode()).digest()
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [int.from_bytes(digest[:8], signed=True)])


def keep(
    kind: str, source: str, external_id: str, version_at: datetime, body: Mapping[str, Any], now: datetime
) -> tuple[InboundMessage, bool]:
    """The message, and whether it is new: the same version and content is kept once."""
    text = json.dumps(body, cls=DjangoJSONEncoder, sort_keys=True, ensure_ascii=False)
    key = {
        "source": source,
        "kind": kind,
        "external_id": external_id,
        "version_at": version_at,
        "body_hash": hashlib.sha256(text.encode()).hexdigest(),
    }
    known = InboundMessage.objects.filter(**key).first()
    if known is not None:
        return known, False
    rest = {"body": json.loads(text), "outcome": MessageOutcome.WAITING, "tried_at": now}
    return InboundMessage.objects.create(**key, **rest), True


def versions(kind: str, source: str, external_id: str) -> "QuerySet[InboundMessage]":
    """What may count of an order, the newest first; of two that claim the same moment the hash decides."""
    return (
        InboundMessage.objects.filter(source=source, kind=kind, external_id=external_id)
        .exclude(outcome=MessageOutcome.DISCARDED)
        .order_by("-version_at", "-body_hash")
    )


def settle(
    message: InboundMessage, outcome: str, now: datetime, reasons: Sequence[Reason] = ()
) -> InboundMessage:
    """Write what became of a message, and tell it when it begins to wait or waits for something else."""
    if message.outcome == outcome and message.reasons == list(reasons) and message.settled_at is not None:
        return message
    waits = outcome == MessageOutcome.WAITING
    tells = waits and message.reasons != list(reasons)
    message.outcome, message.reasons = outcome, list(reasons)
    message.settled_at = None if waits else now
    message.save(update_fields=["outcome", "reasons", "settled_at"])
    if tells:
        events.record(
            "message.waiting",
            aggregate=f"message/{message.pk}",
            occurred_at=now,
            data={
                "message": message.pk,
                "kind": message.kind,
                "source": message.source,
                "external_id": message.external_id,
                "reasons": message.reasons,
            },
        )
    return message
