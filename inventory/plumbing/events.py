"""The only writer of events: each is written in the transaction of its change, and numbered after the commit."""

import json
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.core.serializers.json import DjangoJSONEncoder
from django.db import IntegrityError, connection, transaction
from django.db.models import Max

from inventory.models import Event
from inventory.plumbing.prepared import PreparedInsert

# One of the writers at an aggregate succeeds each time, so this many may write at once without a failure.
MEETINGS = 200
BATCH = 500
COUNTED = PreparedInsert(
    Event,
    unique="aggregate, version",
    version=f"COALESCE((SELECT MAX(version) FROM {Event._meta.db_table} WHERE aggregate = %s), 0) + 1",
)
# A key of PostgreSQL's advisory locks, held while waiting events are numbered.
NUMBERING_LOCK = 0x7370_6172_6573_0001


@dataclass(frozen=True)
class NewEvent:
    """The arguments of `record`, which are the columns of an event. Decimals, dates and times in `data` become text."""

    type: str
    aggregate: str
    data: dict[str, Any] = field(hash=False)
    occurred_at: datetime
    storeroom: str = ""
    plant: str = ""


def record(
    type: str,
    *,
    aggregate: str,
    data: dict[str, Any],
    occurred_at: datetime,
    storeroom: str = "",
    plant: str = "",
) -> Event:
    """Write one event in the transaction of the change that it reports."""
    return record_many([NewEvent(type, aggregate, data, occurred_at, storeroom, plant)])[0]


def record_many(news: Iterable[NewEvent]) -> list[Event]:
    """Write events in a fixed number of queries a batch; each aggregate keeps the order in which it is given.

    A version that another writer takes first makes the database wait for that writer, then count again.
    """
    assert connection.in_atomic_block, "An event is recorded in the transaction of its change."
    # Aggregates in a fixed order, so that two writers of the same ones wait for each other in turn.
    ordered = sorted(news, key=lambda new: new.aggregate)
    if len(ordered) == 1:
        return [write_one(ordered[0])]
    written: list[Event] = []
    for start in range(0, len(ordered), BATCH):
        written += write(ordered[start : start + BATCH])
    return written


def write(news: Sequence[NewEvent]) -> list[Event]:
    for meeting in range(MEETINGS):
        try:
            # A savepoint: a version that another writer took first must not end the caller's transaction.
            with transaction.atomic():
                return Event.objects.bulk_create(versioned(news))
        except IntegrityError:
            if meeting == MEETINGS - 1:
                raise
    raise AssertionError("unreachable")


def write_one(new: NewEvent) -> Event:
    """Most changes have one event: it is counted by the statement that writes it, and no error has to be rolled back."""
    event = event_of(new, version=0)
    for _ in range(MEETINGS):
        if COUNTED.write(event, new.aggregate):
            return event
    raise IntegrityError(f"Others wrote {MEETINGS} events of {new.aggregate} first.")


def versioned(news: Sequence[NewEvent]) -> list[Event]:
    names = {new.aggregate for new in news}
    known = Event.objects.filter(aggregate__in=names).order_by().values_list("aggregate")
    versions = Counter(dict(known.annotate(newest=Max("version"))))
    rows = []
    for new in news:
        versions[new.aggregate] += 1
        rows.append(event_of(new, version=versions[new.aggregate]))
    return rows


def event_of(new: NewEvent, *, version: int) -> Event:
    data = json.loads(json.dumps(new.data, cls=DjangoJSONEncoder))
    return Event(**vars(new) | {"version": version, "data": data})


def sequence_events() -> int:
    """Number the visible events that have no number; gives how many.

    One numbers at a time, and its numbers commit before the next begins. So an event that commits late gets a
    higher number than all that were seen before it, whatever its id: a reader that remembers a number skips none.
    """
    total = 0
    # Checked before the transaction: usually nothing waits, and then no lock is needed.
    while Event.objects.filter(sequence=None).exists():
        total += sequence_batch()
    return total


@transaction.atomic
def sequence_batch() -> int:
    lock_numbering()
    waiting = list(Event.objects.filter(sequence=None).order_by("id").only("id")[:BATCH])
    newest = Event.objects.aggregate(newest=Max("sequence"))["newest"] or 0
    for number, event in enumerate(waiting, newest + 1):
        event.sequence = number
    Event.objects.bulk_update(waiting, ["sequence"])
    return len(waiting)


def lock_numbering() -> None:
    """Let one process number at a time; on SQLite a write transaction is alone anyway."""
    if connection.vendor == "postgresql":
        with connection.cursor() as cursor:
            cursor.execute("SELECT pg_advisory_xact_lock(%s)", [NUMBERING_LOCK])
