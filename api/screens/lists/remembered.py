"""Plant, area and storeroom: chosen once, the next list begins there, until the choice is taken away."""

from collections.abc import Iterable, Iterator
from typing import Any

from django.db.models import Model
from django.http import HttpRequest, HttpResponse

from api.edge.scope import visible_to_caller
from drives.models import Area, Plant
from inventory.models import Storeroom

REMEMBERED: dict[str, type[Model]] = {"plant": Plant, "area": Area, "storeroom": Storeroom}
"""By the name of the filter, which is that of the cookie."""
KEPT_SECONDS = 365 * 24 * 3600
LONGEST = 40
MOST_CHOICES = 200
"""More are typed."""


def codes_of(name: str, chosen: str) -> Iterator[tuple[str, str]]:
    """To choose from, with what is chosen; none where they are too many."""
    rows: Any = visible_to_caller(REMEMBERED[name]._default_manager.all())
    names: dict[str, str] = {}
    for code, words in rows.order_by("code").values_list("code", "name")[: MOST_CHOICES + 1]:
        names.setdefault(code, words)
    if len(names) > MOST_CHOICES:
        return
    if chosen:
        names.setdefault(chosen, "")
    for code, words in names.items():
        yield code, f"{code} · {words}" if words else code


def is_said(request: HttpRequest) -> bool:
    return any(name in request.GET for name in REMEMBERED)


def kept_places(request: HttpRequest, filters: Iterable[str]) -> dict[str, str]:
    """What was chosen before, of these filters."""
    kept = {name: request.COOKIES.get(name, "") for name in REMEMBERED if name in filters}
    return {name: value for name, value in kept.items() if value}


def remembering(page: HttpResponse, request: HttpRequest) -> HttpResponse:
    """A place that the address names is kept, one that it leaves empty is forgotten."""
    for name in REMEMBERED:
        value = request.GET.get(name)
        if value is None:
            continue
        code = value.strip()
        # A cookie cannot hold any letter, and a code has no other ones.
        if code and code.isascii() and code.isprintable() and len(code) <= LONGEST:
            page.set_cookie(name, code, max_age=KEPT_SECONDS, samesite="Lax", httponly=True)
        else:
            page.delete_cookie(name, samesite="Lax")
    return page
