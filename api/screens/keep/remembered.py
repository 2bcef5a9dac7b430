"""Answers that take seconds to work out, kept for some minutes with the moment at which they were true."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.core.cache import cache
from django.utils import timezone

KEPT_SECONDS = 600


@dataclass(frozen=True)
class Remembered:
    """`found` as it was at a moment."""

    at: datetime
    found: Any


def remembered(name: str, work: Callable[[], Any], *, anew: bool = False) -> Remembered:
    """From the cache, else worked out now."""
    known = None if anew else known_of(name)
    if known is None:
        known = Remembered(timezone.now(), work())
        cache.set(name, known, KEPT_SECONDS)
    return known


def known_of(name: str) -> Remembered | None:
    """Only what was worked out lately: for pages that must not wait."""
    known: Remembered | None = cache.get(name)
    return known
