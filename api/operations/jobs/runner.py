"""Carry out queued jobs, one after another for each kind.

Only the holder of the lease of a kind works on its jobs. So whoever takes the lease and finds a job that is still
marked as running knows that its process is gone: the job is queued again once, and then marked as interrupted.
"""

import logging
from collections.abc import Callable
from datetime import datetime, timedelta
from typing import Any

from django.db import DatabaseError, transaction
from django.db.models import F, QuerySet
from django.utils import timezone

from api.edge.errors import is_disk_full
from api.edge.log_lines import current_id
from api.edge.scope import scope_from_json
from api.models import BackgroundJob, JobState
from api.operations.jobs.kinds import JobKind, Parameters, find_kind
from inventory.models.access_scope import scoped_to
from inventory.plumbing.leases import lease, renewed

logger = logging.getLogger(__name__)

LEASE_SECONDS = 60.0
MOST_ATTEMPTS = 2
KEPT = timedelta(days=30)
FAILED, INTERRUPTED, WITHOUT_ROOM = "job_failed", "job_interrupted", "job_without_room"
_untold: dict[int, str] = {}
"""Why jobs failed while the database took no word of it, as on a full disk; written down by whoever takes up the work again."""


class JobLost(RuntimeError):  # noqa: N818 - reads as what happened
    """Another worker has taken the job over: stop, and write nothing."""


class RunningJob:
    """One attempt at a job. A later attempt by another worker makes it invalid."""

    def __init__(self, row: BackgroundJob) -> None:
        self.row = row

    @property
    def parameters(self) -> Parameters:
        found: Parameters = self.row.parameters
        return found

    def own(self) -> "QuerySet[BackgroundJob]":
        attempt = {"state": JobState.RUNNING, "attempts": self.row.attempts}
        return BackgroundJob.objects.filter(pk=self.row.pk, **attempt)

    def update(self, **values: Any) -> None:
        if not self.own().update(**values):
            raise JobLost(f"Job {self.row.pk} was taken over by another worker.")

    def report_progress(self, done: int, total: int) -> None:
        self.update(done=done, total=total)

    def hold_until_commit(self) -> None:
        # The update locks the row: whoever wants to start another attempt waits for the commit and then sees its result.
        self.update(attempts=F("attempts"))

    def finish(self, answer: Any) -> None:
        """Store the answer; older answers to the same question are dropped."""
        with transaction.atomic():
            self.update(state=JobState.DONE, done=F("total"), answer=answer, finished_at=timezone.now())
            older = BackgroundJob.objects.answered().filter(key=self.row.key).exclude(pk=self.row.pk)
            older.order_by().update(answer=None)

    def give_up(self, kind: JobKind, state: JobState, error: str) -> None:
        with transaction.atomic():
            self.update(state=state, error=error, finished_at=timezone.now())
            self.row.error = error
            kind.when_broken(self.row, state)


def kinds_with_jobs() -> list[str]:
    """Kinds of which a job is queued, or was running when its process ended."""
    return sorted(BackgroundJob.objects.unfinished().order_by().values_list("kind", flat=True).distinct())


def run_jobs(name: str, holder: str, *, should_stop: Callable[[], bool] = lambda: False) -> int:
    """Carry out the queued jobs of a kind; how many there were; 0 where another process works on them."""
    kind, count = find_kind(name), 0
    with lease(f"jobs {name}", holder, LEASE_SECONDS) as held:
        if held is None:
            return 0
        with renewed(held) as lost:
            recover_orphans(kind)
            while not (lost.is_set() or should_stop()) and (job := claim_next(kind)) is not None:
                carry_out(kind, job)
                count += 1
    return count


def recover_orphans(kind: JobKind) -> None:
    """Only the holder of the lease may call it: a job that runs now would be taken for an orphan."""
    for row in BackgroundJob.objects.filter(kind=kind.name, state=JobState.RUNNING):
        orphan = RunningJob(row)
        if row.pk in _untold:
            orphan.give_up(kind, JobState.FAILED, _untold[row.pk])
            del _untold[row.pk]
        elif row.attempts < MOST_ATTEMPTS:
            logger.warning("The process of job %s ended; the job is started again.", row.pk)
            orphan.update(state=JobState.QUEUED, started_at=None, done=0, total=0)
        else:
            logger.error("The process of job %s ended again; the job is given up.", row.pk)
            orphan.give_up(kind, JobState.INTERRUPTED, INTERRUPTED)


def claim_next(kind: JobKind) -> RunningJob | None:
    row = BackgroundJob.objects.filter(kind=kind.name, state=JobState.QUEUED).order_by("id").first()
    if row is None:
        return None
    row.attempts, row.started_at = row.attempts + 1, timezone.now()
    queued = BackgroundJob.objects.filter(pk=row.pk, state=JobState.QUEUED)
    claimed = queued.update(state=JobState.RUNNING, attempts=row.attempts, started_at=row.started_at)
    return RunningJob(row) if claimed else None


def carry_out(kind: JobKind, job: RunningJob) -> None:
    """In the scope of whoever requested it. Whatever stops it is logged, and shown in the state of the job."""
    scope = scope_from_json(job.row.scope)
    marker = current_id.set(job.row.request_id)
    try:
        with scoped_to(lambda: scope):
            answer = kind.work(job)
        job.finish(answer)
    except JobLost as error:
        logger.warning("%s Its result is dropped.", error)
    except Exception as error:
        logger.exception("Job %s (%s) failed.", job.row.pk, kind.name)
        # A full disk is named as every other request names it.
        why = WITHOUT_ROOM if is_disk_full(error) else FAILED
        try:
            job.give_up(kind, JobState.FAILED, why)
        except DatabaseError:
            _untold[job.row.pk] = why
            raise
    finally:
        current_id.reset(marker)


def purge_jobs(now: datetime) -> int:
    """Delete jobs that ended long ago, with their answers; how many there were."""
    return BackgroundJob.objects.filter(finished_at__lt=now - KEPT).delete()[0]
