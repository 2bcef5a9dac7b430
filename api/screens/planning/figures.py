"""The figures of a time, each with what it means and opening to the rows that it counts, and beside them the time before."""

from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.handlers.wsgi import WSGIRequest
from django.core.paginator import Paginator
from django.http import Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.answers.figures import (
    FIGURES,
    FigureRowSerializer,
    FigureSerializer,
    FiguresQuery,
    figures_for,
    figures_parameters,
)
from api.edge.csv_writing import csv_file
from api.edge.errors import PointedErrors, parameter_errors, pointed
from api.edge.scope import visible_to_caller
from api.screens.counter.acts import may_book_of
from api.screens.own_api import read
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.list_filters import page_number
from api.screens.planning.planning_tags import may_decide_of
from api.wording.manager_figures import FIGURE_TITLES
from drives.figures.figure import Figure
from inventory.models import Item, Storeroom, Unit

OF_A_TIME = frozenset(
    {"emergency_buys", "wrong_deliveries", "false_fits", "count_corrections", "issued", "written_off"}
)
TO_MOVE = frozenset({"excess", "dead_stock", "insurance"})
"""Rows are stock that could go elsewhere, or off the books."""
ASKED = ("storeroom", "since", "until", "days_ahead")
MOST_ROWS, PAGE_SIZE = 2000, 50
COLUMNS = ["item", "storeroom", "position", "drive", "work_order", "pieces", "value", "currency", "on"]
A_MONTH, A_QUARTER, A_YEAR = timedelta(days=30), timedelta(days=91), timedelta(days=365)


@dataclass(frozen=True)
class ShownFigure:
    """As the API tells it; `before` is the same of the time before, None of what is counted as it is now."""

    figure: dict[str, Any]
    before: dict[str, Any] | None = None

    @property
    def title(self) -> str:
        return str(FIGURE_TITLES[self.figure["name"]])

    @property
    def term(self) -> str:
        """Where the page of help explains it."""
        return f"figure-{self.figure['name']}"

    @property
    def values(self) -> list[tuple[str, Decimal]]:
        return [(one["currency"], Decimal(one["value"])) for one in self.figure["values"]]


def is_of_a_time(name: str) -> bool:
    """What is counted from one day to another; all else is as it is now."""
    return name in OF_A_TIME or name.startswith(("stockouts", "filled_"))


@require_safe
@login_required
def figures(request: WSGIRequest) -> HttpResponse:
    query = _query(request)
    try:
        parameters, errors = _parameters(query), []
    except PointedErrors as refused:
        parameters, errors = {}, pointed(refused)[1]
    body = {**parameters, "errors": [{**one, "parameter": one["pointer"].strip("/")} for one in errors]}
    context = _context(query, body) | {"times": list(_times(query))}
    if parameters:
        context |= _counted(request, parameters)
    return render(request, "planning/figures.html", context, status=400 if errors else 200)


def _parameters(query: dict[str, str]) -> dict[str, str]:
    form = FiguresQuery(query)
    if not form.is_valid():
        raise parameter_errors({name: str(said[0]) for name, said in form.errors.items()})
    return figures_parameters(form.cleaned_data)


def _counted(request: WSGIRequest, parameters: dict[str, str]) -> dict[str, Any]:
    """As they were counted last, and what is being counted anew."""
    calculated = calculated_page(request, FIGURES, parameters)
    found = calculated.found
    if found is None:
        return context_of(calculated)
    before = {one.name: one for one in found.before}
    shown = [ShownFigure(_as_told(one), _as_told(before.get(one.name))) for one in found.figures]
    return {
        **context_of(calculated),
        "of_a_time": [one for one in shown if is_of_a_time(one.figure["name"])],
        "of_now": [one for one in shown if not is_of_a_time(one.figure["name"])],
    }


def _as_told(figure: Figure | None) -> Any:
    return None if figure is None else FigureSerializer(figure).data


