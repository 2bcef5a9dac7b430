"""Feeds of senders that cannot be changed: what each means by its fields and codes, what came last, and a message to try."""

import io
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from typing import Any

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.db import transaction
from django.db.models import Count, Max, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_name, roles_of
from api.exchange.feeds.omissions import WORDS
from api.exchange.feeds.taking import ASKED_LATER, KINDS
from api.exchange.kept_readings import without_rows
from api.exchange.mapping.mapped_file import MappedFile, Remembered, map_file
from api.exchange.mapping.nested import record_paths
from api.exchange.mapping.questions import FileQuestion, of_code
from api.exchange.mapping.remembered import remember, remembered
from api.exchange.refusals import FileRefused
from api.exchange.run import run_import
from api.exchange.set_questions import MappedSheet, answer, questions_of
from api.exchange.tables import MESSAGE_KINDS
from api.models import AnswerAbout, ImportSheet, Role, SentFile, SourceAnswer
from api.screens.import_questions import ShownMapping, ShownQuestion, given_in, said_of
from api.wire.cells import is_empty
from api.wording.labels import IMPORT_OUTCOMES
from api.wording.sentences import sentence
from drives.feed.code_mapping import VOCABULARY
from drives.models import InboundMessage, MessageOutcome
from inventory.models.access_scope import current_scope

LONGEST_SOURCE = 40
LONGEST_MESSAGE = 200_000
MOST_SHOWN = 20
OVER_HTTP = "POST {address}\nAuthorization: Bearer TOKEN"
ROWS_AT, OMITTED = str(AnswerAbout.ROWS_AT), str(AnswerAbout.OMITTED)


@dataclass(frozen=True)
class ShownRecord:
    """One record of the message: its cells as they would be taken, and what would come of it."""

    cells: list[str]
    outcome: str
    reasons: list[str]


@dataclass
class Trial:
    """A message that somebody pasted."""

    source: str
    kind: str
    message: str = ""
    rows_at: str = ""
    omitted: str = ""
    fault: str = ""
    sheets: list[MappedSheet] = field(default_factory=list)
    columns: tuple[str, ...] = ()
    records: list[ShownRecord] = field(default_factory=list)
    answered: dict[str, str] = field(default_factory=dict)
    """Fields of questions that are settled by what was chosen before: they go on with the form until it is remembered."""

    @property
    def questions(self) -> list[ShownQuestion]:
        return [ShownQuestion(one) for one in questions_of(self.sheets)]

    @property
    def mappings(self) -> list[ShownMapping]:
        return [ShownMapping(one) for one in self.sheets]

    @property
    def omissions(self) -> tuple[str, ...]:
        return WORDS.get(self.kind, ())


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def feeds(request: HttpRequest) -> HttpResponse:
    """What a source means holds for all: a manager who sees all plants says it, and reads what came of any."""
    if Role.MANAGER not in roles_of(request) or not current_scope().is_whole:
        raise PermissionDenied
    given = request.POST if request.method == "POST" else request.GET
    trial = trial_of(given.get("source", ""), given.get("kind", ""))
    if request.method == "POST":
        trial = tried(request, trial)
    context: dict[str, Any] = {
        "feeds": known_feeds(),
        "kinds": KINDS,
        "trial": trial,
        "longest": LONGEST_SOURCE,
    }
    if trial.source and trial.kind in KINDS:
        address = request.build_absolute_uri(reverse("feed", args=[trial.source, trial.kind]))
        context["address"] = OVER_HTTP.format(address=address)
        context["latest"] = InboundMessage.objects.filter(source=trial.source).order_by("-received_at")[
            :MOST_SHOWN
        ]
    return render(request, "screens/feeds.html", context, status=400 if trial.fault else 200)


def known_feeds() -> list[dict[str, Any]]:
    """Each source with its kinds, what it left waiting, and when it was last heard."""
    rows = SourceAnswer.objects.filter(kind__in=KINDS).values("source", "kind").annotate(answers=Count("pk"))
    heard = InboundMessage.objects.values("source").annotate(
        last=Max("received_at"), waiting=Count("pk", filter=Q(outcome=MessageOutcome.WAITING))
    )
    by_source = {one["source"]: one for one in heard.order_by()}
    return [{**by_source.get(one["source"], {}), **one} for one in rows.order_by("source", "kind")]


