"""Carries out a set of files, as a job or for a command, and keeps what came of each sheet."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from functools import partial

from django.db import transaction
from django.urls import reverse
from django.utils import timezone

from api.exchange.import_runs import store_job_progress, why_ended
from api.exchange.import_sets import (
    OPEN_STATES,
    UNFINISHED,
    SetRefused,
    forget_files,
    opened_sheets,
    sheets_to_import,
)
from api.exchange.progress import (
    JoinedProgress,
    RowProgress,
    forget_file,
    progress_in_file,
    reporting,
    store_if_possible,
)
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult, RowOutcome, RowResult
from api.exchange.together import KindSheet, import_together
from api.models import BackgroundJob, ImportSet, ImportSetState, ImportSheet, JobState
from api.operations.jobs.kinds import JobInHand, JobKind, Parameters, declare_kind
from api.operations.jobs.queue import Requester, request_job
from inventory.facts import Fact, fact
from inventory.models.access_scope import current_scope

ROWS_KEPT = 2_000
"""Of each sheet: refused, waiting and changed ones first."""
NOT_LISTED = "rows_not_listed"
ORDER = (
    RowOutcome.REJECTED,
    RowOutcome.WAITING,
    RowOutcome.UPDATED,
    RowOutcome.CREATED,
    RowOutcome.UNCHANGED,
)
Results = Mapping[int, ImportResult]
"""By number of the sheet."""


def progress_of_set(owner: ImportSet) -> RowProgress:
    in_file = progress_in_file(f"set-{owner.pk}") if owner.state == ImportSetState.RUNNING else None
    return in_file or RowProgress(**owner.progress)


def carry_out(owner: ImportSet, *, dry_run: bool, job: JobInHand | None = None) -> ImportSet:
    """Try or import the set; what was done is recorded in the transaction of the rows."""
    owner.state, owner.dry_run = ImportSetState.RUNNING, dry_run
    owner.save(update_fields=["state", "dry_run"])
    with opened_sheets(owner) as sheets:
        readable = [(sheet, rows) for sheet, rows in sheets if isinstance(rows, KindSheet)]
        refused = {
            sheet.number: ImportResult(sheet.kind, problems=rows.facts, dry_run=dry_run)
            for sheet, rows in sheets
            if isinstance(rows, FileRefused)
        }
        progress = JoinedProgress([sheet.rows for sheet, _ in readable])
        run = f"set-{owner.pk}"
        store = partial(store_if_possible, partial(store_job_progress, owner, job), run)
        try:
            with reporting(progress, store) as stop_storing:

                def seal(results: list[ImportResult]) -> None:
                    stop_storing()
                    numbers = [sheet.number for sheet, _ in readable]
                    record(owner, by_number(numbers, results) | refused, progress)
                    if job is not None:
                        job.hold_until_commit()

                results = import_together(
                    [rows for _, rows in readable],
                    dry_run=dry_run or bool(refused),
                    by=owner.by or owner.by_name or "import",
                    author=owner.by_name,
                    owner=owner,
                    progress=progress,
                    seal=seal,
                )
                if not all(result.written for result in results) or not results:
                    with transaction.atomic():
                        seal(results)
        finally:
            forget_file(run)
    return owner


def by_number(numbers: Sequence[int], results: Sequence[ImportResult]) -> dict[int, ImportResult]:
    """Those of one sheet in one: each of its rows may be two records."""
    found: dict[int, ImportResult] = {}
    for number, result in zip(numbers, results, strict=True):
        one = found.get(number)
        found[number] = (
            result
            if one is None
            else replace(
                result,
                row_results=one.row_results + result.row_results,
                problems=tuple(dict.fromkeys(one.problems + result.problems)),
                notes=tuple(dict.fromkeys(one.notes + result.notes)),
                written=one.written and result.written,
                counts=one.counts + result.counts,
            )
        )
    return found


def record(owner: ImportSet, results: Results, progress: JoinedProgress) -> None:
    for sheet in owner.sheets.all():
        keep_result(sheet, results.get(sheet.number))
    is_accepted = bool(results) and all(result.is_accepted for result in results.values())
    is_written = is_accepted and not owner.dry_run
    owner.state = (
        ImportSetState.DONE if is_written else ImportSetState.TRIED if is_accepted else ImportSetState.REFUSED
    )
    owner.progress, owner.finished_at = progress.summed().as_json(), timezone.now()
    owner.save(update_fields=["state", "progress", "finished_at"])
    if is_written:
        forget_files(owner)


def keep_result(sheet: ImportSheet, result: ImportResult | None) -> None:
    """A sheet that is left out keeps why it cannot be read, if so."""
    sheet.counts = result.counts if result else {}
    if result is not None:
        sheet.problems = [one.as_json() for one in result.problems]
        sheet.notes = [one.as_json() for one in notes_of(result)]
    rows = sorted(result.row_results, key=urgency)[:ROWS_KEPT] if result else []
    sheet.row_results = [row.as_json() for row in rows]
    sheet.save(update_fields=["counts", "problems", "notes", "row_results"])


def notes_of(result: ImportResult) -> list[Fact]:
    """With how many rows are not kept: of those that a result lists, a set keeps fewer."""
    notes = [one for one in result.notes if one.code != NOT_LISTED]
    total, listed = sum(result.counts.values()), min(len(result.row_results), ROWS_KEPT)
    return [*notes, fact(NOT_LISTED, count=total - listed, listed=listed)] if total > listed else notes


def urgency(row: RowResult) -> tuple[int, int]:
    return ORDER.index(row.outcome), row.line


def work(job: JobInHand) -> None:
    owner = ImportSet.objects.select_related("by").get(pk=job.parameters["set"])
    if (
        owner.state in UNFINISHED
    ):  # Else an earlier attempt committed it, and its process ended before it could say so.
        carry_out(owner, dry_run=job.parameters["dry_run"], job=job)


def address(parameters: Parameters) -> str:
    return reverse("screens:import_set", kwargs={"key": parameters["set"]})


def end_set(job: BackgroundJob, state: JobState) -> None:
    for owner in ImportSet.objects.filter(pk=job.parameters["set"], state__in=UNFINISHED):
        forget_file(f"set-{owner.pk}")
        owner.state, owner.finished_at = ImportSetState.INTERRUPTED, timezone.now()
        owner.save(update_fields=["state", "finished_at"])
        for sheet in sheets_to_import(owner)[:1]:  # It holds for all of them.
            sheet.problems = [why_ended(job).as_json()]
            sheet.save(update_fields=["problems"])


IMPORT_SET = declare_kind(
    JobKind(name="import_set", work=work, usual_seconds=5.0, address=address, when_broken=end_set)
)


def request_set(owner: ImportSet, *, dry_run: bool, by: Requester) -> BackgroundJob:
    """Let the scheduler try or import it, within what its sender may see."""
    check_ready(owner)
    owner.state, owner.dry_run, owner.progress = ImportSetState.QUEUED, dry_run, {}
    owner.save(update_fields=["state", "dry_run", "progress"])
    return request_job(IMPORT_SET, {"set": owner.pk, "dry_run": dry_run}, scope=current_scope(), by=by)


def check_ready(owner: ImportSet) -> None:
    if owner.state not in OPEN_STATES:
        raise SetRefused(fact("import_is_over", state=str(owner.state)))
    if not sheets_to_import(owner):
        raise SetRefused(fact("no_sheet_has_a_kind"))


def purge_sets(before: datetime) -> int:
    """Of sets that nobody went on with: nothing of them was written."""
    _, deleted = ImportSet.objects.filter(created_at__lt=before, state__in=OPEN_STATES).delete()
    return deleted.get(ImportSet._meta.label, 0)
