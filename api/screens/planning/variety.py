"""Variety: which items could go because a few others serve their positions, and the marking of items to be run down."""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.paginator import Paginator
from django.db import transaction
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from api.answers.assortment import MOST_MINUTES, VARIETY, variety_parameters
from api.edge.auth import caller_name
from api.edge.change_log import logging_changes
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.planning_tags import may_decide_of
from api.wording.labels import GRADES
from api.wording.sentences import sentence
from drives.assortment.running_down import LONGEST_REASON, run_down, undo_run_down
from drives.demand.cover import GRADES_KEPT
from inventory.facts import Refusal
from inventory.models import Item, RunDown

PAGE_SIZE = 20
MARKS_SHOWN = 20


@dataclass(frozen=True)
class VarietyFilters:
    worst_grade: str = ""
    most_minutes: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        chosen = replace(self, **changes)  # type: ignore[arg-type]
        query = {name: value for name, value in vars(chosen).items() if value not in ("", 1)}
        return f"?{urlencode(query)}"

    @property
    def grades(self) -> list[tuple[str, str, bool]]:
        return [(one.value, str(GRADES[one][0]), one.value == self.worst_grade) for one in GRADES_KEPT]


@dataclass(frozen=True)
class RunDownAttempt:
    """What was sent for a group or a mark, and why nothing was done."""

    group: int = 0
    mark: int = 0
    reason: str = ""
    fault: str = ""


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def variety(request: HttpRequest) -> HttpResponse:
    attempt = RunDownAttempt()
    if request.method == "POST":
        if not may_decide_of(request):
            raise PermissionDenied
        attempt = act(request, request.POST)
        if not attempt.fault:
            return redirect(f"{request.get_full_path()}#run-downs")
    filters = filters_of(request.GET)
    minutes = int(filters.most_minutes) if filters.most_minutes else None
    calculated = calculated_page(request, VARIETY, variety_parameters(filters.worst_grade, minutes))
    context = {
        **context_of(calculated),
        "filters": filters,
        "attempt": attempt,
        "longest_reason": LONGEST_REASON,
    }
    if calculated.found is not None:
        page = Paginator(calculated.found.groups, PAGE_SIZE).get_page(filters.page)
        active = still_active(one.item_id for group in page for one in group.leave)
        context |= {
            "page": page,
            "groups": [
                (group, [(one, one.item_id in active) for one in group.leave], group.leave[0].item_id)
                for group in page
            ],
        }
    context["marks"] = RunDown.objects.select_related("item")[:MARKS_SHOWN]
    return render(request, "planning/variety.html", context)


def still_active(items: Iterable[int]) -> set[int]:
    """Of those of the list: others were marked since it was calculated."""
    return set(Item.objects.filter(pk__in=items, lifecycle="active").values_list("pk", flat=True))


def filters_of(query: QueryDict) -> VarietyFilters:
    """What is not known is left out."""
    grade, minutes = query.get("worst_grade", ""), number_of(query.get("most_minutes", ""))
    known = grade in [one.value for one in GRADES_KEPT]
    given = minutes is not None and minutes <= MOST_MINUTES
    page = number_of(query.get("page", "")) or 1
    return VarietyFilters(grade if known else "", str(minutes) if given else "", page)


def number_of(text: str) -> int | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) <= 9 else None


def act(request: HttpRequest, form: QueryDict) -> RunDownAttempt:
    """Mark the chosen items, or take one mark back; with a fault nothing was done."""
    items = [number for text in form.getlist("item") if (number := number_of(text))]
    attempt = RunDownAttempt(
        group=number_of(form.get("group", "")) or 0,
        mark=number_of(form.get("mark", "")) or 0,
        reason=form.get("reason", ""),
    )
    by = caller_name(request)
    if attempt.mark:
        items = list(RunDown.objects.filter(pk=attempt.mark).values_list("item", flat=True))
    try:
        with transaction.atomic(), logging_changes(Item.objects.filter(pk__in=items)):
            if attempt.mark:
                undo_run_down(attempt.mark, by=by, reason=attempt.reason)
            else:
                run_down(items, by=by, reason=attempt.reason)
    except Refusal as refused:
        return replace(attempt, fault=sentence(refused.fact))
    return attempt
