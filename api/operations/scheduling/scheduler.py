"""One loop that starts what is due.

Rhythms are kept by a clock that only runs forward, so that a step of the wall clock fires nothing; the night is kept
by the date that was done last, in the database.
"""

import logging
import os
import socket
import threading
import time
from collections.abc import Callable

from django.core.management import call_command
from django.db import DatabaseError, close_old_connections, connection

from api.edge.stopping import Stop
from api.operations.scheduling.jobs import Job, is_night_due, known_jobs, mark_night
from inventory.plumbing.leases import Held, LeaseLost, database_now, lease, renewed, take

logger = logging.getLogger(__name__)

LEADER = "scheduler"
LEASE_SECONDS = 60.0
TICK_SECONDS = 1.0
# Between two looks at a date that changes once a day.
NIGHT_LOOK_SECONDS = 60.0


def run_command(name: str) -> None:
    call_command(name)


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
        """Until told to stop; work under way is finished first."""
        held: Held | None = None
        while not self.stop.is_asked:
            try:
                close_old_connections()
                held = self.lead(held)
                if held is not None:
                    self.start_due()
            except DatabaseError:
                logger.exception("The scheduler could not reach the database; it tries again.")
            self.stop.wait(TICK_SECONDS)
        for thread in list(self.working.values()):
            thread.join()
        if held is not None:
            held.release()

    def lead(self, held: Held | None) -> Held | None:
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
        for job in known_jobs():
            if self.is_due(job):
                thread = threading.Thread(target=self.work_beside, args=(job,), daemon=True)
                self.working[job.command] = thread
                thread.start()

    def is_due(self, job: Job) -> bool:
        """Whether to begin it now; one that still runs is not begun again, nor made up for later."""
        thread, now = self.working.get(job.command), self.clock()
        if (thread is not None and thread.is_alive()) or now < self.next_at.get(job.command, now):
            return False
        self.next_at[job.command] = now + (job.every_seconds or NIGHT_LOOK_SECONDS)
        return job.every_seconds is not None or is_night_due(job, database_now())

    def work(self, job: Job) -> None:
        """Under a lease of its own, which a hand that runs the same job beside it would meet."""
        try:
            with lease(f"job {job.command}", self.holder, LEASE_SECONDS) as held:
                if held is not None:
                    self.work_under(held, job)
        except Exception:
            logger.exception("The job %s failed; its next turn comes.", job.command)

    def work_beside(self, job: Job) -> None:
        try:
            self.work(job)
        finally:
            connection.close()

    def work_under(self, held: Held, job: Job) -> None:
        now = database_now()
        if job.every_seconds is None:
            if not is_night_due(job, now):
                return
            mark_night(job, now)
        with renewed(held):
            self.run_command(job.command)

    def run_once(self) -> None:
        """Each job that is due, one after another."""
        for job in known_jobs():
            if self.is_due(job):
                self.work(job)
