"""Settings of the manager: what holds, and who set it last and when."""

from collections.abc import Mapping
from dataclasses import dataclass

from django.contrib.auth.decorators import login_required
from django.db.models import Max, Model, Q
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils.translation import gettext as _
from django.views.decorators.http import require_safe

from api.edge.scope import visible_to_caller
from api.models import Change
from api.wording.labels import IMPORTANCES, label
from drives.models import Drive, Plant
from inventory.interchange.thresholds import SHIPPED_MINUTES
from inventory.interchange.vocabulary import Operation
from inventory.models import HoldingReason, Item, ServiceTarget, ShopTime, StockingTerms
from inventory.planning.terms import ImportanceTarget, load_targets, load_terms

ROWS_SHOWN = 20
Newest = Mapping[tuple[type[Model], str], Change]


@dataclass(frozen=True)
class ShownSetting:
    """One line of the list: what it is, what holds, and whether the plant set it."""

    name: str
    key: str
    text: str
    is_set: bool
    last: Change | None = None


@require_safe
@login_required
def settings(request: HttpRequest) -> HttpResponse:
    drives = visible_to_caller(Drive.objects.order_by("tag"))
    lacking = drives.filter(Q(criticality="") | Q(downtime_cost_per_hour=None))
    insured = Item.objects.filter(holding_reason=HoldingReason.INSURANCE).order_by("stock_number")
    plants = list(visible_to_caller(Plant.objects.all()))
    newest = _newest(
        {
            ServiceTarget: list(IMPORTANCES),
            StockingTerms: ["1"],
            Plant: [plant.code for plant in plants],
            ShopTime: [one.value for one in Operation],
        }
    )
    context = {
        "targets": _targets(newest),
        "terms": load_terms(),
        "terms_last": newest.get((StockingTerms, "1")),
        "plants": _plants(plants, newest),
        "shop_times": _shop_times(newest),
        "drives": lacking[:ROWS_SHOWN],
        "drives_lacking": lacking.count(),
        "insured": insured[:ROWS_SHOWN],
        "insured_count": insured.count(),
    }
    return render(request, "planning/settings.html", context)


def _targets(newest: Newest) -> list[ShownSetting]:
    are_set = set(ServiceTarget.objects.values_list("importance", flat=True))
    return [
        ShownSetting(
            str(IMPORTANCES[one.importance]),
            one.importance,
            _promised(one),
            one.importance in are_set,
            newest.get((ServiceTarget, one.importance)),
        )
        for one in load_targets().values()
    ]


def _promised(target: ImportanceTarget) -> str:
    return label(target.kind) if target.kind == "cost" else f"{label(target.kind)} {100 * target.value:g} %"


def _plants(plants: list[Plant], newest: Newest) -> list[ShownSetting]:
    return [
        ShownSetting(
            f"{plant.code} {plant.name}",
            plant.code,
            ", ".join(filter(None, _approval_words(plant))),
            True,
            newest.get((Plant, plant.code)),
        )
        for plant in plants
    ]


def _approval_words(plant: Plant) -> tuple[str, ...]:
    """When an approval is needed, who gives it, and under which number."""
    words = (
        plant.get_substitute_approval_display(),
        plant.substitute_approver,
        plant.substitute_approver_phone,
    )
    return tuple(map(str, words))


def _shop_times(newest: Newest) -> list[ShownSetting]:
    shops = {row.operation: row for row in ShopTime.objects.all()}
    return [
        ShownSetting(
            label(one),
            one.value,
            _("{n} min").format(n=shops[one].minutes if one in shops else SHIPPED_MINUTES.get(one)),
            one in shops,
            newest.get((ShopTime, one.value)),
        )
        for one in Operation
        if one in shops or one in SHIPPED_MINUTES
    ]


def _newest(keys: Mapping[type[Model], list[str]]) -> dict[tuple[type[Model], str], Change]:
    """The last change of each record, by model and key."""
    found: dict[int, tuple[type[Model], str]] = {}
    for model, names in keys.items():
        rows = Change.objects.filter(record=model._meta.label_lower, key__in=names).order_by()
        for name, pk in rows.values_list("key").annotate(Max("id")):
            found[pk] = model, name
    return {found[row.pk]: row for row in Change.objects.filter(pk__in=found)}
