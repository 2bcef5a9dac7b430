"""Files that were sent to be imported: how far each is, and its result."""

from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_id, roles_of
from api.exchange.import_runs import UNFINISHED, imports_seen_by, progress_of
from api.exchange.import_sets import SetRefused, sets_seen_by
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.permitted_kinds import may_import
from api.exchange.progress import RowProgress
from api.exchange.results import RowOutcome
from api.exchange.tables import KINDS, TABLES
from api.models import ImportRun
from api.operations.scheduling.leadership import is_scheduler_running
from api.screens.import_sets import kind_in, may_send, receive_files
from api.wire.facts import stored_fact
from api.wording.labels import IMPORT_OUTCOMES
from api.wording.sentences import sentence

SHOWN = 50
REFRESH_SECONDS = 5
OVER_HTTP = 'curl -H "Authorization: Bearer TOKEN" -F file=@items.csv "{address}?kind=items&dry_run=true"'
ON_THE_COMPUTER = f"{settings.PROGRAM} import_files FOLDER --dry-run"


@dataclass(frozen=True)
class ShownImport:
    """A run as the page shows it."""

    run: ImportRun

    @property
    def is_unfinished(self) -> bool:
        return self.run.state in UNFINISHED

    @property
    def address(self) -> str:
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
def imports(request: WSGIRequest) -> HttpResponse:
    fault = ""
    if request.method == "POST":
        try:
            return redirect("screens:import_set", key=receive_files(request).pk)
        except SetRefused as refused:
            fault = sentence(refused.fact)
    runs = imports_seen_by(caller_id(request), ImportRun.objects.defer("row_results"))[:SHOWN]
    shown = [ShownImport(run) for run in runs]
    is_waiting = any(one.is_unfinished for one in shown)
    context = {
        "imports": shown,
        "kinds": [kind for kind in KINDS if may_import(kind, roles_of(request))],
        "kind": kind_in(request.POST.get("kind") or request.GET.get("kind", "")),
        "source": request.POST.get("source", ""),
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
    return render(request, "screens/imports.html", context, status=400 if fault else 200)
