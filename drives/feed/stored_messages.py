"""Stored messages: each is kept once, with its outcome; and their counts and hashes per day for reconciliation."""

import hashlib
import json
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection
from django.db.models import Max, QuerySet

from drives.feed.references import Reason
from drives.models import InboundMessage, MessageOutcome
from inventory.plumbing import events

WORK_ORDER, PARTS_USED, METER_READING = "work_order", "parts_used", "meter_reading"


def lock_order(kind: str, source: str, external_id: str) -> None:
    """Let nobody else work on the same order or reading until the transaction ends.

    The order may not exist as a row yet, so there is nothing to lock but its name. On SQLite a write transaction is alone.
    """
    if connection.vendor == "postgresql":
        digest = hashlib.sha256(f"{kind}\n{source}\n{external_id}".encode()).digest()
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [int.from_bytes(digest[:8], signed=True)])


def store_message(
    kind: str, source: str, external_id: str, version_at: datetime, body: Mapping[str, Any], now: datetime
) -> tuple[InboundMessage, bool]:
    """The message, and whether it is new: the same version and content is stored once."""
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
    """The messages of an order that may count, the newest first; at the same moment the hash decides, so that any order of arrival gives the same."""
    return (
        InboundMessage.objects.filter(source=source, kind=kind, external_id=external_id)
        .exclude(outcome=MessageOutcome.DISCARDED)
        .order_by("-version_at", "-body_hash")
    )


def set_outcome(
    message: InboundMessage, outcome: str, now: datetime, reasons: Sequence[Reason] = ()
) -> InboundMessage:
    """Write the outcome of a message; an event tells when it begins to wait, or waits for something else."""
    if message.outcome == outcome and message.reasons == list(reasons) and message.settled_at is not None:
        return message
    waits = outcome == MessageOutcome.WAITING
    is_news = waits and message.reasons != list(reasons)
    message.outcome, message.reasons = outcome, list(reasons)
    message.settled_at = None if waits else now
    message.save(update_fields=["outcome", "reasons", "settled_at"])
    if is_news:
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


def supersede_older(message: InboundMessage, now: datetime) -> None:
    """Older messages of the same order or reading that still wait do not count any more."""
    older = versions(message.kind, message.source, message.external_id).exclude(pk=message.pk)
    for one in older.filter(outcome=MessageOutcome.WAITING, version_at__lte=message.version_at):
        set_outcome(one, MessageOutcome.STALE, now)


@dataclass(frozen=True, slots=True)
class DailyCount:
    """The orders whose newest version is of this day (UTC); `waiting` of them do not count yet."""

    day: date
    count: int
    hash: str
    waiting: int


def daily_counts(source: str, begin: date, end: date) -> list[DailyCount]:
    """By which a source and this service prove that they know the same. Both days included; days without an order are left out."""
    stored = InboundMessage.objects.filter(source=source, kind=WORK_ORDER)
    newest = stored.values_list("external_id").annotate(version=Max("version_at")).order_by()
    of_day: dict[date, list[tuple[str, datetime]]] = defaultdict(list)
    for number, version in newest:
        day = version.astimezone(UTC).date()
        if begin <= day <= end:
            of_day[day].append((number, version))
    waits = set(
        stored.filter(outcome=MessageOutcome.WAITING).order_by().values_list("external_id", "version_at")
    )
    return [
        DailyCount(day, len(rows), hash_of(rows), sum(row in waits for row in rows))
        for day, rows in sorted(of_day.items())
    ]


def hash_of(rows: Iterable[tuple[str, datetime]]) -> str:
    """SHA-256 in hexadecimal over the lines `external_id TAB updated_at NEWLINE` in UTF-8, sorted by external_id.

    updated_at is in UTC with six decimals and a Z.

    >>> from datetime import datetime, UTC
    >>> hash_of([("WO-1", datetime(2026, 3, 1, 6, 30, tzinfo=UTC))])[:16]
    'e2b01a1ea40b407e'
    """
    lines = [f"{number}\t{version.astimezone(UTC):%Y-%m-%dT%H:%M:%S.%fZ}\n" for number, version in rows]
    return hashlib.sha256("".join(sorted(lines)).encode()).hexdigest()
