"""Files that were sent to be imported: how far each is, and its result."""

from dataclasses import dataclass
from pathlib import PurePath
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_id
from api.edge.scope import visible_to_caller
from api.exchange.import_runs import UNFINISHED, imports_seen_by, progress_of
from api.exchange.import_sets import SetRefused, sets_seen_by
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.progress import RowProgress
from api.exchange.results import RowOutcome
from api.exchange.tables import TABLES
from api.models import ImportRun, ImportState
from api.operations.scheduling.leadership import is_scheduler_running
from api.screens.import_sets import may_send, receive_files
from api.screens.own_api import send_file
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.storeroom_time import in_storeroom_time, storeroom_time
from api.wire.facts import stored_fact
from api.wording.labels import IMPORT_OUTCOMES
from api.wording.sentences import sentence
from inventory.models import Storeroom

SHOWN = 50
LONGEST_KEY = 100
MEDIA_TYPES = {
    ".csv": "text/csv",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".ndjson": "application/x-ndjson",
}
"""By the ending of a file's name, as the API takes them."""
REFRESH_SECONDS = 5
OVER_HTTP = 'curl -H "Authorization: Bearer TOKEN" -F file=@items.csv "{address}?kind=items&dry_run=true"'
ON_THE_COMPUTER = "python manage.py import_records items items.csv --dry-run"


@dataclass(frozen=True)
class ShownImport:
    """A run as the page shows it."""

    run: ImportRun

    @property
    def is_unfinished(self) -> bool:
        return self.run.state in UNFINISHED

    @property
    def address(self) -> str:
        if self.run.state == ImportState.MAPPING:
            return reverse("screens:mapping", kwargs={"key": self.run.pk})
        return reverse("import-detail", kwargs={"pk": self.run.pk})

    @property
    def progress(self) -> RowProgress:
        return progress_of(self.run)

    @property
    def outcomes(self) -> list[tuple[str, int]]:
        """The outcomes that some row had, as words, with their number."""
        found = {outcome: self.run.count_of(outcome) for outcome in RowOutcome}
        return [(str(IMPORT_OUTCOMES[outcome]), count) for outcome, count in found.items() if count]

    @property
    def problems(self) -> list[str]:
        return [sentence(stored_fact(one)) for one in self.run.problems]


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
@in_storeroom_time
def imports(request: WSGIRequest) -> HttpResponse:
    faults: list[tuple[str, str]] = []
    fault = ""
    if request.method == "POST" and "together" in request.POST:
        try:
            return redirect("screens:import_set", key=receive_files(request).pk)
        except SetRefused as refused:
            fault = sentence(refused.fact)
    elif request.method == "POST":
        if not may_decide_of(request):
            raise PermissionDenied
        faults = _send(request)
        if not faults:
            return redirect("screens:imports")
    runs = imports_seen_by(caller_id(request), ImportRun.objects.defer("row_results"))[:SHOWN]
    shown = [ShownImport(run) for run in runs]
    is_waiting = any(one.is_unfinished for one in shown)
    context = {
        "imports": shown,
        "faults": faults,
        "kinds": list(TABLES),
        "kind": request.POST.get("kind") or request.GET.get("kind", ""),
        "is_dry_run": request.method != "POST" or "dry_run" in request.POST,
        "sets": sets_seen_by(caller_id(request))[:SHOWN],
        "may_send": may_send(request),
        "fault": fault,
        "is_waiting": is_waiting,
        "refresh_seconds": REFRESH_SECONDS,
        "is_stopped": is_waiting and not is_scheduler_running(),
        "tables": [*TABLES.values(), *MESSAGE_TABLES.values()],
        "over_http": OVER_HTTP.format(address=request.build_absolute_uri(reverse("import-list"))),
        "on_the_computer": ON_THE_COMPUTER,
    }
    with storeroom_time(list(visible_to_caller(Storeroom.objects.order_by("code"))), ""):
        return render(request, "screens/imports.html", context, status=400 if faults or fault else 200)


def _send(request: WSGIRequest) -> list[tuple[str, str]]:
    """The uploaded file to the API; faults by the field to correct, and then nothing was kept."""
    file, kind = request.FILES.get("file"), request.POST.get("kind", "")
    if kind not in TABLES:
        return [("kind", _("Choose what the rows of the file are."))]
    media_type = MEDIA_TYPES.get(PurePath(file.name or "").suffix.lower()) if file else None
    if file is None or media_type is None:
        return [("file", _("Choose a file that ends in .csv, .xlsx or .ndjson."))]
    query = {"kind": kind, "dry_run": "true" if "dry_run" in request.POST else "false"}
    key = request.POST.get("key", "")[:LONGEST_KEY] or str(uuid4())
    answer = send_file(request, "import-list", file, media_type, query, key)
    if not answer.is_done:
        errors = answer.body.get("errors") or [answer.body]
        return [("file", str(error.get("detail", ""))) for error in errors]
    messages.success(request, _("Sent: {file}. What comes of it stands here.").format(file=file.name))
    return []
