"""Budget: for a sum, the purchases in the order of downtime avoided, and the stock of today beside the best one."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from decimal import Decimal
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.answers.frontier import FRONTIER, LARGEST_BUDGET, parameters_of
from api.edge.csv_writing import csv_file
from api.screens.planning.budget_chart import budget_chart
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.storeroom_time import storeroom_time
from api.wording.figures import ShownNumber
from inventory.facts import Fact
from inventory.models import Item, Storeroom
from inventory.planning.budget_frontier import Frontier, FrontierBuy, PartLeftOut
from inventory.planning.terms import load_terms

MOST_SHOWN = 100
MOST_NAMED = 30
AMOUNT = re.compile(r"[0-9]{1,3}(?:[ ,]?[0-9]{3})*|[0-9]{1,10}")
TO_ENTER = frozenset(
    {
        *("price_not_known", "price_in_other_currency", "downtime_cost_not_known", "lead_time_not_known"),
        "cannot_be_calculated",
    }
)
"""All others are parts not to be bought: never requested, run down, stocked under another number."""
FIGURES = ["pieces", "stock_after", "unit_cost", "spend", "downtime_hours_per_year", "downtime_cost_per_year"]
COLUMNS = ["order", "item", "storeroom", *FIGURES, "currency"]


@dataclass(frozen=True)
class LeftOut:
    """Items left out for one reason."""

    reason: Fact
    items: tuple[PartLeftOut, ...]

    @property
    def named(self) -> tuple[PartLeftOut, ...]:
        return self.items[:MOST_NAMED]

    @property
    def more(self) -> int:
        return len(self.items) - len(self.named)


@require_safe
@login_required
def budget_page(request: HttpRequest) -> HttpResponse:
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
    with storeroom_time(Storeroom.objects.all()):
        return render(request, "planning/budget.html", context)


def plan_of(found: Frontier) -> dict[str, object]:
    return {
        "chart": budget_chart(found),
        "buys": _with_names(found.buys[:MOST_SHOWN]),
        "more": max(len(found.buys) - MOST_SHOWN, 0),
        "last": found.buys[-1] if found.buys else None,
        "to_enter": to_enter(found.left_out),
        "is_calculated": all(fact.code != "demand_not_calculated" for fact in found.method),
        "not_bought": sum(row.reason.code not in TO_ENTER for row in found.left_out),
    }


@require_safe
@login_required
def budget_file(request: HttpRequest) -> HttpResponseBase:
    """The purchases of the page; while they are being calculated, back to the page, which says so."""
    budget, fault = budget_of(request.GET.get("budget", "").strip())
    if budget is None:
        return HttpResponse(
            f"{fault or _('Enter an amount.')}\n", status=400, content_type="text/plain; charset=utf-8"
        )
    calculated = calculated_page(request, FRONTIER, parameters_of(budget))
    if not calculated.calculation.is_current or calculated.found is None:
        return redirect(f"{reverse('screens:budget')}?{urlencode({'budget': budget})}")
    found, rooms = calculated.found, rooms_by_id()
    rows = (
        [
            place,
            buy.stock_number,
            rooms[buy.storeroom_id],
            *(getattr(buy, name) for name in FIGURES),
            found.currency,
        ]
        for place, buy in enumerate(found.buys, start=1)
    )
    return csv_file("budget.csv", COLUMNS, rows)


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


def _with_names(buys: Sequence[FrontierBuy]) -> list[tuple[FrontierBuy, str, str]]:
    """Each purchase with its storeroom and its description; two queries."""
    rooms, parts = rooms_by_id(), Item.objects.in_bulk({buy.item_id for buy in buys})
    return [(buy, rooms[buy.storeroom_id], parts[buy.item_id].description) for buy in buys]


def to_enter(left_out: Iterable[PartLeftOut]) -> list[LeftOut]:
    """What could be included once data is entered, most parts first."""
    groups: dict[Fact, list[PartLeftOut]] = {}
    for row in left_out:
        if row.reason.code in TO_ENTER:
            groups.setdefault(row.reason, []).append(row)
    found = [LeftOut(reason, tuple(rows)) for reason, rows in groups.items()]
    return sorted(found, key=lambda missing: (-len(missing.items), missing.reason.code))
