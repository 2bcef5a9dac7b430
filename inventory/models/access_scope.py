"""Plants and storerooms visible to the current request; all of them where no limit is set.

The edge sets it around a request, and code that reads shelves and places for an answer asks for it. Writers do not ask:
the ledger is kept whole.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db.models import QuerySet

Rows = TypeVar("Rows", bound=QuerySet[Any])


@dataclass(frozen=True)
class AccessScope:
    """Ids of plants and storerooms; None means no limit, an empty set nothing."""

    plants: frozenset[int] | None = None
    storerooms: frozenset[int] | None = None

    @property
    def is_whole(self) -> bool:
        return self.plants is None and self.storerooms is None

    def intersect(self, other: "AccessScope") -> "AccessScope":
        """What both scopes allow."""
        return AccessScope(_both(self.plants, other.plants), _both(self.storerooms, other.storerooms))


def _both(one: frozenset[int] | None, other: frozenset[int] | None) -> frozenset[int] | None:
    if one is None or other is None:
        return other if one is None else one
    return one & other


EVERYTHING = AccessScope()
_scope: ContextVar[Callable[[], AccessScope]] = ContextVar("access_scope", default=lambda: EVERYTHING)


def current_scope() -> AccessScope:
    return _scope.get()()


@contextmanager
def scoped_to(ask: Callable[[], AccessScope]) -> Iterator[None]:
    """Inside, `current_scope()` calls `ask`, and only when it is needed: most requests need no query for it."""
    marker = _scope.set(ask)
    try:
        yield
    finally:
        _scope.reset(marker)


def in_storerooms(rows: Rows, path: str = "storeroom") -> Rows:
    """The rows whose storeroom is visible."""
    seen = current_scope().storerooms
    return rows if seen is None else rows.filter(**{f"{path}__in": seen})


def in_plants(rows: Rows, path: str = "plant") -> Rows:
    """The rows whose plant is visible."""
    seen = current_scope().plants
    return rows if seen is None else rows.filter(**{f"{path}__in": seen})
