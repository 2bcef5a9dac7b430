import logging
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from api.edge.log_lines import current_id
from api.models import BackgroundJob, JobState
from api.operations.jobs import kinds
from api.operations.jobs.kinds import JobInHand, JobKind, expected_seconds, seconds_left
from api.operations.jobs.queue import Requester, job_key, request_job
from api.operations.jobs.runner import claim_next, kinds_with_jobs, recover_orphans, run_jobs
from inventory.models import Lease
from inventory.models.access_scope import EVERYTHING, AccessScope, current_scope
from inventory.plumbing.leases import take

pytestmark = pytest.mark.django_db
INES = Requester("Ines", "user:1")
LIMITED = AccessScope(frozenset({1, 2}), frozenset())


class Work:
    """What the jobs of these tests do, and what was done."""

    def __init__(self) -> None:
        self.done: list[Any] = []
        self.broken: list[JobState] = []
        self.act: Callable[[JobInHand], Any] = lambda job: {"answer": job.parameters["n"]}

    def __call__(self, job: JobInHand) -> Any:
        self.done.append(job.parameters)
        return self.act(job)


@pytest.fixture
def work() -> Work:
    return Work()


@pytest.fixture
def kind(work: Work) -> Iterator[JobKind]:
    yield kinds.declare_kind(
        JobKind(
            name="count",
            work=work,
            usual_seconds=7.0,
            address=lambda parameters: f"/counts/{parameters['n']}/",
            when_broken=lambda job, state: work.broken.append(state),
        )
    )
    del kinds._kinds["count"]


def request(kind: JobKind, n: int = 1, scope: AccessScope = EVERYTHING) -> BackgroundJob:
    return request_job(kind, {"n": n}, scope=scope, by=INES)


def test_a_second_request_for_the_same_work_joins_the_first(kind: JobKind, work: Work) -> None:
    first = request(kind)
    assert request(kind) == first
    assert request(kind, 2) != first
    assert request(kind, scope=LIMITED) != first
    assert run_jobs("count", "one") == 3
    assert request(kind) != first


def test_the_loser_of_two_requests_at_one_moment_joins_the_winner(
    kind: JobKind, monkeypatch: pytest.MonkeyPatch
) -> None:
    winner = request(kind)
    looked: list[int] = []
    get = type(BackgroundJob.objects.all()).get

    def none_at_first(rows: Any, *args: Any, **kwargs: Any) -> Any:
        looked.append(1)
        if len(looked) == 1:
            raise BackgroundJob.DoesNotExist
        return get(rows, *args, **kwargs)

    monkeypatch.setattr(type(BackgroundJob.objects.all()), "get", none_at_first)
    assert request(kind) == winner
    assert len(looked) == 2


def test_it_stores_the_answer_and_drops_the_older_one(kind: JobKind) -> None:
    old = request(kind)
    run_jobs("count", "one")
    new = request(kind)
    run_jobs("count", "one")
    for job in (old, new):
        job.refresh_from_db()
    assert (old.state, old.answer) == (JobState.DONE, None)
    assert (new.state, new.answer) == (JobState.DONE, {"answer": 1})
    assert new.started_at
    assert new.finished_at


def test_whatever_was_told_last_a_job_that_is_done_has_all_its_steps(kind: JobKind, work: Work) -> None:
    def half(job: JobInHand) -> Any:
        job.report_progress(2, 4)
        job.row.refresh_from_db()
        return {"told": job.row.done}

    work.act = half
    job = request(kind)
    run_jobs("count", "one")
    job.refresh_from_db()
    assert (job.answer, job.done, job.total) == ({"told": 2}, 4, 4)


def test_it_works_in_the_scope_and_under_the_id_of_the_request(kind: JobKind, work: Work) -> None:
    seen: list[Any] = []
    work.act = lambda job: seen.append((current_scope(), current_id.get()))
    marker = current_id.set("request-1")
    request(kind, scope=LIMITED)
    current_id.reset(marker)
    run_jobs("count", "one")
    assert seen == [(LIMITED, "request-1")]
    assert (current_scope(), current_id.get()) == (EVERYTHING, "")


