"""One import of several files: what each sheet is, what it would change or did, and its undoing."""

from dataclasses import dataclass
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from api.edge.auth import caller_id, caller_name, roles_of
from api.edge.csv_writing import csv_file
from api.edge.workbook_writing import CONTENT_TYPE
from api.exchange.import_sets import (
    OPEN_STATES,
    UNFINISHED,
    GivenFile,
    SetRefused,
    choose_kinds,
    make_set,
    read_as_well,
    sets_seen_by,
)
from api.exchange.permitted_kinds import may_import
from api.exchange.progress import RowProgress
from api.exchange.results import RowOutcome
from api.exchange.set_questions import mapped_sheets, questions_of
from api.exchange.set_runs import NOT_LISTED, check_ready, progress_of_set, request_set
from api.exchange.tables import KINDS
from api.exchange.templates import csv_meanings, csv_template, workbook_template
from api.exchange.undoing import never_undone, undo
from api.models import ImportSet, ImportSetState, ImportSheet, Role
from api.operations.jobs.queue import requester_of
from api.operations.scheduling.leadership import is_scheduler_running
from api.screens.import_questions import ShownQuestion, mappings_of, take_answers
from api.wire.facts import stored_fact
from api.wording.labels import IMPORT_OUTCOMES
from api.wording.sentences import sentence
from inventory.facts import fact

ROWS_SHOWN = 30
"""Of each sheet on the page; the file has all that are kept."""
REFRESH_SECONDS = 3


@dataclass(frozen=True)
class ShownSheet:
    """A sheet as the page shows it; the last of its kinds has the choice of a further one."""

    sheet: ImportSheet
    is_last: bool = True

    @property
    def field(self) -> str:
        return f"kind-{self.sheet.number}"

    @property
    def field_beside(self) -> str:
        """Of another kind that its rows are as well."""
        return f"beside-{self.sheet.number}"

    @property
    def outcomes(self) -> list[tuple[str, int]]:
        found = {outcome: self.sheet.count_of(outcome) for outcome in RowOutcome}
        return [(str(IMPORT_OUTCOMES[outcome]), count) for outcome, count in found.items() if count]

    @property
    def problems(self) -> list[str]:
        return [sentence(stored_fact(one)) for one in self.sheet.problems]

    @property
    def notes(self) -> list[str]:
        return [sentence(stored_fact(one)) for one in self.sheet.notes]

    @property
    def faults(self) -> list[tuple[int, str, str, str]]:
        """Line, key, column and sentence."""
        return [
            (row["line"], row["key"], error["column"], sentence(stored_fact(error)))
            for row in self.sheet.row_results
            for error in row["errors"]
        ]

    @property
    def changes(self) -> list[tuple[int, str, str, Any, Any]]:
        return [
            (row["line"], row["key"], one["column"], shown(one["before"]), shown(one["after"]))
            for row in self.sheet.row_results
            for one in row.get("changes", ())
        ]

    @property
    def shown_faults(self) -> list[tuple[int, str, str, str]]:
        return self.faults[:ROWS_SHOWN]

    @property
    def shown_changes(self) -> list[tuple[int, str, str, Any, Any]]:
        return self.changes[:ROWS_SHOWN]


def shown(value: Any) -> str:
    """A value of the log; nothing where it says nothing."""
    if isinstance(value, bool):
        return _("yes") if value else _("no")
    return "–" if value in (None, "", []) else str(value)


def may_send(request: HttpRequest) -> bool:
    """A plant is brought in by its managers; an integration may do it too, within its kinds."""
    return bool(roles_of(request) & {Role.MANAGER, Role.INTEGRATION})


def may_answer(request: HttpRequest) -> bool:
    """What a source means holds for all: a manager says it."""
    return Role.MANAGER in roles_of(request)


def receive_files(request: HttpRequest) -> ImportSet:
    """The set of the files of a form; raises SetRefused."""
    if not may_send(request):
        raise PermissionDenied
    given = [GivenFile(shown_name(one.name), one.file) for one in request.FILES.getlist("files")]  # type: ignore[arg-type]
    return make_set(
        given,
        source=request.POST.get("source", "").strip()[:40],
        kind=kind_in(request.POST.get("kind", "")),
        by_name=caller_name(request),
        caller=caller_id(request),
        by=request.user,
    )


def kind_in(text: str) -> str:
    return text if text in KINDS else ""


def shown_name(name: str | None) -> str:
    return "".join(c if c.isprintable() else "\N{REPLACEMENT CHARACTER}" for c in name or "")[:200]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def import_set(request: HttpRequest, key: int) -> HttpResponse:
    owner = get_object_or_404(sets_seen_by(caller_id(request)), pk=key)
    fault = ""
    if request.method == "POST":
        if not may_send(request):
            raise PermissionDenied
        try:
            fault = act(request, owner)
        except SetRefused as refused:
            fault = sentence(refused.fact)
        if not fault:
            return redirect("screens:import_set", key=key)
    owner.refresh_from_db()
    is_waiting = owner.state in UNFINISHED
    is_open = owner.state in OPEN_STATES and may_send(request)
    mapped = mapped_sheets(owner) if is_open else []
    is_done, kept = owner.state == ImportSetState.DONE, never_undone(owner)
    context = {
        "set": owner,
        "sheets": shown_sheets(owner),
        "questions": [ShownQuestion(one) for one in questions_of(mapped)],
        "mappings": mappings_of(mapped),
        "may_answer": may_answer(request),
        "kinds": [kind for kind in KINDS if may_import(kind, roles_of(request))],
        "fault": fault,
        "is_waiting": is_waiting,
        "is_open": is_open,
        "is_tried": owner.state == ImportSetState.TRIED,
        "is_refused": owner.state == ImportSetState.REFUSED,
        "is_done": is_done,
        "is_undone": owner.state == ImportSetState.UNDONE,
        "may_undo": is_done and not kept and may_send(request),
        "never_undone": sentence(kept) if kept else "",
        "is_stopped": is_waiting and not is_scheduler_running(),
        "progress": progress_of_set(owner) if is_waiting else RowProgress(),
        "refresh_seconds": REFRESH_SECONDS,
    }
    return render(request, "screens/import_set.html", context, status=409 if fault else 200)


