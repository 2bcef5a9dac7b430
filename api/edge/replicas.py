"""Which replica may answer now. Each is looked at before every request that reads from it, and left out while it does not serve.

How old a replica is, it is not asked itself, as one without its primary looks current. The position of the primary's log is
noted with the moment at which it was read: a replica that has replayed the position of a moment is no older than that moment.
"""

import logging
import random
import threading
import time
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, Error, connections

logger = logging.getLogger(__name__)

NOTED_EVERY_SECONDS = 1.0
TRIED_AGAIN_AFTER_SECONDS = 2.0
"""A replica that does not answer would hold up each request for as long as a connection may take."""
PRIMARY_POSITION = "SELECT pg_wal_lsn_diff(pg_current_wal_lsn(), '0/0')"
REPLICA_POSITION = "SELECT pg_is_in_recovery(), pg_wal_lsn_diff(pg_last_wal_replay_lsn(), '0/0')"


class ReplicaState(StrEnum):
    USED = "used"
    BEHIND = "behind"
    STOPPED = "stopped"
    PROMOTED = "promoted"


@dataclass(frozen=True)
class NotedPosition:
    """Where the log of the primary stood, at the latest at that moment of this process's clock."""

    moment: float
    position: int


class PrimaryLog:
    """The positions of the last seconds, of one process: at most a second lies between two while there are requests."""

    def __init__(self) -> None:
        self.noted: deque[NotedPosition] = deque()
        self.lock = threading.Lock()

    def needed(self, lag_seconds: float) -> int:
        """What a replica has replayed that is no older than this; without older notes it must be at the end of the log."""
        now = time.monotonic()
        with self.lock:
            is_due = not self.noted or self.noted[-1].moment < now - NOTED_EVERY_SECONDS
        # Asked without the lock: while the primary does not answer, no other thread waits for this one.
        position = primary_position() if is_due else 0
        with self.lock:
            if is_due and (not self.noted or self.noted[-1].moment < now):
                self.noted.append(NotedPosition(now, position))
            while len(self.noted) > 1 and self.noted[0].moment < now - lag_seconds:
                self.noted.popleft()
            return self.noted[0].position


def primary_position() -> int:
    """How far the log of the primary is written: what was committed before lies before it."""
    with connections[DEFAULT_DB_ALIAS].cursor() as cursor:
        cursor.execute(PRIMARY_POSITION)
        return int(cursor.fetchone()[0])


class Replica:
    def __init__(self, alias: str) -> None:
        self.alias = alias
        self.state = ReplicaState.USED
        self.try_again_at = 0.0

    def serves(self, *, needed: int, after: int = 0) -> bool:
        """Whether it is young enough and holds what was written before the position `after`."""
        if time.monotonic() < self.try_again_at:
            return False
        replayed = self.look(needed)
        return replayed is not None and replayed >= after

    def look(self, needed: int) -> int | None:
        """Ask it how far it has replayed, and note its state; None where it is not to be used."""
        try:
            is_replica, position = self.ask()
        except Error as error:
            self.leave_out(error)
            return None
        self.try_again_at, replayed = 0.0, int(position or 0)
        if not is_replica:
            self.note(ReplicaState.PROMOTED, "it is no replica any more and takes writes of its own")
            return None
        if replayed < needed:
            self.note(
                ReplicaState.BEHIND, f"it is more than {settings.REPLICA_LAG_SECONDS} s behind the primary"
            )
            return None
        self.note(ReplicaState.USED)
        return replayed

    def ask(self) -> tuple[bool, int | None]:
        connection = connections[self.alias]
        was_open = connection.connection is not None
        try:
            return self.position()
        except Error:
            connection.close()
            if not was_open:
                raise
            # A connection from before a restart shows only now that it is broken.
            return self.position()

    def position(self) -> tuple[bool, int | None]:
        with connections[self.alias].cursor() as cursor:
            cursor.execute(REPLICA_POSITION)
            found: tuple[bool, int | None] = cursor.fetchone()
            return found

    def leave_out(self, reason: object) -> None:
        """It broke off or does not answer: the next requests need not find out again."""
        connections[self.alias].close()
        self.try_again_at = time.monotonic() + TRIED_AGAIN_AFTER_SECONDS
        self.note(ReplicaState.STOPPED, str(reason).strip())

    def note(self, state: ReplicaState, reason: str = "") -> None:
        if state == self.state:
            return
        self.state = state
        if state == ReplicaState.USED:
            logger.warning("%s is read from again.", self.alias)
        else:
            logger.warning("%s is left out (%s): %s. The primary serves instead.", self.alias, state, reason)


class Replicas:
    """The replicas of this installation, as one process sees them."""

    def __init__(self, aliases: list[str], lag_seconds: float) -> None:
        self.all = [Replica(alias) for alias in aliases]
        self.lag_seconds = lag_seconds
        self.log = PrimaryLog()

    def choose(self, after: int) -> str:
        """The alias of one that serves, picked at random; that of the primary where none does."""
        needed = self.log.needed(self.lag_seconds)
        serving = (one.alias for one in self.in_any_order() if one.serves(needed=needed, after=after))
        return next(serving, DEFAULT_DB_ALIAS)

    def in_any_order(self) -> Iterator[Replica]:
        yield from random.sample(self.all, len(self.all))

    def leave_out(self, alias: str, reason: object) -> None:
        for one in self.all:
            if one.alias == alias:
                one.leave_out(reason)

    def states(self) -> list[dict[str, str]]:
        """For whoever watches the service; each is asked again."""
        needed = self.log.needed(self.lag_seconds) if self.all else 0
        for one in self.all:
            one.look(needed)
        return [{"name": one.alias, "state": str(one.state)} for one in self.all]


REPLICAS = Replicas(settings.REPLICAS, settings.REPLICA_LAG_SECONDS)
