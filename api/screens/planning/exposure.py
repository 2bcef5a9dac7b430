"""Where a stop would find nothing: the list that a manager should see first, the costliest place at the top."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.answers.exposure import EXPOSURE, PlantExposure, notes_on
from api.edge.scope import visible_to_caller
from api.operations.jobs.calculations import VALID_FOR
from api.operations.jobs.stored_form import from_stored
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.list_filters import ListFilters, list_filters_of
from api.screens.planning.planning_filters import IMPORTANCES
from api.screens.planning.storeroom_time import storeroom_time
from drives.exposure.positions_at_risk import PositionRisk
from inventory.models import Storeroom

PAGE_SIZE = 50
MOST_COVERS = 3


def exposure_of_position(tag: str) -> PositionRisk | None:
    """Of one position, where the list was calculated lately: the page of a position does not wait for it."""
    row = EXPOSURE.newest_row({})
    if row is None or row.started_at is None or row.started_at < timezone.now() - VALID_FOR:
        return None
    answer: dict[str, Any] = row.answer or {}
    found = (one for one in answer["positions"] if one["position"]["tag"] == tag)
    return next((from_stored(PositionRisk, one) for one in found), None)


@require_safe
@login_required
def exposure(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    choice = list_filters_of(request.GET, storerooms)
    calculated = calculated_page(request, EXPOSURE, {})
    context: dict[str, Any] = {
        "choice": choice,
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        **context_of(calculated),
    }
    if calculated.found is not None:
        context |= list_of(calculated.found, choice)
    with storeroom_time(storerooms, choice.storeroom):
        return render(request, "planning/exposure.html", context)


def list_of(found: PlantExposure, choice: ListFilters) -> dict[str, Any]:
    chosen = [row for row in found.positions if _is_chosen(row, choice.storeroom, choice.importance)]
    page = Paginator(chosen, PAGE_SIZE).get_page(choice.page)
    return {
        "notes": notes_on(found, found.positions),
        "page": page,
        "bare": sum(row.chance is not None and not _free(row) for row in chosen),
        "untold": sum(row.chance is None for row in chosen),
        "most_covers": MOST_COVERS,
        "next_address": choice.address(page=page.next_page_number()) if page.has_next() else "",
        "previous_address": choice.address(page=page.previous_page_number()) if page.has_previous() else "",
    }


def _is_chosen(row: PositionRisk, storeroom: str, importance: str) -> bool:
    return storeroom in ("", row.position.storeroom) and importance in (
        "",
        row.position.criticality or "unknown",
    )


def _free(row: PositionRisk) -> int:
    return sum(cover.available for cover in row.covers)
