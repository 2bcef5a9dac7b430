"""One loop that starts what is due: recurring commands, and background jobs as they are queued.

Intervals are kept by a clock that only runs forward, so that a step of the wall clock starts nothing; the night is kept
by the date that was done last, in the database.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable
from functools import partial
from io import StringIO

from django.core.management import call_command
from django.db import DatabaseError, OperationalError, close_old_connections, connection

from api.edge.log_lines import first_line, unless_away
from api.edge.stopping import Stop
from api.operations.jobs.runner import kinds_with_jobs, run_jobs
from api.operations.scheduling.leadership import LEADER
from api.operations.scheduling.recurring_commands import (
    RECURRING_COMMANDS,
    RecurringCommand,
    is_night_due,
    mark_night,
    mark_success,
)
from inventory.plumbing.leases import HeldLease, LeaseLost, database_now, lease, renewed, take

logger = logging.getLogger(__name__)

LEASE_SECONDS = 60.0
TICK_SECONDS = 1.0
STOPS_WITHIN_SECONDS = 8.0
"""What takes longer, such as a receiver of events that does not answer, is left: it is rolled back or sent once more later."""
# Between two looks at a date that changes once a day.
NIGHT_LOOK_SECONDS = 60.0


def run_command(name: str) -> None:
    """What it prints goes to the log: inside the web process the console belongs to others."""
    printed = StringIO()
    call_command(name, stdout=printed, stderr=printed)
    logger.info("%s: %s", name, printed.getvalue().strip())


class Scheduler:
    def __init__(
        self,
        *,
        stop: Stop,
        clock: Callable[[], float] = time.monotonic,
        run: Callable[[str], None] = run_command,
    ) -> None:
        self.stop, self.clock, self.run_command = stop, clock, run
        self.holder = f"{socket.gethostname()}:{os.getpid()}"
        self.next_at: dict[str, float] = {}
        self.working: dict[str, threading.Thread] = {}

    def run(self) -> None:
        """Until it is stopped; work under way may end first, within seconds."""
        held: HeldLease | None = None
        while not self.stop.is_asked:
            try:
                close_old_connections()
                held = self.lead(held)
                if held is not None:
                    self.start_due()
            except DatabaseError as error:
                said = first_line(error)
                logger.error(
                    "The database refused to work, and is tried again: %s", said, exc_info=unless_away(error)
                )
            self.stop.wait(TICK_SECONDS)
        # What is still under way here has leases of its own.
        if held is not None:
            hand_over(held)
        ends = self.clock() + STOPS_WITHIN_SECONDS
        for thread in list(self.working.values()):
            thread.join(max(0.0, ends - self.clock()))

    def lead(self, held: HeldLease | None) -> HeldLease | None:
        """The leadership, renewed or taken; None while another scheduler works."""
        if self.clock() < self.next_at.get(LEADER, 0.0):
            return held
        try:
            if held is not None:
                held.renew()
            else:
                held = take(LEADER, self.holder, LEASE_SECONDS)
        except LeaseLost:
            held = None
        self.next_at[LEADER] = self.clock() + LEASE_SECONDS / (3 if held is not None else 12)
        return held

    def start_due(self) -> None:
        for command in RECURRING_COMMANDS:
            if self.is_due(command):
                self.start(command.name, partial(self.work, command))
        for kind in kinds_with_jobs():
            # Each kind has a thread of its own, so that a long recompute does not hold up a short calculation.
            if not self.is_working(jobs_of(kind)):
                self.start(jobs_of(kind), partial(self.work_on_jobs, kind))

    def start(self, name: str, work: Callable[[], None]) -> None:
        thread = threading.Thread(target=work_beside, args=(work,), daemon=True)
        self.working[name] = thread
        thread.start()

    def is_working(self, name: str) -> bool:
        thread = self.working.get(name)
        return thread is not None and thread.is_alive()

    def is_due(self, command: RecurringCommand) -> bool:
        """Whether to start it now; one that still runs is not started again, nor made up for later."""
        now = self.clock()
        if self.is_working(command.name) or now < self.next_at.get(command.name, now):
            return False
        self.next_at[command.name] = now + (command.every_seconds or NIGHT_LOOK_SECONDS)
        return command.every_seconds is not None or is_night_due(command, database_now())

    def work(self, command: RecurringCommand) -> None:
        """Under a lease of its own, so that two schedulers never run the same command at once."""
        try:
            with lease(f"command {command.name}", self.holder, LEASE_SECONDS) as held:
                if held is not None:
                    self.work_under(held, command)
        except Exception:
            logger.exception("The command %s failed; its next turn comes.", command.name)

    def work_under(self, held: HeldLease, command: RecurringCommand) -> None:
        now = database_now()
        if command.every_seconds is None:
            if not is_night_due(command, now):
                return
            mark_night(command, now)
        with renewed(held):
            self.run_command(command.name)
        if command.every_seconds is None:
            mark_success(command, now)

    def work_on_jobs(self, kind: str) -> None:
        try:
            run_jobs(kind, self.holder, should_stop=lambda: self.stop.is_asked)
        except Exception:
            logger.exception("The jobs of the kind %s were left; they are tried again.", kind)

    def run_once(self) -> None:
        """Each command that is due and each queued job, one after another."""
        for command in RECURRING_COMMANDS:
            if self.is_due(command):
                self.work(command)
        for kind in kinds_with_jobs():
            self.work_on_jobs(kind)


def jobs_of(kind: str) -> str:
    return f"jobs {kind}"


def hand_over(held: HeldLease) -> None:
    """Another scheduler may lead at once; where the database was stopped before this one, when the lease has run out."""
    try:
        held.release()
    except OperationalError as error:
        logger.warning("Stopped without the database: %s", first_line(error))


def work_beside(work: Callable[[], None]) -> None:
    """In a thread, which has a connection of its own."""
    try:
        work()
    finally:
        connection.close()
