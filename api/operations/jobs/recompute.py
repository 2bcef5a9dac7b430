"""The job that calculates recommendations; its progress shows in the stocking run too."""

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from api.models import BackgroundJob, JobState
from api.operations.jobs.kinds import JobInHand, JobKind, Parameters, declare_kind, find_kind
from api.operations.jobs.queue import Requester, request_job
from drives.demand.recompute import recompute
from inventory.models import RunState, StockingRun
from inventory.models.access_scope import EVERYTHING
from inventory.planning.runs import announce_run, interrupt_run, reset_run

AFTER_RUN = ("exposure",)
"""Calculations whose answers each run makes old; they follow it, so that nobody waits for them."""


def work(job: JobInHand) -> None:
    run = StockingRun.objects.get(pk=job.parameters["run"])
    if run.state != RunState.RUNNING:
        return  # Another run has replaced it since.
    if run.alive_at is not None:
        reset_run(run)
    recompute(as_of=run.as_of, by=run.started_by_name, is_full=run.is_full, progress=job.report_progress)
    for name in AFTER_RUN:
        request_job(find_kind(name), {}, scope=EVERYTHING, by=Requester(run.started_by_name, ""))


def end_run(job: BackgroundJob, state: JobState) -> None:
    for run in StockingRun.objects.filter(pk=job.parameters["run"], state=RunState.RUNNING):
        interrupt_run(run)


def address(parameters: Parameters) -> str:
    return reverse("stocking-run-detail", kwargs={"pk": parameters["run"]})


RECOMPUTE = declare_kind(
    JobKind(name="recompute", work=work, usual_seconds=60.0, address=address, when_broken=end_run)
)


@transaction.atomic
def request_recompute(by: Requester, *, is_full: bool = False) -> tuple[StockingRun, BackgroundJob]:
    """A run that the scheduler starts within seconds; RunRefused while another one is under way."""
    run = announce_run(as_of=timezone.now(), by=by.name, is_full=is_full)
    # Recommendations are for everybody, so the scope of whoever requested them does not limit the run.
    return run, request_job(RECOMPUTE, {"run": run.pk}, scope=EVERYTHING, by=by)
