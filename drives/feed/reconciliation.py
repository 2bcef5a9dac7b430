"""Counts and hashes per day, by which a source and this service prove that they know the same."""

import hashlib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime

from django.db.models import Max

from drives.feed.stored_messages import WORK_ORDER
from drives.models import InboundMessage, MessageOutcome


@dataclass(frozen=True, slots=True)
class Day:
    """The orders whose newest version bears this day (UTC); `waiting` of them are kept and not in force yet."""

    day: date
    count: int
    hash: str
    waiting: int


def days(source: str, begin: date, end: date) -> list[Day]:
    """Both days included; days without an order are left out."""
    kept = InboundMessage.objects.filter(source=source, kind=WORK_ORDER)
    newest = kept.values_list("external_id").annotate(version=Max("version_at")).order_by()
    of_day: dict[date, list[tuple[str, datetime]]] = defaultdict(list)
    for number, version in newest:
        day = version.astimezone(UTC).date()
        if begin <= day <= end:
            of_day[day].append((number, version))
    waits = set(
        kept.filter(outcome=MessageOutcome.WAITING).order_by().values_list("external_id", "version_at")
    )
    return [
        Day(day, len(rows), hash_of(rows), sum(row in waits for row in rows))
        for day, rows in sorted(of_day.items())
    ]


def hash_of(rows: Iterable[tuple[str, datetime]]) -> str:
    """SHA-256 in hexadecimal over the lines `external_id TAB updated_at NEWLINE` in UTF-8, sorted by external_id.

    updated_at stands there in UTC with six decimals and a Z.

    >>> from datetime import datetime, UTC
    >>> hash_of([("WO-1", datetime(2026, 3, 1, 6, 30, tzinfo=UTC))])[:16]
    'e2b01a1ea40b407e'
    """
    lines = [f"{number}\t{version.astimezone(UTC):%Y-%m-%dT%H:%M:%S.%fZ}\n" for number, version in rows]
    return hashlib.sha256("".join(sorted(lines)).encode()).hexdigest()
