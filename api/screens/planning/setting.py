"""One setting: the form that changes it, what the change would move before it is saved, and who changed it before."""

from collections.abc import Iterable, Mapping
from typing import Any
from urllib.parse import urlencode
from uuid import uuid4

from django.contrib.auth.decorators import login_required
from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.db import transaction
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseRedirect, QueryDict
from django.shortcuts import render
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_http_methods

from api.edge.change_log import names_of
from api.edge.scope import visible_to_caller
from api.models import Change
from api.screens.acts import Done, carry_out_once
from api.screens.counter.acts import then_of
from api.screens.own_api import Answer, change, read, send
from api.screens.planning.approval_effect import approval_effect
from api.screens.planning.calculated_pages import calculated_page, context_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.setting_effect import ASKED, SETTING_EFFECT, parameters_of
from api.screens.planning.setting_forms import (
    DRIVES,
    ITEMS,
    LABELS,
    PLANTS,
    SETTINGS,
    TARGETS,
    TERMS,
    SettingOnPage,
    SettingOnPageForm,
    name_of_setting,
)
from drives.models import Position
from inventory.interchange.thresholds import SHIPPED_MINUTES
from inventory.interchange.vocabulary import Operation
from inventory.models import Recommendation, ServiceTarget, ShopTime
from inventory.planning.terms import START_SERVICE

CHANGES_SHOWN = 5
LONGEST_KEY = 100
SHORT = 10
"""Rows that are shown at once, above the form."""


class _NotSet(Exception):  # noqa: N818
    """The API refused it, so that nothing of this sending is kept."""

    def __init__(self, answer: Answer) -> None:
        super().__init__()
        self.answer = answer


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def setting(request: WSGIRequest, kind: str, key: str) -> HttpResponse:
    found = SETTINGS.get(kind)
    if found is None or (found.keys and key not in found.keys):
        raise Http404
    if not may_decide_of(request):
        raise PermissionDenied
    standing = _standing(request, found, key)
    if standing.status == 404 and not found.keys:
        raise Http404
    form = SettingOnPageForm(found, request.POST or None, _initial(request, found, key, standing))
    status = 200
    if request.method == "POST" and form.is_valid():
        answer = _sent(request, found, key, form, standing)
        if answer.is_done:
            return HttpResponseRedirect(_next(request, found, form))
        form.take_refusal(answer.body)
        status = answer.status
    context = {
        "setting": found,
        "name": name_of_setting(kind, key),
        "form": form,
        # After a refusal the tag of what holds now: who sends again has seen it.
        "etag": standing.etag,
        "key": str(uuid4()),
        "then": _then(request),
        "touches": _touches(kind, key),
        "changes": _changes(found, standing.body.get("id", 1)) if standing.is_done else [],
        "is_start_value": not standing.is_done or (kind == TERMS and not standing.body["are_set"]),
        "holds": [
            (LABELS[name][0], standing.body[name])
            for name in found.field_names
            if status == 412 and name in standing.body
        ],
        **_effect(request, found, kind, key),
    }
    return render(request, "planning/setting.html", context, status=status)


def _then(request: WSGIRequest) -> str:
    return then_of(request.POST or request.GET, reverse("screens:settings"))


def _standing(request: WSGIRequest, found: SettingOnPage, key: str) -> Answer:
    name = f"{found.address}-detail" if found.key else found.address
    return read(request, name, {}, **({found.key: key} if found.key else {}))


def _initial(request: WSGIRequest, found: SettingOnPage, key: str, standing: Answer) -> dict[str, Any]:
    """What holds, under what the address asks for."""
    asked = {name: request.GET[name] for name in found.field_names if name in request.GET}
    return _start(found, key) | (standing.body if standing.is_done else {}) | asked


def _sent(
    request: WSGIRequest, found: SettingOnPage, key: str, form: SettingOnPageForm, standing: Answer
) -> Answer:
    """Set it once; where its effect is asked for, let the API judge it, and set nothing."""
    is_new = not standing.is_done
    if ASKED in request.POST:
        with transaction.atomic():
            answer = _send(request, found, key, form.body(), is_new=is_new)
            transaction.set_rollback(True)
        return answer

    def set_it(_request: HttpRequest, _form: QueryDict) -> Done:
        answer = _send(request, found, key, form.body(), is_new=is_new)
        if not answer.is_done:
            raise _NotSet(answer)
        said = _("Set. {effect}").format(effect=found.effect)
        return Done(f"{said} {_before(found, standing.body, answer.body)}".strip())

    try:
        carry_out_once(request, set_it)
    except _NotSet as refused:
        return refused.answer
    return Answer(200, {})


def _before(found: SettingOnPage, before: Mapping[str, Any], after: Mapping[str, Any]) -> str:
    """Nothing takes a setting back but to set it again, so that the report says to what."""
    was = [
        f"{LABELS[name][0]} {'–' if before[name] in (None, '') else before[name]}"
        for name in found.field_names
        if name in before and before[name] != after.get(name)
    ]
    return _("To undo it, set again: {values}.").format(values=", ".join(was)) if was else ""


def _next(request: WSGIRequest, found: SettingOnPage, form: SettingOnPageForm) -> str:
    if ASKED not in request.POST:
        return _then(request)
    asked = {name: form.asked(name) for name in found.field_names}
    return f"?{urlencode({**asked, ASKED: '1', 'then': _then(request)})}"


def _effect(request: WSGIRequest, found: SettingOnPage, kind: str, key: str) -> dict[str, Any]:
    """What the values in the address would move, as far as it is calculated."""
    if ASKED not in request.GET:
        return {}
    form = SettingOnPageForm(found, request.GET, {})
    if not form.is_valid():
        return {}
    if kind == PLANTS:
        found_now = approval_effect(key, form.body(), timezone.now())
        return {"is_asked": True, "found": found_now, "effect_template": "planning/approval_effect.html"}
    page = calculated_page(request, SETTING_EFFECT, parameters_of(kind, key, form.body()))
    effect = page.found
    is_cut = effect is not None and (
        effect.moved_count > len(effect.moved) or effect.work_count > len(effect.work)
    )
    is_short = effect is not None and effect.moved_count + effect.work_count <= SHORT
    shown = {"is_asked": True, "effect_template": "planning/setting_effect.html"}
    return {**context_of(page), **shown, "is_cut": is_cut, "is_short": is_short}


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


def _touches(kind: str, key: str) -> str:
    """What counts with it, where that is cheap to know."""
    current = visible_to_caller(Recommendation.objects.current()).order_by()
    if kind == DRIVES:
        n = Position.objects.filter(drive__tag=key).count()
        return ngettext("{n} position of this drive.", "{n} positions of this drive.", n).format(n=n)
    if kind in (TARGETS, TERMS, ITEMS):
        narrowed = {TARGETS: {"importance": key}, ITEMS: {"item__stock_number": key}}.get(kind, {})
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
