"""Retry a request that lost against a concurrent one, so that no lock or deadlock reaches a caller.

The whole handler runs again, from its reading of the body on: what it had done was rolled back.
"""

import functools
import random
import time
from collections.abc import Callable
from itertools import count

from django.db import OperationalError, connection
from django.http import HttpResponseBase

from api.edge.errors import Unavailable
from inventory.stores.ledger.refusals import ShelfMoved

MOST_TRIES = 12
PATIENCE_SECONDS = 45.0
"""No new try begins after it; the one that runs may still wait for the database."""
FIRST_PAUSE_SECONDS, LONGEST_PAUSE_SECONDS = 0.01, 1.0
GAVE_WAY = frozenset({"40001", "40P01", "55P03"})
"""PostgreSQL: serialization failure, deadlock, lock not available (appendix A of its manual)."""
LOCKED = ("database is locked", "database table is locked", "database schema is locked")


class LostRace(Exception):  # noqa: N818 - reads as what happened
    """Another request was first; run again, this one finds what that one did."""


Handler = Callable[..., HttpResponseBase]


def with_retries(handler: Handler) -> Handler:
    """The handler, run again while it has to give way; at the end of patience 503 with Retry-After."""

    @functools.wraps(handler)
    def answer(*args: object, **kwargs: object) -> HttpResponseBase:
        until = time.monotonic() + PATIENCE_SECONDS
        for tried in count(1):
            try:
                return handler(*args, **kwargs)
            except (OperationalError, ShelfMoved, LostRace) as error:
                # Inside an outer transaction only its owner can start again.
                if not is_passing(error) or connection.in_atomic_block:
                    raise
                if tried >= MOST_TRIES or time.monotonic() > until:
                    raise Unavailable() from error
            time.sleep(pause_seconds(tried))
        raise AssertionError("unreachable")

    return answer


def is_passing(error: BaseException) -> bool:
    """Whether it failed only because another transaction was in the way."""
    if isinstance(error, ShelfMoved | LostRace):
        return True
    code = getattr(error.__cause__, "sqlstate", None)
    return code in GAVE_WAY or any(words in str(error) for words in LOCKED)


def pause_seconds(tried: int) -> float:
    """Twice as long each time, and never the same for two who met."""
    longest = min(LONGEST_PAUSE_SECONDS, FIRST_PAUSE_SECONDS * 2**tried)
    return random.uniform(longest / 4, longest)
