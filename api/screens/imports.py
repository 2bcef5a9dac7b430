"""Files that were sent to be imported: how far each is, and its result."""

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.http import require_safe

from api.edge.auth import caller_id
from api.edge.scope import visible_to_caller
from api.exchange.import_runs import UNFINISHED, imports_seen_by, progress_of
from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.progress import RowProgress
from api.exchange.results import RowOutcome
from api.exchange.tables import TABLES
from api.models import ImportRun
from api.operations.scheduling.leadership import is_scheduler_running
from api.screens.planning.storeroom_time import in_storeroom_time, storeroom_time
from api.wire.facts import stored_fact
from api.wording.labels import IMPORT_OUTCOMES
from api.wording.sentences import sentence
from inventory.models import Storeroom

SHOWN = 50
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


@require_safe
@login_required
@in_storeroom_time
def imports(request: HttpRequest) -> HttpResponse:
    runs = imports_seen_by(caller_id(request), ImportRun.objects.defer("row_results"))[:SHOWN]
    shown = [ShownImport(run) for run in runs]
    is_waiting = any(one.is_unfinished for one in shown)
    context = {
        "imports": shown,
        "is_waiting": is_waiting,
        "refresh_seconds": REFRESH_SECONDS,
        "is_stopped": is_waiting and not is_scheduler_running(),
        "tables": [*TABLES.values(), *MESSAGE_TABLES.values()],
        "over_http": OVER_HTTP.format(address=request.build_absolute_uri(reverse("import-list"))),
        "on_the_computer": ON_THE_COMPUTER,
    }
    with storeroom_time(list(visible_to_caller(Storeroom.objects.order_by("code"))), ""):
        return render(request, "screens/imports.html", context)
