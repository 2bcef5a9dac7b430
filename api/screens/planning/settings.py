"""Settings of the manager: what holds, who set it last and when, what a change touches, and the form that changes it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any
from uuid import uuid4

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.db.models import Max, Model, Q
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods, require_safe

from api.edge.change_log import names_of
from api.edge.scope import visible_to_caller
from api.models import Change
from api.screens.counter.acts import then_of
from api.screens.own_api import Answer, change, read, send
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.setting_forms import (
    DRIVES,
    ITEMS,
    LABELS,
    SETTINGS,
    TERMS,
    SettingOnPage,
    SettingOnPageForm,
)
from api.wording.labels import IMPORTANCES, label
from drives.models import Drive, Plant, Position
from inventory.interchange.thresholds import SHIPPED_MINUTES
from inventory.interchange.vocabulary import Operation
from inventory.models import Recommendation, ServiceTarget, ShopTime, StockingTerms
from inventory.planning.terms import START_SERVICE, load_targets, load_terms

CHANGES_SHOWN, DRIVES_SHOWN = 5, 20
LONGEST_KEY = 100


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
    shops = {row.operation: row for row in ShopTime.objects.all()}
    set_targets = set(ServiceTarget.objects.values_list("importance", flat=True))
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
        "targets": [
            ShownSetting(
                str(IMPORTANCES[one.importance]),
                one.importance,
                f"{label(one.kind)} {100 * one.value:g} %" if one.kind != "cost" else label(one.kind),
                one.importance in set_targets,
                newest.get((ServiceTarget, one.importance)),
            )
            for one in load_targets().values()
        ],
        "terms": load_terms(),
        "terms_last": newest.get((StockingTerms, "1")),
        "plants": [
            ShownSetting(
                f"{plant.code} {plant.name}",
                plant.code,
                plant.get_substitute_approval_display(),
                True,
                newest.get((Plant, plant.code)),
            )
            for plant in plants
        ],
        "shop_times": [
            ShownSetting(
                label(one),
                one.value,
                _("{n} min").format(n=shops[one].minutes if one in shops else SHIPPED_MINUTES.get(one)),
                one in shops,
                newest.get((ShopTime, one.value)),
            )
            for one in Operation
            if one in shops or one in SHIPPED_MINUTES
        ],
        "drives": lacking[:DRIVES_SHOWN],
        "drives_lacking": lacking.count(),
    }
    return render(request, "planning/settings.html", context)


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def setting(request: WSGIRequest, kind: str, key: str) -> HttpResponse:
    found = SETTINGS.get(kind)
    if found is None or (found.keys and key not in found.keys):
        raise Http404
    if not may_decide_of(request):
        raise PermissionDenied
    address = {found.key: key} if found.key else {}
    standing = _standing(request, found, address)
    if standing.status == 404 and not found.keys:
        raise Http404
    then = then_of(request.POST or request.GET, reverse("screens:settings"))
    asked = {name: request.GET[name] for name in found.field_names if name in request.GET}
    initial = _start(found, key) | (standing.body if standing.is_done else {}) | asked
    form = SettingOnPageForm(found, request.POST or None, initial)
    status = 200
    if request.method == "POST" and form.is_valid():
        answer = _send(request, found, key, form.body(), is_new=not standing.is_done)
        if answer.is_done:
            messages.success(request, _("Set. {effect}").format(effect=found.effect))
            return redirect(then)
        form.take_refusal(answer.body)
        status = answer.status
    context = {
        "setting": found,
        "name": _name(kind, key),
        "form": form,
        # After a refusal the tag of what holds now: who sends again has seen it.
        "etag": standing.etag,
        "key": str(uuid4()),
        "then": then,
        "touches": _touches(kind, key),
        "changes": _changes(found, standing.body.get("id", 1)) if standing.is_done else [],
        "is_start_value": not standing.is_done or (kind == TERMS and not standing.body["are_set"]),
        "holds": [
            (LABELS[name][0], standing.body[name])
            for name in found.field_names
            if status == 412 and name in standing.body
        ],
    }
    return render(request, "planning/setting.html", context, status=status)


def _standing(request: WSGIRequest, found: SettingOnPage, address: dict[str, str]) -> Answer:
    name = f"{found.address}-detail" if found.key else found.address
    return read(request, name, {}, **address)


def _send(
    request: WSGIRequest, found: SettingOnPage, key: str, body: dict[str, Any], *, is_new: bool
) -> Answer:
    etag = request.POST.get("etag", "")
    if not found.key:
        return change(request, found.address, body, etag, method="PUT")
    if is_new:
        once = request.POST.get("key", "")[:LONGEST_KEY] or str(uuid4())
        return send(request, f"{found.address}-list", {found.key: key, **body}, once)
    return change(request, f"{found.address}-detail", body, etag, **{found.key: key})


def _start(found: SettingOnPage, key: str) -> dict[str, Any]:
    """What counts while the plant has set nothing."""
    if found.model is ServiceTarget:
        return {"kind": "fill_rate", "value": START_SERVICE[key]}
    return {"minutes": SHIPPED_MINUTES.get(Operation(key))} if found.model is ShopTime else {}


def _name(kind: str, key: str) -> str:
    if kind == "targets":
        return str(IMPORTANCES[key])
    return label(Operation(key)) if kind == "shop-times" else key


def _touches(kind: str, key: str) -> str:
    """What counts with it, where that is cheap to know."""
    current = visible_to_caller(Recommendation.objects.current()).order_by()
    if kind == DRIVES:
        n = Position.objects.filter(drive__tag=key).count()
        return ngettext("{n} position of this drive.", "{n} positions of this drive.", n).format(n=n)
    if kind in ("targets", TERMS, ITEMS):
        narrowed = {"targets": {"importance": key}, ITEMS: {"item__stock_number": key}}.get(kind, {})
        n = current.filter(**narrowed).count()
        return ngettext("{n} recommendation rests on it.", "{n} recommendations rest on it.", n).format(n=n)
    return ""


def _changes(found: SettingOnPage, pk: Any) -> list[tuple[Change, list[tuple[str, Any, Any]]]]:
    """Who changed it from what to what, the newest first."""
    key = names_of(found.model, [pk]).get(pk, (str(pk), "", ""))[0]
    rows = Change.objects.filter(record=found.model._meta.label_lower, key=key)[:CHANGES_SHOWN]
    return [(row, list(_differences(row, found.field_names))) for row in rows]


def _differences(row: Change, names: Iterable[str]) -> Iterable[tuple[str, Any, Any]]:
    for name in names:
        if name in row.before or name in row.after:
            yield str(LABELS[name][0]), row.before.get(name), row.after.get(name)


def _newest(keys: Mapping[type[Model], list[str]]) -> dict[tuple[type[Model], str], Change]:
    """The last change of each record, by model and key."""
    found: dict[int, tuple[type[Model], str]] = {}
    for model, names in keys.items():
        rows = Change.objects.filter(record=model._meta.label_lower, key__in=names).order_by()
        for name, pk in rows.values_list("key").annotate(Max("id")):
            found[pk] = model, name
    return {found[row.pk]: row for row in Change.objects.filter(pk__in=found)}
