"""A file with headings of its own: which column each of them is, what is not clear, and the way to import it."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.contrib.auth.models import User
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_id, caller_name, roles_of
from api.exchange.import_runs import import_kept, imports_seen_by, keep_file, sent_file
from api.exchange.mapping.answering import check_answers
from api.exchange.mapping.headings import Proposal
from api.exchange.mapping.importing import mapped_of_source
from api.exchange.mapping.mapped_file import MappedFile, table_of_kind
from api.exchange.mapping.questions import FileQuestion, samples
from api.exchange.mapping.remembered import answers_of, remember
from api.exchange.refusals import FileRefused
from api.exchange.tables import KINDS
from api.models import ImportRun, ImportState, Role
from api.operations.jobs.queue import requester_of
from api.wording.sentences import sentence

LONGEST_SOURCE = 40
LONGEST_NAME = 200


@dataclass(frozen=True)
class ShownHeading:
    """One heading with its select: the column that is proposed is chosen."""

    proposal: Proposal
    cells: tuple[str, ...]
    columns: tuple[str, ...]

    @property
    def key(self) -> str:
        return f"heading:{self.proposal.heading}"

    @property
    def choices(self) -> list[tuple[str, bool]]:
        names = (
            *self.proposal.candidates,
            *(one for one in self.columns if one not in self.proposal.candidates),
        )
        return [(name, name == self.proposal.column) for name in names]


@dataclass(frozen=True)
class ShownOption:
    value: str
    label: str
    results: str


@dataclass(frozen=True)
class ShownQuestion:
    question: FileQuestion

    @property
    def key(self) -> str:
        return self.question.key

    @property
    def text(self) -> str:
        return sentence(self.question.text)

    @property
    def examples(self) -> str:
        return "; ".join(self.question.examples)

    @property
    def options(self) -> Iterator[ShownOption]:
        for one in self.question.options:
            label = sentence(one.label) if one.label else one.value
            yield ShownOption(one.value, label, "; ".join(one for one in one.results if one))


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def new_mapping(request: HttpRequest) -> HttpResponse:
    refuse_others(request)
    given = {name: request.POST.get(name, "").strip() for name in ("source", "kind")}
    fault = ""
    if request.method == "POST":
        fault = fault_of(request, given)
        if not fault:
            return redirect("screens:mapping", key=keep(request, given).pk)
    kinds = [(kind, kind == given["kind"]) for kind in KINDS]
    context = {"given": given, "fault": fault, "kinds": kinds, "longest": LONGEST_SOURCE}
    return render(request, "screens/new_mapping.html", context, status=400 if fault else 200)


def refuse_others(request: HttpRequest) -> None:
    """What a source means holds for all: a manager says it."""
    if Role.MANAGER not in roles_of(request):
        raise PermissionDenied


def fault_of(request: HttpRequest, given: Mapping[str, str]) -> str:
    if not given["source"] or len(given["source"]) > LONGEST_SOURCE or "\x00" in given["source"]:
        return _("Name the source.")
    if given["kind"] not in KINDS:
        return _("Choose what the rows are.")
    file = request.FILES.get("file")
    if file is None:
        return _("Choose a file.")
    try:
        mapped_of_source(file.file, kind=given["kind"], source=given["source"])  # type: ignore[arg-type]
    except FileRefused as refusal:
        return " ".join(sentence(one) for one in refusal.facts)
    return ""


def keep(request: HttpRequest, given: Mapping[str, str]) -> ImportRun:
    upload: Any = request.FILES["file"]
    name = "".join(letter for letter in upload.name if letter.isprintable())[:LONGEST_NAME]
    run = ImportRun.objects.create(
        kind=given["kind"],
        source=given["source"],
        file_name=name,
        state=ImportState.MAPPING,
        by=request.user if isinstance(request.user, User) else None,
        by_name=caller_name(request),
        caller=caller_id(request),
    )
    keep_file(run, upload.file)
    return run


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def mapping(request: HttpRequest, key: int) -> HttpResponse:
    refuse_others(request)
    runs = imports_seen_by(caller_id(request), ImportRun.objects.filter(state=ImportState.MAPPING))
    run = get_object_or_404(runs, pk=key)
    fault = ""
    if request.method == "POST":
        act = request.POST.get("act", "")
        if act in ("try", "import"):
            import_kept(run, dry_run=act == "try", by=requester_of(request))
            return redirect("screens:imports")
        fault = take_answers(request, run)
        if not fault:
            return redirect("screens:mapping", key=run.pk)
    with sent_file(run) as file:
        mapped = mapped_of_source(file, kind=run.kind, source=run.source)
    return render(
        request, "screens/mapping.html", context_of(run, mapped, fault), status=400 if fault else 200
    )


def take_answers(request: HttpRequest, run: ImportRun) -> str:
    """What was chosen on the page becomes the answers of the source; a text in words wins over the option beside it."""
    with sent_file(run) as file:
        mapped = mapped_of_source(file, kind=run.kind, source=run.source)
    keys = [f"heading:{one.heading}" for one in mapped.proposals] + [one.key for one in mapped.questions]
    given = {}
    for key in keys:
        answer = request.POST.get(f"text {key}", "").strip() or request.POST.get(key)
        if answer is not None and answer != "?":
            given[key] = answer
    try:
        check_answers(run.kind, given)
    except FileRefused as refusal:
        return " ".join(sentence(one) for one in refusal.facts)
    remember(run.source, run.kind, {**answers_of(mapped, {}), **given})
    return ""


def context_of(run: ImportRun, mapped: MappedFile, fault: str) -> dict[str, Any]:
    columns = tuple(column.name for column in table_of_kind(run.kind).every_column)
    asked = [one for one in mapped.questions if not one.key.startswith("heading:")]
    return {
        "run": run,
        "fault": fault,
        "headings": [
            ShownHeading(one, samples(mapped.table.column(one.heading)), columns) for one in mapped.proposals
        ],
        "questions": [ShownQuestion(one) for one in asked],
        "is_open": bool(mapped.questions),
        "notes": [sentence(one) for one in (*mapped.table.notes, *mapped.notes)],
        "rows": len(mapped.table.rows),
    }