def test_a_failure_is_kept_and_the_next_job_is_carried_out(
    kind: JobKind, work: Work, caplog: pytest.LogCaptureFixture
) -> None:
    def fail_at_one(job: JobInHand) -> Any:
        return {"answer": 1 // (job.parameters["n"] - 1)}

    work.act = fail_at_one
    failed, done = request(kind, 1), request(kind, 2)
    assert run_jobs("count", "one") == 2
    for job in (failed, done):
        job.refresh_from_db()
    assert (failed.state, failed.error, done.state) == (JobState.FAILED, "job_failed", JobState.DONE)
    assert work.broken == [JobState.FAILED]
    assert f"Job {failed.pk} (count) failed" in caplog.text


def test_only_one_process_works_on_the_jobs_of_a_kind(kind: JobKind, work: Work) -> None:
    request(kind)
    assert take("jobs count", "another", 60)
    assert run_jobs("count", "one") == 0
    assert work.done == []
    Lease.objects.update(until="2026-01-01T00:00:00Z")
    assert run_jobs("count", "one") == 1


def test_a_job_whose_process_is_gone_is_started_again_once(
    kind: JobKind, work: Work, caplog: pytest.LogCaptureFixture
) -> None:
    job = request(kind)
    claim_next(kind)  # And its process is killed.
    assert kinds_with_jobs() == ["count"]
    assert run_jobs("count", "next") == 1
    job.refresh_from_db()
    assert (job.state, job.attempts, len(work.done)) == (JobState.DONE, 2, 1)
    assert "started again" in caplog.text


def test_a_job_that_ends_its_process_twice_is_interrupted(kind: JobKind, work: Work) -> None:
    job = request(kind)
    for _ in range(2):
        assert claim_next(kind)
        recover_orphans(kind)
    job.refresh_from_db()
    assert (job.state, job.error, work.broken) == (
        JobState.INTERRUPTED,
        "job_interrupted",
        [JobState.INTERRUPTED],
    )
    assert kinds_with_jobs() == []
    assert request(kind) != job


def test_a_worker_that_lost_its_job_changes_nothing(
    kind: JobKind, work: Work, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.WARNING)
    job = request(kind)

    def fall_silent(given: JobInHand) -> Any:
        """Another worker takes the job meanwhile, and is at it."""
        recover_orphans(kind)
        assert claim_next(kind)
        given.report_progress(1, 2)

    work.act = fall_silent
    run_jobs("count", "slow")
    job.refresh_from_db()
    assert (job.state, job.attempts, job.done, job.answer) == (JobState.RUNNING, 2, 0, None)
    assert "taken over" in caplog.text
    assert work.broken == []


def test_progress_is_stored_while_it_works(kind: JobKind, work: Work) -> None:
    seen: list[tuple[int, int]] = []

    def step(job: JobInHand) -> None:
        job.report_progress(3, 8)
        seen.extend(BackgroundJob.objects.values_list("done", "total"))

    work.act = step
    request(kind)
    run_jobs("count", "one")
    assert seen == [(3, 8)]


def test_the_usual_time_is_the_median_of_the_last_jobs(kind: JobKind) -> None:
    assert expected_seconds("count") == 7.0
    job = request(kind)
    for seconds in (2, 30, 4):
        BackgroundJob.objects.create(
            kind="count",
            state=JobState.DONE,
            key=f"{seconds}",
            started_at="2026-03-01T06:00:00Z",
            finished_at=f"2026-03-01T06:00:{seconds:02}Z",
        )
    assert expected_seconds("count") == 4.0
    assert seconds_left(job, job.requested_at) == 4


def test_equal_work_has_one_key_whatever_the_order_of_its_parameters(kind: JobKind) -> None:
    one, other = {"a": 1, "b": 2}, {"b": 2, "a": 1}
    assert job_key(kind, one, LIMITED) == job_key(kind, other, LIMITED) != job_key(kind, one, EVERYTHING)
