"""Template tags of stock planning: the tabs of its pages, and who may decide."""

import uuid
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

from django import template
from django.http import HttpRequest
from django.urls import reverse
from django.utils.formats import date_format
from django.utils.html import format_html

from api.edge.auth import roles_of
from api.models import Role
from api.screens.acts import SentForm
from api.screens.page_filters import money, unit_label
from api.screens.planning.list_filters import ListFilters
from api.screens.planning.page_groups import GROUPS, group_of
from api.wording.sentences import sentence
from inventory.models import Recommendation
from inventory.planning.policy_inputs import PolicyLevels, levels_fact, levels_of
from inventory.planning.reorder_list import ReorderLine

register = template.Library()


@register.inclusion_tag("planning/tabs.html")
def planning_tabs(current: str) -> dict[str, object]:
    group = group_of(current)
    return {"groups": GROUPS, "open_group": group, "current": current}


@register.filter
def word_of(value: str, words: Mapping[str, Any]) -> str:
    return str(words[value])


@register.filter
def day(text: str | None) -> str:
    """A day as the API gives it, in the style of the pages."""
    return date_format(date.fromisoformat(text)) if text else ""


@register.filter
def levels_words(levels: PolicyLevels | None, unit: str) -> str:
    """With their unit, where something is stocked."""
    text = sentence(levels_fact(levels))
    return f"{text} {unit_label(unit, levels.order_up_to)}" if levels and levels.stocked else text


@register.filter
def advised_levels(recommendation: Recommendation, unit: str) -> str:
    return levels_words(levels_of(recommendation), unit)


@register.filter
def signed_money(value: Decimal, currency: str) -> str:
    return ("+" if value > 0 else "−" if value else "") + money(abs(value), currency)


@register.simple_tag
def if_same(one: object, other: object) -> bool:
    """Ids are compared here, typed or not: a template compares no figures."""
    return str(one) == str(other)


@register.simple_tag
def act_key() -> str:
    """So that a form that is sent twice is carried out once."""
    return format_html('<input type="hidden" name="key" value="{}">', uuid.uuid4())


@register.simple_tag
def is_chosen(sent: SentForm, is_sent: bool, name: str, value: object, is_proposed: bool) -> bool:
    """As it was sent; as proposed in a form that was not."""
    return str(value) in sent.form.getlist(name) if is_sent else is_proposed


@register.simple_tag
def rule_address(kind: str, item: str, position: str, instead_of: str = "") -> str:
    """The form for a rule, filled in."""
    named = {"kind": kind, "item": item, "instead_of": instead_of, "position": position}
    return f"{reverse('screens:rules')}?{urlencode(named)}#give"


@register.simple_tag
def order_address(filters: ListFilters, line: ReorderLine) -> str:
    """The buyer's list with the form of that line open."""
    named = urlencode({"item": line.item.stock_number, "room": line.storeroom.code})
    return f"{filters.address()}&{named}#ordered".replace("?&", "?", 1)


def may_decide_of(request: HttpRequest) -> bool:
    """Only managers decide; whoever is logged in may read."""
    return Role.MANAGER in roles_of(request)


@register.simple_tag(takes_context=True)
def may_decide(context: template.Context) -> bool:
    request = context.get("request")
    return request is not None and hasattr(request, "user") and may_decide_of(request)
