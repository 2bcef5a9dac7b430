"""Leases: only one process does a piece of work at a time. The clock of the database decides, not those of the machines."""

import logging
import threading
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta

from django.db import DatabaseError, connection, transaction
from django.db.models import Q
from django.db.models.functions import Now

from inventory.models import Lease

logger = logging.getLogger(__name__)

# Two renewals may fail before a lease is lost.
RENEWALS_PER_LEASE = 3
HOLDER_LENGTH = 120


class LeaseLost(RuntimeError):  # noqa: N818 - says what happened
    """Another process holds it by now: stop, and leave the rest to that one."""


class HeldLease:
    """A lease that this process holds. Work that may take longer calls `renew`, or runs in `renewed`."""

    def __init__(self, name: str, holder: str, seconds: float) -> None:
        self.name, self.holder, self.seconds = name, holder, seconds

    def renew(self) -> None:
        """Hold it for the full time from now; LeaseLost where another process has taken it."""
        mine = Lease.objects.filter(name=self.name, holder=self.holder)
        # One conditional update, no read before it: it succeeds only while the lease still has this holder.
        if not mine.update(until=database_now() + timedelta(seconds=self.seconds)):
            raise LeaseLost(f"The lease {self.name} was taken over.")

    def release(self) -> None:
        Lease.objects.filter(name=self.name, holder=self.holder).update(holder="", until=Now())


@contextmanager
def lease(name: str, holder: str, seconds: float) -> Iterator[HeldLease | None]:
    """The lease, or None while another process holds it; released at the end, also after a failure."""
    held = take(name, holder, seconds)
    try:
        yield held
    finally:
        if held is not None:
            held.release()


def take(name: str, holder: str, seconds: float) -> HeldLease | None:
    """Take the lease when it is free or has expired. The holder gets a random mark, as two may have the same name."""
    mark = uuid.uuid4().hex[:12]
    held = HeldLease(name, f"{holder[: HOLDER_LENGTH - 13]} {mark}", seconds)
    with transaction.atomic():
        now = database_now()
        until = now + timedelta(seconds=seconds)
        Lease.objects.get_or_create(name=name, defaults={"holder": "", "until": now})
        free = Lease.objects.filter(Q(holder="") | Q(until__lte=now), name=name)
        # Of two that see it free the database lets one update first; the other then matches no row.
        if free.update(holder=held.holder, until=until):
            return held
        # A clock that stepped back must not keep a dead holder alive for longer than a lease lasts.
        Lease.objects.filter(name=name, until__gt=until).update(until=until)
    return None


@contextmanager
def renewed(held: HeldLease) -> Iterator[threading.Event]:
    """Renew it from a thread while the block works; the event is set if the lease was lost."""
    lost, done = threading.Event(), threading.Event()
    thread = threading.Thread(target=keep_renewing, args=(held, done, lost), daemon=True)
    thread.start()
    try:
        yield lost
    finally:
        done.set()
        thread.join()


def keep_renewing(held: HeldLease, done: threading.Event, lost: threading.Event) -> None:
    try:
        while not done.wait(held.seconds / RENEWALS_PER_LEASE):
            try:
                held.renew()
            except DatabaseError:
                logger.warning("The lease %s could not be renewed; this is tried again.", held.name)
    except LeaseLost:
        lost.set()
    finally:
        connection.close()


def database_now() -> datetime:
    """The time by the clock of the database."""
    sql = "SELECT strftime('%Y-%m-%d %H:%M:%f', 'now')"
    if connection.vendor == "postgresql":
        sql = "SELECT statement_timestamp()"
    with connection.cursor() as cursor:
        cursor.execute(sql)
        (found,) = cursor.fetchone()
    return found if isinstance(found, datetime) else datetime.fromisoformat(f"{found}+00:00")
