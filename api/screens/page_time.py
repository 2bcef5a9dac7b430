"""The time zone of a page and of its files: that of the storeroom asked for, else of most of the reader's; its foot names it."""

from collections import Counter
from collections.abc import Callable
from datetime import tzinfo
from typing import Any
from zoneinfo import ZoneInfo

from django.db import Error
from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone

from api.edge.middleware import Middleware
from api.edge.scope import visible_to_caller
from api.screens.unavailable_pages import unavailable_answer
from inventory.models import Storeroom

PAGES = "screens"


class PageTimeMiddleware(Middleware):
    """Days and times are those of the reader's storerooms; without one, of the service. A page about one plant takes its own."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        with timezone.override(None):
            return self.get_response(request)

    def process_view(
        self, request: HttpRequest, view: Callable[..., Any], args: tuple[Any, ...], kwargs: dict[str, Any]
    ) -> HttpResponseBase | None:
        match = request.resolver_match
        try:
            if match and match.app_name == PAGES and request.user.is_authenticated:
                timezone.activate(page_zone(request.GET.get("storeroom", "").strip()))
        except Error as error:
            if answer := unavailable_answer(request, error):
                return answer
            raise
        return None


def page_zone(code: str) -> tzinfo:
    zones = dict(visible_to_caller(Storeroom.objects.order_by("code")).values_list("code", "timezone"))
    if not zones:
        return timezone.get_default_timezone()
    (most, _number), *_others = Counter(zones.values()).most_common(1)
    return ZoneInfo(zones.get(code, most))
