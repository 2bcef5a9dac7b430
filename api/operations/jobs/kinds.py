"""The kinds of background job: what each one does, how long it usually takes, and where its result is.

A kind is declared where its work is at home (`recompute` here, others in `api.exchange` and `api.answers`).
"""

import statistics
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from api.models import BackgroundJob, JobState

Parameters = Mapping[str, Any]
RECENT_JOBS = 9
SHORTEST_SECONDS = 1.0


class JobInHand(Protocol):
    """What the work of a job is given."""

    @property
    def row(self) -> BackgroundJob: ...

    @property
    def parameters(self) -> Parameters: ...

    def report_progress(self, done: int, total: int) -> None:
        """Store the progress; raises where another worker has taken the job over."""

    def hold_until_commit(self) -> None:
        """Inside a transaction: raises where another worker has the job, and lets none take it before the commit."""


def ignore(job: BackgroundJob, state: JobState) -> None:
    return None


@dataclass(frozen=True, kw_only=True)
class JobKind:
    name: str
    work: Callable[[JobInHand], Any]
    """What it returns is stored as the answer of the job."""
    usual_seconds: float
    """Until jobs of the kind have been measured."""
    address: Callable[[Parameters], str]
    """Where its result can be read."""
    when_broken: Callable[[BackgroundJob, JobState], None] = ignore
    """Called once a job has failed, or was interrupted for good."""


_kinds: dict[str, JobKind] = {}


def declare_kind(kind: JobKind) -> JobKind:
    assert kind.name not in _kinds, f"{kind.name} is declared twice."
    _kinds[kind.name] = kind
    return kind


def find_kind(name: str) -> JobKind:
    return _kinds[name]


def kind_names() -> list[str]:
    return sorted(_kinds)


def expected_seconds(name: str) -> float:
    """The median of the last jobs of a kind."""
    ended = BackgroundJob.objects.filter(kind=name, state=JobState.DONE, started_at__isnull=False)
    spans = ended.order_by("-finished_at").values_list("started_at", "finished_at")[:RECENT_JOBS]
    known = [(finished - started).total_seconds() for started, finished in spans if started and finished]
    usual = statistics.median(known) if known else find_kind(name).usual_seconds
    return max(usual, SHORTEST_SECONDS)


def seconds_left(job: BackgroundJob, now: datetime) -> int:
    """When to look again: the usual time less what has passed since it started, at least one second."""
    passed = (now - job.started_at).total_seconds() if job.started_at else 0.0
    return max(round(expected_seconds(job.kind) - passed), 1)
