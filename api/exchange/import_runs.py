"""The job that imports an uploaded file and stores the result of each row."""

import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import partial
from typing import IO, Any

from django.db import transaction
from django.db.models import Max, QuerySet
from django.urls import reverse
from django.utils import timezone

from api.exchange.mapping.importing import import_of_source
from api.exchange.progress import RowProgress, forget_file, progress_in_file, reporting, store_if_possible
from api.exchange.results import ImportResult
from api.exchange.run import import_stream
from api.exchange.tables import MESSAGE_KINDS
from api.models import BackgroundJob, ImportFile, ImportRun, ImportSet, ImportState, JobState
from api.operations.jobs.kinds import JobInHand, JobKind, Parameters, declare_kind
from api.operations.jobs.queue import Requester, request_job
from api.operations.jobs.runner import WITHOUT_ROOM, JobLost
from inventory.facts import Fact, fact
from inventory.models.access_scope import current_scope

UNFINISHED = (ImportState.QUEUED, ImportState.RUNNING)
PART_BYTES = 1_000_000


def imports_seen_by(caller: str, runs: "QuerySet[ImportRun]") -> "QuerySet[ImportRun]":
    """Who is limited to some plants or storerooms sees the files that they sent themselves."""
    return runs if current_scope().is_whole else runs.filter(caller=caller)


def progress_of(run: ImportRun) -> RowProgress:
    in_file = progress_in_file(run.pk) if run.state == ImportState.RUNNING else None
    return in_file or RowProgress(**run.progress)


def work(job: JobInHand) -> None:
    """All rows are written or none, together with the results of the run.

    Messages commit one by one: another attempt brings the rest, as each is known by its key.
    """
    run = ImportRun.objects.select_related("by").get(pk=job.parameters["run"])
    if run.state not in UNFINISHED:
        return  # An earlier attempt committed it, and its process ended before it could say so.
    run.state = ImportState.RUNNING
    run.save(update_fields=["state"])
    progress = RowProgress()
    store = partial(store_if_possible, partial(store_job_progress, run, job), run.pk)
    with sent_file(run) as file, forgetting_file(run), reporting(progress, store) as stop_storing:

        def seal(result: ImportResult) -> None:
            # The thread may wait for the row of the run, which this transaction is about to lock.
            stop_storing()
            record(run, result, progress)
            job.hold_until_commit()

        read = partial(import_stream, run.kind, file, name=run.file_name)
        if run.source:
            read = partial(import_of_source, file, kind=run.kind, source=run.source)
        result = read(
            dry_run=run.dry_run,
            partial=run.partial,
            by=run.by or run.by_name,
            author=run.by_name,
            progress=progress,
            seal=seal,
        )
        if not result.written or run.kind in MESSAGE_KINDS:  # Else it is recorded with its rows.
            with transaction.atomic():
                seal(result)


def store_job_progress(run: ImportRun | ImportSet, job: JobInHand | None, progress: RowProgress) -> None:
    type(run)._default_manager.filter(pk=run.pk).update(progress=progress.as_json())
    if job is not None:
        # Where another worker has taken the job over, the work finds it out before it commits.
        with suppress(JobLost):
            job.report_progress(progress.done, progress.total)


@contextmanager
def forgetting_file(run: ImportRun) -> Iterator[None]:
    try:
        yield
    finally:
        forget_file(run.pk)


@contextmanager
def sent_file(run: ImportRun) -> Iterator[IO[bytes]]:
    """The file as it was sent, on the disk of this machine."""
    parts = ImportFile.objects.filter(run=run)
    last = parts.aggregate(last=Max("number"))["last"]
    with tempfile.TemporaryFile() as file:
        for number in range(last + 1):
            file.write(parts.values_list("content", flat=True).get(number=number))
        file.seek(0)
        yield file


def record(run: ImportRun, result: ImportResult, progress: RowProgress) -> None:
    values: dict[str, Any] = {
        "state": ImportState.DONE if is_done(result) else ImportState.FAILED,
        "written": result.written,
        "progress": progress.as_json(),
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
        forget_file(run.pk)
        run.state, run.finished_at = ImportState(state.value), timezone.now()
        code = "import_of_messages_failed" if run.kind in MESSAGE_KINDS else "import_failed"
        run.problems = [why_ended(job, code).as_json()]
        run.save(update_fields=["state", "finished_at", "problems"])
        ImportFile.objects.filter(run=run).delete()


def why_ended(job: BackgroundJob, code: str = "import_failed") -> Fact:
    """A full disk, or what `code` says."""
    return fact("import_without_room" if job.error == WITHOUT_ROOM else code)


IMPORT = declare_kind(
    JobKind(name="import", work=work, usual_seconds=3.0, address=address, when_broken=end_run)
)


def keep_file(run: ImportRun, file: IO[bytes]) -> None:
    file.seek(0)
    for number, content in enumerate(iter(lambda: file.read(PART_BYTES), b"")):
        ImportFile.objects.create(run=run, number=number, content=content)


def request_import(run: ImportRun, file: IO[bytes], *, by: Requester) -> BackgroundJob:
    """Keep the file, in parts, until the scheduler has imported it, within what its sender may see."""
    keep_file(run, file)
    return request_job(IMPORT, {"run": run.pk}, scope=current_scope(), by=by)
