"""Positions at risk: where a stop would find no part available, the most expensive first."""

from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.answers.exposure import EXPOSURE, PlantExposure, notes_on, year_of
from api.edge.scope import visible_to_caller
from api.operations.jobs.calculations import VALID_FOR
from api.operations.jobs.stored_form import if_readable
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.list_filters import ListFilters, list_filters_of
from api.screens.planning.storeroom_time import storeroom_time
from api.wording.labels import IMPORTANCES
from drives.exposure.positions_at_risk import PositionRisk
from inventory.models import Storeroom

PAGE_SIZE = 50
MOST_COVERS = 3


def exposure_of_position(tag: str) -> PositionRisk | None:
    """Of one position, if the list was calculated recently: the page of a position does not wait for it."""
    row = EXPOSURE.newest_row({})
    if row is None or row.started_at is None or row.started_at < timezone.now() - VALID_FOR:
        return None
    answer: dict[str, Any] = row.answer or {}
    found = (one for one in answer.get("positions", ()) if one["position"]["tag"] == tag)
    return next((if_readable(PositionRisk, one) for one in found), None)


@require_safe
@login_required
def exposure(request: HttpRequest) -> HttpResponse:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    calculated = calculated_page(request, EXPOSURE, {})
    context: dict[str, Any] = {
        "filters": filters,
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        **context_of(calculated),
    }
    if calculated.found is not None:
        context |= list_of(calculated.found, filters)
    with storeroom_time(storerooms, filters.storeroom):
        return render(request, "planning/exposure.html", context)


def list_of(found: PlantExposure, filters: ListFilters) -> dict[str, Any]:
    chosen = [row for row in found.positions if _is_chosen(row, filters.storeroom, filters.importance)]
    page = Paginator(chosen, PAGE_SIZE).get_page(filters.page)
    return {
        "notes": notes_on(found, chosen),
        "year": year_of(chosen),
        "page": page,
        "rows": [(row, max(len(row.covers) - MOST_COVERS, 0)) for row in page],
        "without_part": sum(
            row.chance is not None and not any(c.available for c in row.covers) for row in chosen
        ),
        "not_known": sum(row.chance is None for row in chosen),
    }


def _is_chosen(row: PositionRisk, storeroom: str, importance: str) -> bool:
    return storeroom in ("", row.position.storeroom) and importance in (
        "",
        row.position.criticality or "unknown",
    )