@require_safe
@login_required
def figure(request: WSGIRequest, name: str) -> HttpResponse:
    query = _query(request)
    answer = read(request, "figure", {**query, "limit": MOST_ROWS}, name=name)
    if answer.status == 404:
        raise Http404
    if not answer.is_done:
        return redirect(reverse("screens:figures") + _address(query))
    page = Paginator(answer.body["rows"], PAGE_SIZE).get_page(page_number(request.GET.get("page", "")))
    context = _context(query, answer.body) | {
        "shown": ShownFigure(answer.body),
        "page": page,
        "rows": _described(list(page)),
        "rooms": _by_storeroom(answer.body["rows"], query),
        "columns": {name for row in page for name in COLUMNS if row[name] not in ("", None)},
        "insured": _address({"holding_reason": "insurance", "then": request.get_full_path()}),
        "may_decide": may_decide_of(request),
        "is_movable": name in TO_MOVE and may_book_of(request),
        "is_cut": answer.body["count"] > len(answer.body["rows"]) == MOST_ROWS,
    }
    return render(request, "planning/figure.html", context)


@require_safe
@login_required
def figure_file(request: WSGIRequest, name: str) -> HttpResponseBase:
    """The same rows, as they are counted, and all of them."""
    form = FiguresQuery(_query(request))
    if not form.is_valid():
        raise Http404
    try:
        _since, _until, counted = figures_for(form.cleaned_data, only=name)
    except PointedErrors as refused:
        raise Http404 from refused
    if not counted:
        raise Http404
    told = map(FigureRowSerializer().to_representation, counted[0].rows)
    rows = ([*(row[column] for column in COLUMNS), _reasons(row)] for row in told)
    return csv_file(f"{name}.csv", [*COLUMNS, "reasons"], rows)


def _described(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    named = visible_to_caller(Item.objects.filter(stock_number__in={row["item"] for row in rows} - {""}))
    items = named.order_by().values_list("stock_number", "description", "unit")
    known = {number: {"description": words, "unit": unit} for number, words, unit in items}
    return [row | known.get(row["item"], {"description": "", "unit": Unit.EACH}) for row in rows]


def _reasons(row: dict[str, Any]) -> str:
    return " ".join(one["explanation"] for one in row["reasons"])


def _query(request: WSGIRequest) -> dict[str, str]:
    given = {name: request.GET.get(name, "").strip() for name in ASKED}
    return {name: value for name, value in given.items() if value}


def _context(query: dict[str, str], body: dict[str, Any]) -> dict[str, Any]:
    faults = {row.get("parameter", ""): row["detail"] for row in body.get("errors", ())}
    return {
        "query": query,
        "address": _address(query),
        "storerooms": list(visible_to_caller(Storeroom.objects.order_by("code"))),
        "faults": list(faults.items()),
        "since": query.get("since") or body.get("since", ""),
        "until": query.get("until") or body.get("until", ""),
    }


def _address(query: dict[str, str]) -> str:
    return "?" + urlencode(query)


def _times(query: dict[str, str]) -> Any:
    today = timezone.localdate()
    for label, span in ((_("30 days"), A_MONTH), (_("Quarter"), A_QUARTER), (_("Year"), A_YEAR)):
        since = str(today - span)
        kept = {name: value for name, value in query.items() if name not in ("since", "until")}
        yield label, _address({**kept, "since": since}), query.get("since", str(today - A_YEAR)) == since


def _by_storeroom(
    rows: list[dict[str, Any]], query: dict[str, str]
) -> list[tuple[str, str, int, list[tuple[str, Decimal]]]]:
    """Storeroom, address of its rows, their number and value by currency; nothing where there is one."""
    counts: dict[str, int] = {}
    sums: dict[str, dict[str, Decimal]] = {}
    for row in rows:
        room = row["storeroom"]
        counts[room] = counts.get(room, 0) + 1
        if row["value"] is not None:
            mine = sums.setdefault(room, {})
            mine[row["currency"]] = mine.get(row["currency"], Decimal(0)) + Decimal(row["value"])
    rooms = sorted(filter(None, counts)) if len(counts) > 1 else []
    return [
        (room, _address({**query, "storeroom": room}), counts[room], sorted(sums.get(room, {}).items()))
        for room in rooms
    ]
