"""Answers that take seconds to work out, kept for some minutes with the moment at which they were true.

Each caller has its own: what one may see, another need not.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.cache import cache
from django.http import HttpRequest
from django.utils import timezone

from api.edge.auth import caller_id

KEPT_SECONDS = 600


@dataclass(frozen=True)
class Remembered:
    """`found` as it was at a moment."""

    at: datetime
    found: Any


def remembered(request: HttpRequest, name: str, work: Callable[[], Any], *, anew: bool = False) -> Remembered:
    """From the cache, else worked out now."""
    known = None if anew else known_of(request, name)
    if known is None:
        known = Remembered(timezone.now(), work())
        cache.set(_key(request, name), known, KEPT_SECONDS)
    return known


def known_of(request: HttpRequest, name: str) -> Remembered | None:
    """Only what was worked out lately: for pages that must not wait."""
    known: Remembered | None = cache.get(_key(request, name))
    return known


def _key(request: HttpRequest, name: str) -> str:
    return f"keep-{name}-{caller_id(request)}"
