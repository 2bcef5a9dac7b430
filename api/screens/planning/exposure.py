"""Positions at risk: where a stop would find no part available, the most expensive first."""

from datetime import datetime
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import QuerySet
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.views.decorators.http import require_safe

from api.answers.exposure import EXPOSURE
from api.answers.exposure_lines import ExposureSums, lines_of, risks_on
from api.edge.scope import visible_to_caller
from api.models import ExposureLine
from api.operations.jobs.calculations import Calculated
from api.screens.charts.chart import file_of
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.exposure_chart import exposure_chart
from api.screens.planning.list_filters import ListFilters, list_filters_of
from api.wording.labels import IMPORTANCES
from drives.exposure.positions_at_risk import PositionRisk
from inventory.models import Storeroom
from inventory.plumbing.stored_form import if_readable

PAGE_SIZE = 15


def exposure_of_position(position: int) -> tuple[datetime, PositionRisk] | None:
    """Of one position as it was calculated last, with the moment: the page of a position does not wait for it."""
    row = EXPOSURE.newest_row({})
    if row is None or row.started_at is None:
        return None
    line = lines_of(row.pk).filter(position=position).first()
    found = line and if_readable(PositionRisk, line.risk)
    return (row.started_at, found) if found else None


@require_safe
@login_required
def exposure(request: HttpRequest) -> HttpResponseBase:
    storerooms = list(visible_to_caller(Storeroom.objects.order_by("code")))
    filters = list_filters_of(request.GET, storerooms)
    calculated = calculated_page(request, EXPOSURE, {})
    context: dict[str, Any] = {
        "filters": filters,
        "storerooms": storerooms,
        "importances": IMPORTANCES.items(),
        **context_of(calculated),
    }
    if calculated.calculation.answer is not None:
        context |= list_of(calculated.calculation.answer, filters)
    return file_of(request, context) or render(request, "planning/exposure.html", context)


def list_of(answer: Calculated[ExposureSums], filters: ListFilters) -> dict[str, Any]:
    chosen = {"storeroom": filters.storeroom, "importance": filters.importance}
    sums = answer.found.of(**chosen)
    page = Paginator(range(sums.count()), PAGE_SIZE).get_page(filters.page)
    lines, start = lines_of(answer.job, **chosen), max(page.start_index() - 1, 0)
    # Of all positions the index finds the page by their places.
    lines = lines[start : start + PAGE_SIZE] if any(chosen.values()) else between(lines, start)
    demand, *notes = sums.notes
    rows = risks_on(lines)
    return {
        "demand": demand,
        "notes": notes,
        "year": sums.year,
        "page": page,
        "rows": rows,
        "chart": exposure_chart(rows),
        "without_part": sums.count("without_part"),
        "not_known": sums.count("not_known"),
    }


def between(lines: QuerySet[ExposureLine], start: int) -> QuerySet[ExposureLine]:
    return lines.filter(place__gt=start, place__lte=start + PAGE_SIZE)
