"""Budget: for a sum, the purchases in the order of downtime avoided, and the stock of today beside the best one."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.answers.frontier import FRONTIER, LARGEST_BUDGET, parameters_of
from api.answers.frontier_lists import BUYS, DRIVES, LEFT_OUT, Budget, budget_lines
from api.edge.csv_writing import csv_file
from api.operations.jobs.calculations import Calculated
from api.screens.charts.chart import file_of
from api.screens.planning.budget_chart import budget_chart
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.list_filters import page_number
from api.wording.figures import ShownNumber
from inventory.models import Item, Storeroom
from inventory.planning.budget_frontier import FrontierBuy
from inventory.planning.terms import load_terms

MOST_SHOWN = 10
"""Lines of each list on the page of the budget; the rest has pages of its own."""
PAGE_LINES = 25
AMOUNT = re.compile(r"[0-9]{1,3}(?:[ ,]?[0-9]{3})*|[0-9]{1,10}")
FIGURES = ["pieces", "stock_after", "unit_cost", "spend", "downtime_hours_per_year", "downtime_cost_per_year"]
COLUMNS = ["order", "item", "storeroom", *FIGURES, "currency"]
TITLES = {
    BUYS: gettext_lazy("Buy in this order"),
    DRIVES: gettext_lazy("Downtime cost a year, by drive"),
    LEFT_OUT: gettext_lazy("Left out"),
}


@dataclass(frozen=True)
class ListAddress:
    """Which page of a list of the budget."""

    budget: Decimal
    code: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        found = replace(self, **changes)  # type: ignore[arg-type]
        fields = {"budget": found.budget, "code": found.code, "page": "" if found.page == 1 else found.page}
        return "?" + urlencode({name: value for name, value in fields.items() if value != ""})


@require_safe
@login_required
def budget_page(request: HttpRequest) -> HttpResponseBase:
    text = request.GET.get("budget", "").strip()
    budget, fault = budget_of(text)
    context: dict[str, object] = {
        "budget_text": text,
        "faults": [("budget", fault)] if fault else [],
        "currency": load_terms().currency,
    }
    if budget is not None:
        calculated = calculated_page(request, FRONTIER, parameters_of(budget))
        context |= context_of(calculated)
        if calculated.found is not None:
            context |= plan_of(calculated.found)
    return file_of(request, context) or render(request, "planning/budget.html", context)


def plan_of(budget: Budget) -> dict[str, object]:
    found = budget.frontier
    return {
        "found": found,
        "budget": budget,
        "chart": budget_chart(found),
        "buys": _with_names(found.buys[:MOST_SHOWN]),
        "has_more_buys": budget.buys > MOST_SHOWN,
        "by_drive": found.by_drive[:MOST_SHOWN],
        "has_more_drives": budget.drives > MOST_SHOWN,
        "to_enter": [one for one in budget.left_out if one.is_to_enter],
        "not_bought": sum(one.parts for one in budget.left_out if not one.is_to_enter),
        "is_calculated": all(fact.code != "demand_not_calculated" for fact in found.method),
    }


@require_safe
@login_required
def budget_list(request: HttpRequest, name: str) -> HttpResponse:
    """One list of the budget, page by page."""
    budget, answer = _calculated(request)
    if budget is None or answer is None:
        return redirect(f"{reverse('screens:budget')}?{urlencode({'budget': request.GET.get('budget', '')})}")
    asked = ListAddress(budget, request.GET.get("code", ""), page_number(request.GET.get("page", "")))
    begin, end = answer.found.span(name, asked.code)
    page = Paginator(range(end - begin), PAGE_LINES).get_page(asked.page)
    after = max(page.start_index() - 1, 0)
    lines = budget_lines(answer, name, after, PAGE_LINES, asked.code)
    context = {
        "found": answer.found.frontier,
        "budget": answer.found,
        "list": name,
        "title": TITLES[name],
        "page": page,
        "filters": asked,
        "code": asked.code,
        "seen_at": answer.as_of,
        **_lines_of(name, lines, after),
    }
    return render(request, "planning/budget_list.html", context)


def _lines_of(name: str, lines: Sequence[Any], after: int) -> dict[str, object]:
    if name == BUYS:
        return {"buys": _with_names(lines, after)}
    if name == DRIVES:
        return {"by_drive": lines}
    rooms = rooms_by_id()
    return {"left_out": [(row, rooms[row.storeroom_id]) for row in lines]}


@require_safe
@login_required
def budget_file(request: HttpRequest) -> HttpResponseBase:
    """The purchases of the page; while they are being calculated, back to the page, which says so."""
    budget, fault = budget_of(request.GET.get("budget", "").strip())
    if budget is None:
        return HttpResponse(
            f"{fault or _('Enter an amount.')}\n", status=400, content_type="text/plain; charset=utf-8"
        )
    _budget, answer = _calculated(request)
    if answer is None:
        return redirect(f"{reverse('screens:budget')}?{urlencode({'budget': budget})}")
    rooms, currency = rooms_by_id(), answer.found.frontier.currency
    buys = budget_lines(answer, BUYS, 0, answer.found.buys)
    rows = (
        [
            place,
            buy.stock_number,
            rooms[buy.storeroom_id],
            *(getattr(buy, name) for name in FIGURES),
            currency,
        ]
        for place, buy in enumerate(buys, start=1)
    )
    return csv_file("budget.csv", COLUMNS, rows)


def _calculated(request: HttpRequest) -> tuple[Decimal | None, Calculated[Budget] | None]:
    """The amount, where it can be read, and its answer while that is not too old."""
    budget, _fault = budget_of(request.GET.get("budget", "").strip())
    if budget is None:
        return None, None
    calculation = calculated_page(request, FRONTIER, parameters_of(budget)).calculation
    return budget, calculation.answer if calculation.is_current else None


def budget_of(text: str) -> tuple[Decimal | None, str]:
    """A whole amount; None and no fault where the field is empty."""
    if not text:
        return None, ""
    if not AMOUNT.fullmatch(text):
        return None, _("Enter a whole amount, such as 5000.")
    budget = Decimal(re.sub(r"[ ,]", "", text))
    if budget > Decimal(LARGEST_BUDGET):
        return None, _("Enter at most {limit:,.0f}.").format(limit=ShownNumber(LARGEST_BUDGET))
    return budget, ""


def rooms_by_id() -> dict[int, str]:
    return dict(Storeroom.objects.values_list("pk", "code"))


def _with_names(buys: Sequence[FrontierBuy], after: int = 0) -> list[tuple[int, FrontierBuy, str, str]]:
    """Each purchase with its place, its storeroom and its description; two queries."""
    rooms, parts = rooms_by_id(), Item.objects.in_bulk({buy.item_id for buy in buys})
    return [
        (place, buy, rooms[buy.storeroom_id], parts[buy.item_id].description)
        for place, buy in enumerate(buys, start=after + 1)
    ]