def trial_of(source: str, kind: str) -> Trial:
    source = source.strip()[:LONGEST_SOURCE].replace("\x00", "")
    answers = remembered(source, kind).answers if source and kind in KINDS else {}
    return Trial(source, kind, rows_at=answers.get(ROWS_AT, ""), omitted=answers.get(OMITTED, ""))


def tried(request: HttpRequest, trial: Trial) -> Trial:
    """The message as it would be read by what is known and what stands in the form; remembered where that was asked for."""
    trial.message = request.POST.get("message", "")
    trial.omitted = request.POST.get(OMITTED, "")
    trial.answered = {
        name: str(said)
        for name, said in request.POST.items()
        if name.startswith(("answer ", "text ")) and str(said).strip() not in ("", "?")
    }
    if not trial.source or trial.kind not in KINDS or not trial.message.strip():
        trial.fault = _("Name the source, choose what its records are, and paste a message.")
        return trial
    if len(trial.message) > LONGEST_MESSAGE:
        said = _("Paste a message of at most {most} letters: one with a few records says as much.")
        trial.fault, trial.message = said.format(most=LONGEST_MESSAGE), ""
        return trial
    paths = record_paths(trial.message)
    trial.rows_at = request.POST.get(ROWS_AT, "").strip() or trial.rows_at or (paths[0] if paths else "")
    try:
        with transaction.atomic():
            remember_rest(trial)
            for _pass in range(2):  # What a field means decides which codes of it are asked about.
                trial.sheets = [sheet_of(trial, mapped_message(trial))]
                answer(trial.sheets, given_in(request.POST), said_of(request.POST, "heading "))
            mapped = mapped_message(trial)
            trial.sheets = [sheet_of(trial, mapped)]
            for one in trial.questions:
                trial.answered.pop(one.field, None)
                trial.answered.pop(one.text_field, None)
            read_records(trial, mapped, caller_name(request))
            if "remember" in request.POST:
                messages.success(request, _("Remembered. The next message is read so."))
            else:
                transaction.set_rollback(True)
    except FileRefused as refusal:
        trial.fault = " ".join(sentence(one) for one in refusal.facts)
    return trial


def remember_rest(trial: Trial) -> None:
    known = remembered(trial.source, trial.kind).answers
    given = {ROWS_AT: trial.rows_at, OMITTED: trial.omitted if trial.omitted in trial.omissions else ""}
    remember(trial.source, trial.kind, {key: said for key, said in given.items() if said or key in known})


def mapped_message(trial: Trial) -> MappedFile:
    known: Remembered = remembered(trial.source, trial.kind).with_answers({ROWS_AT: trial.rows_at})
    stream = io.BytesIO(trial.message.encode())
    mapped = map_file(stream, kind=trial.kind, remembered=known)
    return replace(mapped, questions=(*mapped.questions, *code_questions(mapped)))


def sheet_of(trial: Trial, mapped: MappedFile) -> MappedSheet:
    sheet = ImportSheet(number=1, kind=trial.kind, file=SentFile(name=trial.source))
    return MappedSheet(sheet, trial.source, (without_rows(mapped),))


def code_questions(mapped: MappedFile) -> Iterator[FileQuestion]:
    """Codes of work orders are taken as they are, and asked about later: here they can be said at once."""
    for one in mapped.columns if mapped.kind in MESSAGE_KINDS else ():
        words = VOCABULARY.get(one.column.name, ())
        codes = Counter(
            str(cell) for cell in one.own if words and not is_empty(cell) and str(cell) not in words
        )
        yield from (of_code(one.heading, one.column, code, times, words) for code, times in codes.items())


def read_records(trial: Trial, mapped: MappedFile, by: str) -> None:
    """Nothing of it stays: a dry run."""
    if any(one.key.partition(":")[0] not in ASKED_LATER for one in mapped.questions):
        return
    sheet = mapped.sheet_despite(*ASKED_LATER)
    result = mapped.with_headings(run_import(trial.kind, sheet, dry_run=True, partial=True, by=by))
    if result.problems:
        raise FileRefused(*result.problems)
    outcomes = {row.line: row for row in result.row_results}
    trial.columns = tuple(sheet.columns)
    for row in list(sheet.rows)[:MOST_SHOWN]:
        found = outcomes.get(row.line)
        reasons = [f"{one.column}: {sentence(one.fact)}" for one in found.errors] if found else []
        outcome = str(IMPORT_OUTCOMES[found.outcome]) if found else ""
        cells = ["" if cell is None else str(cell) for cell in row.cells]
        trial.records.append(ShownRecord(cells, outcome, reasons))
