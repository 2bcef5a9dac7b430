"""Counts that all processes share, without a write for each: a process takes a share of the limit at once and uses it up."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass

from django.conf import settings
from django.db import DatabaseError, connection, transaction
from django.utils import timezone

from api.models import RateCount

SHARES = 50
"""Of a limit. What other processes have taken and not used is missing to a caller at the very end of the limit."""
LONGEST_WAIT_MS = 100
TAKE = f"""
INSERT INTO {RateCount._meta.db_table} (key, minute, taken) VALUES (%s, %s, %s)
ON CONFLICT (key) DO UPDATE SET
    taken = CASE WHEN {RateCount._meta.db_table}.minute = excluded.minute
        THEN {RateCount._meta.db_table}.taken ELSE 0 END + excluded.taken,
    minute = excluded.minute
RETURNING taken
"""


@dataclass
class Share:
    minute: int
    taken: int
    """By all processes, as far as this one knows."""
    left: int
    """Of what this process has taken."""


_shares: dict[str, Share] = {}
_lock = threading.Lock()


def count(key: str, minute: int, limit: int) -> int:
    """Count one and say how many have been counted in this minute, by all processes; more than `limit`: one too many."""
    with _lock:
        share = _shares.get(key)
        if share is None or share.minute != minute:
            forget_before(minute)
            share = _shares[key] = Share(minute, 0, 0)
        if not share.left:
            size = max(1, limit // SHARES)
            share.taken = taken_with(key, minute, size, share.taken + size)
            share.left = max(0, min(size, limit - share.taken + size))
        if not share.left:
            return limit + 1
        share.left -= 1
        return share.taken - share.left


def taken_with(key: str, minute: int, size: int, alone: int) -> int:
    """How much all have taken, with this share; `alone` where one process serves, or the database takes no changes just now."""
    if settings.WEB_CONCURRENCY == 1 and not (settings.PRODUCTION and connection.vendor == "postgresql"):
        return alone
    try:
        with waiting_at_most(LONGEST_WAIT_MS), transaction.atomic(), connection.cursor() as cursor:
            cursor.execute(TAKE, [key, minute, size])
            return int(cursor.fetchone()[0])
    except DatabaseError:
        return alone


@contextmanager
def waiting_at_most(milliseconds: int) -> Iterator[None]:
    """On SQLite, where one writer holds up all others: a long import must not hold up who only reads."""
    if connection.vendor != "sqlite":
        yield
        return
    usual = round(1_000 * connection.settings_dict["OPTIONS"]["timeout"])
    try:
        set_busy_timeout(milliseconds)
        yield
    finally:
        set_busy_timeout(usual)


def set_busy_timeout(milliseconds: int) -> None:
    with connection.cursor() as cursor:
        cursor.execute(f"PRAGMA busy_timeout = {milliseconds}")


def forget_before(minute: int) -> None:
    if len(_shares) > 10_000:
        for key in [key for key, share in _shares.items() if share.minute < minute]:
            del _shares[key]


def purge_counts() -> int:
    """Delete counts of minutes that are over; how many there were."""
    return RateCount.objects.filter(minute__lt=timezone.now().timestamp() // 60 - 60).delete()[0]
