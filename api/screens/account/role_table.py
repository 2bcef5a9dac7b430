"""What each role may do, read from the views themselves: what is shown is what is enforced."""

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cache
from types import SimpleNamespace
from typing import Any

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import URLPattern, URLResolver, get_resolver
from django.utils.functional import Promise
from django.utils.translation import gettext_lazy as _
from django.views.decorators.http import require_safe

from api.edge.auth import API_ROOT, SAFE_METHODS, allowed_roles
from api.models import Role
from api.wording.record_kinds import RECORD_KINDS

EVERYBODY = frozenset(Role.values)
READING = "read"
CHANGING = "change"
CALCULATING = "calculate"
ACTS = {
    READING: _("read"),
    CHANGING: _("change"),
    CALCULATING: _("calculate"),
    "approve": _("approve"),
    "discard": _("discard"),
    "merge": _("merge"),
    "run down": _("run down"),
}
"""What is done to records; the others are the names of calculations, as the API has them."""


@dataclass
class Permission:
    """What is done with the addresses of one kind of record, and by whom."""

    resource: str
    words: str | Promise = ""
    """What its records are called; a calculation has the name of its address alone."""
    acts: dict[str, frozenset[str]] = field(default_factory=dict)

    def cells(self) -> list[tuple[str, list[bool]]]:
        return [
            (str(ACTS.get(act, act)), [role in allowed for role in Role.values])
            for act, allowed in sorted(self.acts.items())
        ]


@require_safe
@login_required
def roles_help(request: HttpRequest) -> HttpResponse:
    return render(request, "account/roles.html", {"roles": Role, "permissions": permissions()})


@cache
def permissions() -> list[Permission]:
    found: dict[str, Permission] = {}
    for path, pattern in patterns(get_resolver().url_patterns):
        view = getattr(pattern.callback, "cls", None)
        below = path.removeprefix(API_ROOT.lstrip("/")).replace("\\Z", "").rstrip("$")
        resource = below.partition("/")[0]
        if view is None or below == path or "(" in resource or not resource:
            continue
        entry = found.setdefault(resource, Permission(resource))
        if record := getattr(view, "record", None):
            entry.words = RECORD_KINDS.get(record.model.__name__, ("", ""))[1]
        for act, allowed in acts_of(pattern, below, view):
            entry.acts[act] = entry.acts.get(act, frozenset()) | allowed
    return sorted(found.values(), key=lambda one: one.resource)


def patterns(tree: list[URLPattern | URLResolver], prefix: str = "") -> Iterator[tuple[str, URLPattern]]:
    for one in tree:
        path = prefix + str(one.pattern).lstrip("^")
        if isinstance(one, URLResolver):
            yield from patterns(one.url_patterns, path)
        else:
            yield path, one


def acts_of(pattern: URLPattern, path: str, view: Any) -> Iterator[tuple[str, frozenset[str]]]:
    """Reading, changing, and each act that has roles of its own or is no record: a calculation changes nothing."""
    standing: dict[str, str] | None = getattr(pattern.callback, "actions", None)
    methods = standing or {method: "" for method in view.http_method_names if hasattr(view, method)}
    below = " ".join(part for part in path.split("/")[1:] if part and "<" not in part).replace("-", " ")
    for method, action in methods.items():
        if method in ("options", "head"):
            continue
        made = view(**getattr(pattern.callback, "initkwargs", {}))
        made.action = action
        allowed = allowed_roles(SimpleNamespace(method=method.upper()), made)  # type: ignore[arg-type]
        writes = CALCULATING if standing is None else CHANGING
        usual = READING if method.upper() in SAFE_METHODS else writes
        has_own_roles = action in getattr(view, "action_roles", {})
        name = action.replace("_", " ") if has_own_roles else below if standing is None and below else usual
        yield name, EVERYBODY if allowed is None else frozenset(allowed)
