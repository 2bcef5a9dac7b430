"""Rules for substitutes: what holds, a form to give one, and the way to withdraw each."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any, TypeVar
from urllib.parse import urlencode

from django.contrib.auth.decorators import login_required
from django.core.paginator import Paginator
from django.db.models import Model
from django.http import HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dateparse import parse_date
from django.utils.translation import gettext as _
from django.views.decorators.http import require_http_methods

from api.edge.auth import caller_name
from api.edge.change_log import log_creation, logging_changes
from api.edge.scope import visible_to_caller
from api.screens.acts import Done, SentForm, carry_out, number_of
from api.screens.planning.planning_tags import may_decide_of
from api.screens.planning.variety import PAGE_SIZE
from api.wording.labels import RULE_KINDS
from drives.models import Drive, Plant, Position, SubstitutionRule
from drives.place.item_rules import RuleKind
from drives.substitutes.giving_rules import give_rule, withdraw_rule
from inventory.facts import Refusal, fact
from inventory.models import Item

FIELDS = ("kind", "item", "instead_of", "position", "drive", "plant", "reason", "given_by", "valid_until")
LONGEST = 200
Named = TypeVar("Named", bound=Model)


@dataclass(frozen=True)
class RuleFilters:
    ended: str = ""
    page: int = 1

    def address(self, **changes: object) -> str:
        chosen = replace(self, **changes)  # type: ignore[arg-type]
        return "?" + urlencode({name: value for name, value in vars(chosen).items() if value not in ("", 1)})


@require_http_methods(["GET", "HEAD", "POST"])
@login_required
def rules(request: HttpRequest) -> HttpResponse:
    sent = carry_out(request, act, is_allowed=may_decide_of(request))
    if sent.is_done:
        return redirect(reverse("screens:rules") + "#rules")
    return render(request, "planning/rules.html", context_of(request, sent), status=sent.status)


def act(request: HttpRequest, form: QueryDict) -> Done:
    """Withdraw the named rule, or give a new one."""
    by = caller_name(request)
    named = form.get("rule", "")
    if not named:
        given = give_rule(**columns_of(given_in(form)), by=by)
        log_creation(given)
        return Done(_("The rule is in force."), f"substitution-rule-withdraw:{given.pk}")
    rules = visible_to_caller(SubstitutionRule.objects.select_related("plant"))
    rule = rules.filter(pk=number_of(named)).first()
    if rule is None:
        raise Refusal(fact("no_such_record", kind="rule", name=named[:LONGEST]))
    with logging_changes(SubstitutionRule.objects.filter(pk=rule.pk)):
        withdraw_rule(rule, by=by, reason=form.get("reason", "").strip()[:LONGEST])
    return Done(_("The rule is withdrawn. That is not undone: give it again where it was a mistake."))


def given_in(form: QueryDict) -> dict[str, str]:
    return {name: form.get(name, "").strip()[:LONGEST] for name in FIELDS}


def columns_of(given: Mapping[str, str]) -> dict[str, Any]:
    until = given["valid_until"]
    if given["kind"] not in RULE_KINDS:
        known = tuple(str(one) for one in RuleKind)
        raise Refusal(fact("word_not_known", field="kind", given=given["kind"], allowed=known), field="kind")
    item = named(Item, "stock_number", given, "item")
    if item is None:
        raise Refusal(fact("rule_names_no_item"), field="item")
    other = named(Item, "stock_number", given, "instead_of")
    return {
        "kind": RuleKind(given["kind"]),
        "item": item.merged_into or item,
        "instead_of": other and (other.merged_into or other),
        "position": named(Position, "tag", given, "position"),
        "drive": named(Drive, "tag", given, "drive"),
        "plant": named(Plant, "code", given, "plant"),
        "valid_until": day_of(until) if until else None,
        "reason": given["reason"],
        "given_by": given["given_by"],
    }


def named(model: type[Named], key: str, given: Mapping[str, str], field: str) -> Named | None:
    name = given[field]
    if not name:
        return None
    rows = visible_to_caller(model._default_manager.all())
    found: Named | None = None if "\x00" in name else rows.filter(**{key: name}).first()
    if found is None:
        kind = str(model._meta.verbose_name)
        raise Refusal(fact("no_such_record", kind=kind, name=name), field=field)
    return found


def day_of(text: str) -> date:
    try:
        found = parse_date(text)
    except ValueError:
        found = None
    if found is None:
        raise Refusal(
            fact("value_not_valid", field="valid_until", given=text, rule="date"), field="valid_until"
        )
    return found


def context_of(request: HttpRequest, sent: SentForm) -> dict[str, object]:
    given = given_in(sent.form if sent.faults else request.GET)
    if not sent.faults:
        given["given_by"] = given["given_by"] or caller_name(request)
    ended = "1" if request.GET.get("ended") == "1" else ""
    filters = RuleFilters(ended, number_of(request.GET.get("page", "")) or 1)
    known = SubstitutionRule.objects.select_related("item", "instead_of", "position", "drive", "plant")
    found = visible_to_caller(known.in_force(timezone.localdate()) if not ended else known)
    return {
        "filters": filters,
        "page": Paginator(found.order_by("-pk"), PAGE_SIZE).get_page(filters.page),
        "sent": sent,
        "given": given,
        "is_of_new": not sent.form.get("rule"),
        "kinds": [(kind, label, kind == given["kind"]) for kind, label in RULE_KINDS.items()],
        "plants": [
            (one.code, one.name, one.code == given["plant"])
            for one in visible_to_caller(Plant.objects.order_by("code"))
        ],
        "longest": LONGEST,
    }
