"""Answers that take seconds: stored by a job, shown to all callers with the same scope until they are too old."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta
from time import monotonic
from typing import Any, Generic, TypeVar

from django.urls import reverse
from django.utils import timezone

from api.models import BackgroundJob, JobState
from api.operations.jobs.kinds import JobInHand, JobKind, Parameters, declare_kind, expected_seconds
from api.operations.jobs.queue import Requester, job_key, request_job
from inventory.facts import Fact, fact
from inventory.models.access_scope import current_scope
from inventory.plumbing.stored_form import if_readable, to_stored
from inventory.progress import Progress

VALID_FOR = timedelta(seconds=600)
FAILURE_SHOWN_FOR = timedelta(seconds=60)
"""So that a caller who looks again sees the failure, and the next one tries again."""
SECONDS_BETWEEN = 1.0
"""Between two reports of progress: a page looks every two seconds at most."""
MOST_UNFINISHED = 5
"""Calculations of one caller in the queue."""

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Calculated(Generic[Answer]):
    """An answer, as of the moment at which the calculation started."""

    as_of: datetime
    found: Answer
    job: int


@dataclass(frozen=True, kw_only=True)
class Calculation(Generic[Answer]):
    """What can be shown now. With `job` or `problem` the answer, if there is one, is older than it should be."""

    answer: Calculated[Answer] | None
    job: BackgroundJob | None = None
    problem: Fact | None = None

    @property
    def is_current(self) -> bool:
        return self.job is None and self.problem is None

    @property
    def per_cent(self) -> int | None:
        """None until it was reported."""
        return 100 * self.job.done // self.job.total if self.job and self.job.total else None

    @property
    def expected_seconds(self) -> float | None:
        return expected_seconds(self.job.kind) if self.job else None


@dataclass(frozen=True)
class CalculationKind(Generic[Answer]):
    """A question that takes seconds to answer: `answer` is the type of what `calculate` returns."""

    answer: type[Answer]
    job_kind: JobKind
    valid_since: Callable[[], datetime]
    """An answer from before is too old."""

    def find(
        self, parameters: Parameters, *, by: Requester, calculated_after: datetime | None = None
    ) -> Calculation[Answer]:
        """The stored answer for the present scope if it is young enough; else a job is queued for a new one.

        `calculated_after` is for callers who know that something has changed since.
        """
        now, since = timezone.now(), self.valid_since()
        since = max(since, calculated_after or since)
        answer = self.newest(parameters)
        if answer is not None and answer.as_of >= since:
            return Calculation(answer=answer)
        key = job_key(self.job_kind, parameters, current_scope())
        if broken_lately(key, since=max(since, now - FAILURE_SHOWN_FOR)):
            return Calculation(answer=answer, problem=fact("calculation_failed"))
        unfinished = BackgroundJob.objects.unfinished()
        is_new = not unfinished.filter(key=key).exists()
        waiting = unfinished.filter(caller=by.caller, kind__in=_calculations)
        if is_new and waiting.count() >= MOST_UNFINISHED:
            return Calculation(answer=answer, problem=fact("too_many_calculations", limit=MOST_UNFINISHED))
        job = request_job(self.job_kind, parameters, scope=current_scope(), by=by)
        return Calculation(answer=answer, job=job)

    def newest(self, parameters: Parameters) -> Calculated[Answer] | None:
        """The newest stored answer, however old; none that an older version of the service stored in another form."""
        row = self.newest_row(parameters)
        if row is None or row.started_at is None:
            return None
        found = if_readable(self.answer, row.answer)
        return None if found is None else Calculated(row.started_at, found, row.pk)

    def newest_row(self, parameters: Parameters) -> BackgroundJob | None:
        key = job_key(self.job_kind, parameters, current_scope())
        return BackgroundJob.objects.answered().filter(key=key).first()


def broken_lately(key: str, *, since: datetime) -> bool:
    broken = (JobState.FAILED, JobState.INTERRUPTED)
    return BackgroundJob.objects.filter(key=key, state__in=broken, finished_at__gte=since).exists()


def ten_minutes_ago() -> datetime:
    return timezone.now() - VALID_FOR


def no_lines(job: JobInHand, found: Any) -> Any:
    return found


def in_per_cent(report: Progress) -> Progress:
    """Parts of a calculation have steps of their own: their share of the whole is what a reader can follow."""
    last, reported_at = 0, monotonic()

    def report_share(done: int, total: int) -> None:
        nonlocal last, reported_at
        share, now = (100 * done // total if total else 0), monotonic()
        if share > last and now - reported_at >= SECONDS_BETWEEN:
            last, reported_at = share, now
            report(share, 100)

    return report_share


_calculations: list[str] = []


def declare_calculation(
    name: str,
    answer: type[Answer],
    calculate: Callable[..., Any],
    *,
    usual_seconds: float,
    address: str,
    without_lines: Callable[[JobInHand, Any], Answer] = no_lines,
    valid_since: Callable[[], datetime] = ten_minutes_ago,
) -> CalculationKind[Answer]:
    """`calculate` is called with the parameters by name, and with `progress`; they are the query of `address`, the name of an address.

    `without_lines` stores what is too long for one answer, and returns what is left of it.
    """

    def work(job: JobInHand) -> Any:
        return to_stored(
            without_lines(job, calculate(**job.parameters, progress=in_per_cent(job.report_progress)))
        )

    def result_address(parameters: Parameters) -> str:
        return reverse(address, query=parameters)

    _calculations.append(name)
    kind = JobKind(name=name, work=work, usual_seconds=usual_seconds, address=result_address)
    return CalculationKind(answer, declare_kind(kind), valid_since)
