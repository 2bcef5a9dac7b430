"""What changed since a day: the value of the stock, decisions, settings, and what became late."""

from calendar import monthrange
from collections.abc import Iterator, Sequence
from copy import copy
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.edge.change_log import names_of
from api.edge.scope import visible_to_caller
from api.models import Change
from api.screens.planning.decision_list import DecisionTotals, summaries_in, totals_of
from api.screens.planning.setting_forms import ITEMS, LABELS, SETTINGS, name_of_setting
from api.screens.planning.storeroom_time import in_storeroom_time
from api.wording.manager_figures import FIGURE_TITLES
from drives.figures.shelves import dead_stock, excess_on_shelf, policies_in_force
from drives.figures.stock_value import stock_value, value_changes
from inventory.models import MovementKind, Recommendation, RecommendationState, StockPolicy, SupplyOrder
from inventory.models.access_scope import current_scope
from inventory.planning.common_stock import load_common_stock

MOST_SETTINGS, MOST_DECISIONS = 30, 30
ALWAYS_SET = frozenset({"inventory.servicetarget", "inventory.stockingterms", "inventory.shoptime"})
"""Their first setting is a change too: a start value counted before."""
DECIDED = (RecommendationState.ACCEPTED, RecommendationState.AMENDED, RecommendationState.DECLINED)
ZERO = Decimal(0)
KINDS = {
    MovementKind.RECEIPT: gettext_lazy("Received"),
    MovementKind.ISSUE: gettext_lazy("Issued"),
    MovementKind.RETURN: gettext_lazy("Came back"),
    MovementKind.SCRAP: gettext_lazy("Taken off the books"),
    MovementKind.COUNT: gettext_lazy("Counted more or less"),
    MovementKind.TRANSFER: gettext_lazy("From or to other storerooms"),
}


@dataclass(frozen=True)
class ValueBridge:
    """From the value on the first day to that of today, by kind of movement; all at the price of today."""

    currency: str
    before: Decimal
    steps: tuple[tuple[str, str, Decimal], ...]
    """Kind, its words and what it changed."""
    now: Decimal


@dataclass(frozen=True)
class BeyondNeed:
    """What lay there for too much or for nothing on the first day, and does today, in one currency."""

    name: str
    currency: str
    before: Decimal
    now: Decimal

    @property
    def title(self) -> str:
        return str(FIGURE_TITLES[self.name])

    @property
    def term(self) -> str:
        return f"figure-{self.name}"

    @property
    def change(self) -> Decimal:
        return self.now - self.before


@dataclass(frozen=True)
class ChangedSetting:
    change: Change
    title: str
    name: str
    address: str
    differences: tuple[tuple[str, Any, Any], ...]


@require_safe
@login_required
@in_storeroom_time
def changes(request: HttpRequest) -> HttpResponse:
    today = timezone.localdate()
    since, faults = _since(request.GET.get("since", "").strip(), today)
    begins = timezone.make_aware(datetime(since.year, since.month, since.day))
    decided = visible_to_caller(Recommendation.objects.with_places()).filter(
        decided_at__gte=begins, state__in=DECIDED
    )
    waiting = visible_to_caller(Recommendation.objects.waiting()).filter(created_at__gte=begins)
    late = visible_to_caller(SupplyOrder.objects.open()).filter(promised_on__gte=since, promised_on__lt=today)
    context = {
        "since": since,
        "faults": faults,
        "bridges": _bridges(begins),
        "beyond_need": _beyond_need(since, begins),
        "decided": decided.order_by("-decided_at")[:MOST_DECISIONS],
        "decided_totals": _totals(decided),
        "new_totals": _totals(waiting),
        "settings": _settings(begins),
        "late": late.count(),
    }
    return render(request, "planning/changes.html", context)


def _since(text: str, today: date) -> tuple[date, list[tuple[str, str]]]:
    """A month ago, unless a day before today is named."""
    try:
        found = parse_date(text) if text else month_before(today)
    except ValueError:
        found = None
    if found is not None and date.min.replace(year=1900) <= found <= today:
        return found, []
    return month_before(today), [("since", _("Enter a day up to today, such as 2026-10-31."))]


