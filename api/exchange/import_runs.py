"""The job that imports an uploaded file and stores the result of each row."""

import io
from contextlib import nullcontext
from typing import Any

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from api.exchange.results import ImportResult
from api.exchange.run import import_stream
from api.exchange.tables import MESSAGE_KINDS
from api.models import BackgroundJob, ImportFile, ImportRun, ImportState, JobState
from api.operations.jobs.kinds import JobInHand, JobKind, Parameters, declare_kind
from api.operations.jobs.queue import Requester, request_job
from inventory.facts import fact
from inventory.models.access_scope import current_scope

UNFINISHED = (ImportState.QUEUED, ImportState.RUNNING)


def work(job: JobInHand) -> None:
    """All rows are written or none, together with the results of the run.

    Messages commit one by one: another attempt brings the rest, as each is known by its key.
    """
    run = ImportRun.objects.select_related("file", "by").get(pk=job.parameters["run"])
    if run.state not in UNFINISHED:
        return  # An earlier attempt committed it, and its process ended before it could say so.
    run.state = ImportState.RUNNING
    run.save(update_fields=["state"])
    with nullcontext() if run.kind in MESSAGE_KINDS else transaction.atomic():
        record(run, result_of(run))
        job.hold_until_commit()


def result_of(run: ImportRun) -> ImportResult:
    return import_stream(
        run.kind,
        io.BytesIO(bytes(run.file.content)),
        name=run.file_name,
        dry_run=run.dry_run,
        partial=run.partial,
        by=run.by or run.by_name,
        author=run.by_name,
    )


def record(run: ImportRun, result: ImportResult) -> None:
    values: dict[str, Any] = {
        "state": ImportState.DONE if is_done(result) else ImportState.FAILED,
        "written": result.written,
        "counts": result.counts,
        "problems": [problem.as_json() for problem in result.problems],
        "notes": [note.as_json() for note in result.notes],
        "row_results": result.as_json(),
        "finished_at": timezone.now(),
    }
    for name, value in values.items():
        setattr(run, name, value)
    run.save(update_fields=list(values))
    ImportFile.objects.filter(run=run).delete()


def is_done(result: ImportResult) -> bool:
    return not result.problems and (result.written or result.dry_run)


def address(parameters: Parameters) -> str:
    return reverse("import-detail", kwargs={"pk": parameters["run"]})


def end_run(job: BackgroundJob, state: JobState) -> None:
    unfinished = ImportRun.objects.filter(pk=job.parameters["run"], state__in=UNFINISHED)
    for run in unfinished:
        run.state, run.finished_at = ImportState(state.value), timezone.now()
        code = "import_of_messages_failed" if run.kind in MESSAGE_KINDS else "import_failed"
        run.problems = [fact(code).as_json()]
        run.save(update_fields=["state", "finished_at", "problems"])
        ImportFile.objects.filter(run=run).delete()


IMPORT = declare_kind(
    JobKind(name="import", work=work, usual_seconds=3.0, address=address, when_broken=end_run)
)


def request_import(run: ImportRun, content: bytes, *, by: Requester) -> BackgroundJob:
    """Keep the file until the scheduler has imported it, within what its sender may see."""
    ImportFile.objects.create(run=run, content=content)
    return request_job(IMPORT, {"run": run.pk}, scope=current_scope(), by=by)
