"""The home page: a search box that goes straight to the only hit."""

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.views.decorators.http import require_safe

from api.screens.counter.act_words import acts_named
from api.screens.counter.acts import may_book_of
from api.screens.counter.in_hand import CounterJob, remember
from api.screens.planning.planning_tags import may_decide_of
from api.screens.search import search
from api.screens.search_codes import rows_called
from api.screens.search_result import SearchResult
from api.screens.stories import stories_here
from api.screens.today.first_steps import first_steps, has_imported_lately
from api.screens.today.sections import todays_sections
from drives.models import WorkOrder
from inventory.models.text_index import normal


@require_safe
@login_required
def home(request: HttpRequest) -> HttpResponse:
    acts = acts_named(request)
    if len(acts) == 1:
        return redirect(acts[0].address)
    found = search(request.GET.get("q", ""), words_alone=request.GET.get("as") == "words")
    if found.only:
        return with_work_order(redirect(found.only.address), request, found)
    context: dict[str, object] = {"found": found, "acts": acts}
    if not found.text:
        context |= {
            "sections": todays_sections(request),
            "has_acts": may_book_of(request) or may_decide_of(request),
            "first_steps": first_steps(),
            "is_new": may_decide_of(request) and has_imported_lately(),
            "stories": stories_here(),
        }
    return with_work_order(render(request, "screens/home.html", context), request, found)


def with_work_order(page: HttpResponse, request: HttpRequest, found: SearchResult) -> HttpResponse:
    """A work order that was scanned is the job in hand, at its position where it has one."""
    if not found.hits or not may_book_of(request):
        return page
    keys = rows_called(WorkOrder, "external_id", normal(found.text))
    job = WorkOrder.objects.filter(pk__in=keys).select_related("position").order_by("pk").first()
    if job is None:
        return page
    return remember(page, request, CounterJob(job.position.tag if job.position else "", job.external_id))


@require_safe
@login_required
def search_hits(request: HttpRequest) -> HttpResponse:
    """The hits alone, for the box that answers while typing."""
    found = search(request.GET.get("q", ""))
    return render(request, "screens/search_hits.html", {"found": found, "acts": acts_named(request)})
