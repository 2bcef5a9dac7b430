"""Rate limits per caller: requests a minute and costly searches a minute, over all processes; costly searches at once, in each.

Limits protect the service; they are no authorisation.
"""

import math
import threading
from collections import Counter
from typing import Any, ClassVar

from django.conf import settings
from django.http import HttpResponseBase
from django.utils import timezone
from rest_framework.request import Request
from rest_framework.throttling import BaseThrottle

from api.edge.auth import caller_id
from api.edge.shared_counts import count

WINDOW_SECONDS = 60
_at_work: Counter[str] = Counter()
_lock = threading.Lock()


def seconds_now() -> float:
    return timezone.now().timestamp()


class MinuteThrottle(BaseThrottle):
    """So many requests of one caller in each minute of the clock."""

    name: ClassVar[str]
    setting: ClassVar[str]

    def allow_request(self, request: Request, view: Any) -> bool:
        minute = int(seconds_now() // WINDOW_SECONDS)
        limit = int(getattr(settings, self.setting))
        used = count(f"{self.name}:{caller_id(request)}", minute, limit)
        known = getattr(request, "rate_limits", {})
        request.rate_limits = {**known, self.name: (limit, max(0, limit - used))}  # type: ignore[attr-defined]
        return used <= limit

    def wait(self) -> float:
        return WINDOW_SECONDS - seconds_now() % WINDOW_SECONDS


class CallerThrottle(MinuteThrottle):
    name = "requests"
    setting = "REQUESTS_PER_MINUTE"


class SearchThrottle(MinuteThrottle):
    """For views that say `is_costly`: they work long, and one caller must not take every thread."""

    name = "searches"
    setting = "SEARCHES_PER_MINUTE"

    def allow_request(self, request: Request, view: Any) -> bool:
        return not getattr(view, "is_costly", False) or super().allow_request(request, view)


class AtOnceThrottle(BaseThrottle):
    """So many costly searches of one caller at the same time; `leave` ends one."""

    def allow_request(self, request: Request, view: Any) -> bool:
        if not getattr(view, "is_costly", False):
            return True
        caller = caller_id(request)
        with _lock:
            if _at_work[caller] >= settings.SEARCHES_AT_ONCE:
                return False
            _at_work[caller] += 1
        request.search_of = caller  # type: ignore[attr-defined]
        return True

    def wait(self) -> float:
        return 1.0


def release_slot(request: Any) -> None:
    """The search of this request is over, however it ended."""
    caller = getattr(request, "search_of", None)
    if caller is None:
        return
    request.search_of = None
    with _lock:
        _at_work[caller] -= 1
        if _at_work[caller] <= 0:
            del _at_work[caller]


def add_rate_headers(response: HttpResponseBase, request: Any) -> None:
    """`RateLimit-Policy` and `RateLimit` as the IETF draft has them: structured lists, one item for each limit."""
    limits: dict[str, tuple[int, int]] = getattr(request, "rate_limits", {})
    if not limits:
        return
    left = math.ceil(WINDOW_SECONDS - seconds_now() % WINDOW_SECONDS)
    policies = (f'"{name}";q={limit};w={WINDOW_SECONDS}' for name, (limit, _) in limits.items())
    response["RateLimit-Policy"] = ", ".join(policies)
    response["RateLimit"] = ", ".join(f'"{name}";r={rest};t={left}' for name, (_, rest) in limits.items())