def shown_sheets(owner: ImportSet) -> list[ShownSheet]:
    """In the order of the files, those of one sheet together."""
    found = sorted(
        owner.sheets.select_related("file"), key=lambda one: (one.file.number, one.name, one.number)
    )
    last = {(one.file_id, one.name): one.pk for one in found}
    return [ShownSheet(one, one.pk in last.values()) for one in found]


def act(request: HttpRequest, owner: ImportSet) -> str:
    """What the button that was pressed says. Gives what is wrong with an answer."""
    if "undo" in request.POST:
        refuse_beyond_role(request, owner)
        done = undo(owner, by=request.user).undo_result  # type: ignore[arg-type]
        text = ngettext("Undone: {count} record deleted", "Undone: {count} records deleted", done["deleted"])
        messages.success(request, said(text.format(count=done["deleted"]), done))
        return ""
    sheets, kinds = mapped_sheets(owner), kinds_of(owner)
    count, fault = take_answers(request, sheets) if may_answer(request) else (0, "")
    chosen = {
        sheet.number: request.POST[field]
        for sheet in owner.sheets.all()
        if (field := ShownSheet(sheet).field) in request.POST
    }
    choose_kinds(owner, chosen)
    for sheet in owner.sheets.all():
        if kind := request.POST.get(ShownSheet(sheet).field_beside):
            read_as_well(owner, sheet.number, kind)
    refuse_beyond_role(request, owner)
    if fault or not {"try", "write"} & request.POST.keys():
        return fault
    check_ready(owner)
    if count or kinds_of(owner) != kinds:
        sheets = mapped_sheets(owner)
    if not questions_of(sheets):
        request_set(owner, dry_run="write" not in request.POST, by=requester_of(request))
    return ""


def kinds_of(owner: ImportSet) -> list[str]:
    return list(owner.sheets.values_list("kind", flat=True))


def said(begin: str, done: dict[str, int]) -> str:
    parts = [
        begin,
        _("{count} as before").format(count=done["restored"]),
        _("{count} movements reversed").format(count=done["reversed"]),
    ]
    if done["kept"]:
        parts.append(_("{count} stay, as the ledger names them").format(count=done["kept"]))
    return ", ".join(parts) + "."


def refuse_beyond_role(request: HttpRequest, owner: ImportSet) -> None:
    roles = roles_of(request)
    for sheet in owner.sheets.select_related("file"):
        if sheet.kind and not may_import(sheet.kind, roles):
            raise SetRefused(fact("kind_beyond_role", sheet=sheet.title, kind=sheet.kind))


@require_safe
@login_required
def import_set_rows(request: HttpRequest, key: int) -> StreamingHttpResponse:
    """What came of each row that is kept, as CSV; of each sheet how many are not comes first."""
    owner = get_object_or_404(sets_seen_by(caller_id(request)), pk=key)
    header = ["sheet", "kind", "line", "key", "outcome", "column", "before", "after", "detail"]
    return csv_file(f"import-{owner.pk}.csv", header, iter(file_rows(owner)))


def file_rows(owner: ImportSet) -> list[list[Any]]:
    found: list[list[Any]] = []
    for sheet in owner.sheets.select_related("file"):
        found += [
            [sheet.title, sheet.kind, *[""] * 6, sentence(stored_fact(note))]
            for note in sheet.notes
            if note["code"] == NOT_LISTED
        ]
        for row in sheet.row_results:
            begin = [sheet.title, sheet.kind, row["line"], row["key"], row["outcome"]]
            found += [
                [*begin, error["column"], "", "", sentence(stored_fact(error))] for error in row["errors"]
            ]
            found += [
                [*begin, one["column"], shown(one["before"]), shown(one["after"]), ""]
                for one in row.get("changes", ())
            ]
            if not row["errors"] and not row.get("changes"):
                found.append([*begin, "", "", "", ""])
    return found


@require_safe
@login_required
def import_template(request: HttpRequest, name: str) -> HttpResponse:
    """`plant.xlsx` with a sheet for each kind, `columns.csv` that explains them, and a CSV file for each kind."""
    kind, _point, form = name.rpartition(".")
    if name == "plant.xlsx":
        return download(name, workbook_template(), CONTENT_TYPE)
    if name == "columns.csv":
        return download(name, csv_meanings(KINDS).encode(), "text/csv; charset=utf-8")
    if kind in KINDS and form == "xlsx":
        return download(name, workbook_template([kind]), CONTENT_TYPE)
    if kind in KINDS and form == "csv":
        return download(name, csv_template(kind).encode(), "text/csv; charset=utf-8")
    raise Http404


def download(name: str, content: bytes, content_type: str) -> HttpResponse:
    headers = {"Content-Disposition": f'attachment; filename="{name}"'}
    return HttpResponse(content, content_type=content_type, headers=headers)
