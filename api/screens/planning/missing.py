"""What is missing: places that cannot be judged yet, the worst first, and the cells that would change it."""

from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.edge.workbook_writing import CONTENT_TYPE
from api.exchange.missing_workbook import missing_workbook
from api.screens.planning.list_filters import page_number
from api.wording.file_columns import meaning_of
from drives.models import Plant
from drives.substitutes.missing_cells import MissingCell, MissingCells, missing_cells
from drives.substitutes.position_requirement import positions_with_requirements

PAGE_SIZE = 50


@dataclass(frozen=True)
class ShownCell:
    cell: MissingCell
    places: int
    alone: int

    @property
    def meaning(self) -> str:
        return meaning_of(self.cell.kind, self.cell.column)


def found_missing(request: HttpRequest) -> MissingCells:
    positions = visible_to_caller(positions_with_requirements())
    if plant := request.GET.get("plant", "").replace("\0", ""):
        positions = positions.filter(drive__equipment__area__plant__code=plant)
    return missing_cells(positions, timezone.localdate())


@require_safe
@login_required
def missing(request: HttpRequest) -> HttpResponse:
    found = found_missing(request)
    asked = request.GET.get("plant", "").replace("\0", "")
    plants = list(visible_to_caller(Plant.objects.order_by("code")))
    context = {
        "found": found,
        "cells": [ShownCell(*one) for one in found.by_cell],
        "plants": [(plant.code, plant.name, plant.code == asked) for plant in plants],
        "has_plants": len(plants) > 1,
        "plant": asked,
        "page": Paginator(found.places, PAGE_SIZE).get_page(page_number(request.GET.get("page", ""))),
    }
    return render(request, "planning/missing.html", context)


@require_safe
@login_required
def missing_file(request: HttpRequest) -> HttpResponse:
    """The cells to fill, for the import."""
    headers = {"Content-Disposition": 'attachment; filename="missing.xlsx"'}
    content = missing_workbook(found_missing(request).places)
    return HttpResponse(content, content_type=CONTENT_TYPE, headers=headers)