def month_before(day: date) -> date:
    """The same day of the month before, or its last one."""
    year, month = (day.year, day.month - 1) if day.month > 1 else (day.year - 1, 12)
    return date(year, month, min(day.day, monthrange(year, month)[1]))


def _bridges(begins: datetime) -> list[ValueBridge]:
    rooms = current_scope().storerooms
    moved = value_changes(begins, rooms)
    now = {one.currency: one.value for one in stock_value(rooms).values}
    return [
        ValueBridge(
            currency,
            now.get(currency, ZERO) - sum(moved.get(currency, {}).values(), ZERO),
            tuple(
                (kind.value, str(words), change)
                for kind, words in KINDS.items()
                if (change := moved.get(currency, {}).get(kind.value))
            ),
            now.get(currency, ZERO),
        )
        for currency in sorted(now.keys() | moved.keys())
    ]


def _beyond_need(since: date, begins: datetime) -> list[BeyondNeed]:
    """By the same rule then and now, so that the difference is what changed: of the shelves alone, by the verdicts of today."""
    rooms, now = current_scope().storerooms, timezone.now()
    policies, shared = list(policies_in_force()), load_common_stock()
    pairs = (
        (
            excess_on_shelf(begins, _policies_of(policies, begins), rooms, shared),
            excess_on_shelf(now, policies, rooms, shared),
        ),
        (dead_stock(since, rooms, begins), dead_stock(now.date(), rooms)),
    )
    found = []
    for before, after in pairs:
        values = [{one.currency: one.value for one in figure.values} for figure in (before, after)]
        for currency in sorted(values[0].keys() | values[1].keys()):
            sums = (one.get(currency, ZERO) for one in values)
            found.append(BeyondNeed(after.name, currency, *sums))
    return found


def _policies_of(policies: Sequence[StockPolicy], begins: datetime) -> Iterator[StockPolicy]:
    """As they were before the first change that is logged since; where none was set yet, the one of today."""
    changed = [one.pk for one in policies if one.updated_at >= begins]
    names = {pk: key for pk, (key, *_) in names_of(StockPolicy, changed).items()}
    logged = Change.objects.filter(
        record=StockPolicy._meta.label_lower, key__in=names.values(), at__gte=begins
    )
    maxima: dict[str, int] = {}
    for key, before in logged.order_by("id").values_list("key", "before"):
        if "order_up_to" in before:
            maxima.setdefault(key, before["order_up_to"])
    for policy in policies:
        then = copy(policy)
        then.order_up_to = maxima.get(names.get(policy.pk, ""), policy.order_up_to)
        yield then


def _totals(records: Any) -> DecisionTotals:
    return totals_of(list(summaries_in(records)))


def _settings(begins: datetime) -> list[ChangedSetting]:
    """The newest first; what a record was created with is no change, unless a start value counted before."""
    kinds = {one.model._meta.label_lower: kind for kind, one in SETTINGS.items()}
    rows = Change.objects.filter(record__in=kinds, at__gte=begins).exclude(action="delete")
    found = []
    for row in visible_to_caller(rows)[: MOST_SETTINGS * 10]:
        if row.action == "create" and row.record not in ALWAYS_SET:
            continue
        kind = kinds[row.record]
        differences = tuple(_differences(row, SETTINGS[kind].field_names))
        if differences:
            title, name = str(SETTINGS[kind].title), name_of_setting(kind, row.key)
            found.append(ChangedSetting(row, title, name, _address(kind, row.key), differences))
    return found[:MOST_SETTINGS]


def _address(kind: str, key: str) -> str:
    if not SETTINGS[kind].key:
        return reverse(f"screens:setting_{kind}")
    return (
        reverse("screens:item", args=[key]) if kind == ITEMS else reverse("screens:setting", args=[kind, key])
    )


def _differences(row: Change, names: list[str]) -> Iterator[tuple[str, Any, Any]]:
    for name in names:
        if row.before.get(name) != row.after.get(name):
            yield str(LABELS[name][0]), row.before.get(name), row.after.get(name)
