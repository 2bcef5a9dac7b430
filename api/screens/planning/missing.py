"""What is missing: places that cannot be judged yet, the worst first, and the cells that would change it."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from api.edge.csv_writing import csv_file
from api.edge.scope import visible_to_caller
from api.edge.workbook_writing import workbook_file
from api.screens.planning.list_filters import page_number
from api.wording.file_columns import meaning_of
from drives.models import Plant
from drives.substitutes.missing_cells import MissingCell, MissingCells, UnjudgedPlace, missing_cells
from drives.substitutes.position_requirement import positions_with_requirements

PAGE_SIZE = 50
HEADER = [
    *("tag", "drive", "name", "plant", "criticality", "downtime_cost_per_hour", "currency", "fitted"),
    *("file", "column", "value"),
]


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
def missing_file(request: HttpRequest, form: str) -> HttpResponseBase:
    """A row for each cell, to fill in the last column or in the file that it names."""
    rows = (row for place in found_missing(request).places for row in rows_of(place))
    return (
        csv_file("missing.csv", HEADER, rows)
        if form == "csv"
        else workbook_file("missing.xlsx", HEADER, rows)
    )


def rows_of(place: UnjudgedPlace) -> Iterator[list[Any]]:
    for cell in place.missing:
        yield [
            *(place.tag, place.drive, place.name, place.plant, place.criticality),
            *(place.downtime_cost_per_hour, place.currency, place.fitted, cell.kind, cell.column, None),
        ]
