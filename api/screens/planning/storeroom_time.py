"""The time zone of a page that is about several storerooms; its foot names it."""

from collections import Counter
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager
from functools import wraps
from typing import Any, TypeVar, cast
from zoneinfo import ZoneInfo

from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.utils import timezone

from api.edge.scope import visible_to_caller
from inventory.models import Storeroom

Page = TypeVar("Page", bound=Callable[..., HttpResponseBase])


def storeroom_time(storerooms: Iterable[Storeroom], code: str = "") -> AbstractContextManager[None]:
    """That of the storeroom named, else of most of them, else of the service."""
    rooms = list(storerooms)
    named = [room.timezone for room in rooms if room.code == code]
    zones = Counter(named or [room.timezone for room in rooms])
    zone = ZoneInfo(zones.most_common(1)[0][0]) if zones else timezone.get_default_timezone()
    return timezone.override(zone)


def in_storeroom_time(page: Page) -> Page:
    """A page that names no storeroom: that of most storerooms of its reader."""

    @wraps(page)
    def in_time(request: HttpRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
        with storeroom_time(visible_to_caller(Storeroom.objects.only("code", "timezone"))):
            return page(request, *args, **kwargs)

    return cast(Page, in_time)
