"""Jobs of the next stop: those whose parts will not be there, by the day on which the missing have to be ordered."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import F
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.screens.acts import number_of
from api.screens.planning.list_filters import page_number
from drives.models import WorkOrder
from drives.substitutes.job_readiness import THERE, JobLine, JobLineState, JobReadiness, readiness_of
from drives.substitutes.job_watch import jobs_with_parts, short_parts
from inventory.models import Item

PAGE_SIZE, READY_PAGE_SIZE = 25, 50
STATES = {
    JobLineState.SUBSTITUTE: gettext_lazy("a substitute is there"),
    JobLineState.ON_ORDER: gettext_lazy("on order"),
    JobLineState.SHORT: gettext_lazy("missing"),
}


@dataclass(frozen=True)
class NeedyJob:
    job: WorkOrder
    ready: JobReadiness
    items: Mapping[str, Item]

    @property
    def lines(self) -> list[tuple[JobLine, str, Item | None]]:
        """What is not there with its state and item, what has to be ordered first before the rest."""
        missing = [line for line in self.ready.lines if line.state not in THERE]
        missing.sort(key=lambda line: (line.order_by is None, line.order_by or date.max, line.item))
        return [(line, str(STATES[line.state]), self.items.get(line.item)) for line in missing]

    @property
    def is_late(self) -> bool:
        return any(line.is_late for line in self.ready.lines if line.missing)

    @property
    def worst_first(self) -> tuple[bool, date, date, str]:
        order_by, needed_by = self.ready.order_by, self.job.needed_by
        return order_by is None, order_by or date.max, needed_by or date.max, self.job.external_id


@dataclass(frozen=True)
class JobFilters:
    until: str = ""

    def address(self, **changes: object) -> str:
        return "?" + urlencode({**({"until": self.until} if self.until else {}), **changes})


@require_safe
@login_required
def jobs(request: HttpRequest) -> HttpResponse:
    until, faults = _until(request.GET.get("until", "").strip())
    wanted = visible_to_caller(jobs_with_parts())
    if until is not None:
        wanted = wanted.filter(needed_by__lte=until)
    short = short_parts().keys()
    every = list(wanted.order_by(F("needed_by").asc(nulls_last=True), "pk"))
    needy = [job for job in every if job.pk in short]
    page = Paginator(needy, PAGE_SIZE).get_page(_page_of(request, needy))
    found = readiness_of(list(page), at=timezone.now())
    numbers = {line.item for ready in found.values() for line in ready.lines}
    items = {one.stock_number: one for one in Item.objects.filter(stock_number__in=numbers).order_by()}
    shown = [NeedyJob(job, found[job.pk], items) for job in page]
    ready = [job for job in every if job.pk not in short]
    context = {
        "jobs": sorted(shown, key=lambda one: one.worst_first),
        "page": page,
        "filters": JobFilters(str(until) if until else ""),
        "ready": Paginator(ready, READY_PAGE_SIZE).get_page(page_number(request.GET.get("ready", ""))),
        "is_ready_asked": "ready" in request.GET,
        "until": until,
        "faults": faults,
    }
    return render(request, "planning/jobs.html", context)


def _page_of(request: HttpRequest, needy: Sequence[WorkOrder]) -> int:
    """That of the job that the address names; where it names none, the page that it asks for."""
    wanted = number_of(request.GET.get("job", ""))
    place = next((at for at, job in enumerate(needy) if job.pk == wanted), None)
    return page_number(request.GET.get("page", "")) if place is None else place // PAGE_SIZE + 1


def _until(text: str) -> tuple[date | None, list[tuple[str, str]]]:
    try:
        found = parse_date(text) if text else None
    except ValueError:
        found = None
    if text and found is None:
        return None, [("until", _("Enter a day such as 2026-11-25, or leave it empty."))]
    return found, []
