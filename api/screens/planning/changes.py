"""What changed since a day: the value of the stock, decisions, settings, and what became late."""

from calendar import monthrange
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.contrib.auth.decorators import login_required
from django.db.models import Count, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy
from django.views.decorators.http import require_safe

from api.answers.stock_changes import STOCK_CHANGES, BeyondNeed, ValueBridge
from api.edge.scope import visible_to_caller
from api.models import Change
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.decision_list import summaries_in, totals_of
from api.screens.planning.setting_forms import ITEMS, LABELS, SETTINGS, name_of_setting
from api.wording.manager_figures import FIGURE_TITLES
from inventory.models import (
    Importance,
    MovementKind,
    Recommendation,
    RecommendationState,
    SupplyOrder,
)

MOST_SETTINGS, MOST_DECISIONS = 30, 30
ALWAYS_SET = frozenset({"inventory.servicetarget", "inventory.stockingterms", "inventory.shoptime"})
"""Their first setting is a change too: a start value counted before."""
DECIDED = (RecommendationState.ACCEPTED, RecommendationState.AMENDED, RecommendationState.DECLINED)
KINDS = {
    MovementKind.RECEIPT: gettext_lazy("Received"),
    MovementKind.ISSUE: gettext_lazy("Issued"),
    MovementKind.RETURN: gettext_lazy("Came back"),
    MovementKind.SCRAP: gettext_lazy("Taken off the books"),
    MovementKind.COUNT: gettext_lazy("Counted more or less"),
    MovementKind.TRANSFER: gettext_lazy("From or to other storerooms"),
}


@dataclass(frozen=True)
class ShownBridge:
    bridge: ValueBridge

    @property
    def steps(self) -> list[tuple[str, Any, Decimal]]:
        """Kind, its words and what it changed."""
        changes = {one.kind: one.change for one in self.bridge.steps}
        return [
            (kind.value, words, changes[kind.value]) for kind, words in KINDS.items() if kind.value in changes
        ]


@dataclass(frozen=True)
class ShownBeyond:
    found: BeyondNeed

    @property
    def title(self) -> str:
        return str(FIGURE_TITLES[self.found.name])


@dataclass(frozen=True)
class ChangedSetting:
    change: Change
    title: str
    name: str
    address: str
    differences: tuple[tuple[str, Any, Any], ...]


@require_safe
@login_required
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
        **_stock_changes(request, since, begins),
        "decided": decided.order_by("-decided_at")[:MOST_DECISIONS],
        "decided_totals": totals_of(list(summaries_in(decided))),
        "new_totals": waiting.aggregate(
            number=Count("pk"), vital=Count("pk", filter=Q(importance=Importance.VITAL))
        ),
        "settings": _settings(begins),
        "late": late.count(),
    }
    return render(request, "planning/changes.html", context)


def _stock_changes(request: HttpRequest, since: date, begins: datetime) -> dict[str, Any]:
    """As they were calculated last, and what is being calculated anew."""
    parameters = {"since": since.isoformat(), "begins": begins.isoformat()}
    calculated = calculated_page(request, STOCK_CHANGES, parameters)
    found = calculated.found
    return {
        **context_of(calculated),
        "bridges": [ShownBridge(one) for one in found.bridges] if found else [],
        "beyond_need": [ShownBeyond(one) for one in found.beyond_need] if found else [],
    }


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
