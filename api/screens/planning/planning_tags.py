"""Template tags of stock planning: the tabs of its pages, and who may decide."""

from collections.abc import Mapping
from typing import Any

from django import template
from django.http import HttpRequest
from django.utils.translation import gettext_lazy as _

from api.edge.auth import roles_of
from api.models import Role

register = template.Library()
PAGES = (
    ("screens:decisions", _("To decide")),
    ("screens:exposure", _("Positions at risk")),
    ("screens:budget", _("Budget")),
    ("screens:reorder", _("Reorder list")),
    ("screens:suppliers", _("Suppliers")),
    ("screens:duplicates", _("Duplicates")),
    ("screens:variety", _("Variety")),
    ("screens:orphans", _("Orphans and holes")),
    ("screens:backtest", _("Back-test")),
)


@register.inclusion_tag("planning/tabs.html")
def planning_tabs(current: str) -> dict[str, object]:
    return {"pages": PAGES, "current": current}


@register.filter
def word_of(value: str, words: Mapping[str, Any]) -> str:
    return str(words[value])


@register.simple_tag
def if_same(one: object, other: object) -> bool:
    """Ids are compared here: a template compares no figures."""
    return one == other


def may_decide_of(request: HttpRequest) -> bool:
    """Only managers decide; whoever is logged in may read."""
    return Role.MANAGER in roles_of(request)


@register.simple_tag(takes_context=True)
def may_decide(context: template.Context) -> bool:
    request = context.get("request")
    return request is not None and hasattr(request, "user") and may_decide_of(request)
