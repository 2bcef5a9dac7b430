"""A page while the database is away, full or takes no changes: it says so, keeps what was typed, and sends it again.

Nothing here reads the database, so the page is shown whatever does not work.
"""

import re
import sys
from collections.abc import Iterator
from dataclasses import dataclass, field

from django.http import HttpRequest, HttpResponse, HttpResponseBase
from django.middleware.csrf import get_token
from django.template.loader import render_to_string
from django.utils.translation import gettext as _

from api.edge.errors import API_PREFIX, Unavailable, from_database, problem_response, server_error
from api.edge.middleware import PROBES, Middleware
from api.screens.admin_words import field_words

NOT_TYPED = frozenset({"csrfmiddlewaretoken"})
PASSWORD = re.compile("password")
KEY = "key"


@dataclass
class KeptForm:
    """What was sent. Passwords and files do not go into a page: they are asked for again."""

    hidden: list[tuple[str, str]] = field(default_factory=list)
    shown: list[tuple[str, str]] = field(default_factory=list)
    passwords: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)
    is_booked_once: bool = False


class UnavailablePageMiddleware(Middleware):
    """What a page met while it was made; API addresses answer by themselves."""

    def process_exception(self, request: HttpRequest, error: Exception) -> HttpResponseBase | None:
        if request.path.startswith(API_PREFIX) or request.path in PROBES:
            return None
        return unavailable_answer(request, error)


def failed(request: HttpRequest) -> HttpResponseBase:
    """The handler of what nobody caught: what the database refused before or after the page was made is no fault of the service."""
    return unavailable_answer(request, sys.exc_info()[1]) or server_error(request)


def unavailable_answer(request: HttpRequest, error: BaseException | None) -> HttpResponseBase | None:
    known = error if isinstance(error, Unavailable) or error is None else from_database(error)
    if not isinstance(known, Unavailable):
        return None
    if request.path.startswith(API_PREFIX):
        return problem_response(known, request)
    context = {
        "why": str(known.detail),
        "address": request.get_full_path(),
        "is_form": request.method == "POST",
        "kept": kept_form(request),
        "csrf_token": get_token(request),
    }
    page = HttpResponse(render_to_string("503.html", context), status=known.status_code)
    page["Retry-After"] = str(known.wait)
    return page


def kept_form(request: HttpRequest) -> KeptForm:
    kept = KeptForm()
    if request.method != "POST":
        return kept
    for name, value in sent_values(request):
        if PASSWORD.search(name):
            kept.passwords.append((name, _("Password")))
            continue
        kept.hidden.append((name, value))
        if name != KEY and value.strip() and (words := field_words(name)):
            kept.shown.append((str(words), value))
    kept.files = sorted(request.FILES)
    kept.is_booked_once = bool(request.POST.get(KEY))
    return kept


def sent_values(request: HttpRequest) -> Iterator[tuple[str, str]]:
    for name, values in request.POST.lists():
        if name not in NOT_TYPED:
            yield from ((name, str(value)) for value in values)
