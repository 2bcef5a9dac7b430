"""Which plants and storerooms the work in hand may look at; everything, where nobody has said otherwise.

Set around a request by whoever knows the caller, and asked by what reads shelves and places for an answer. Writers
do not ask: the books are kept whole.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from typing import Any, TypeVar

from django.db.models import QuerySet

Rows = TypeVar("Rows", bound=QuerySet[Any])


@dataclass(frozen=True)
class Sight:
    """Ids; None is no limit, an empty set nothing at all."""

    plants: frozenset[int] | None = None
    storerooms: frozenset[int] | None = None

    @property
    def is_whole(self) -> bool:
        return self.plants is None and self.storerooms is None

    def meets(self, other: "Sight") -> "Sight":
        """What both see."""
        return Sight(_both(self.plants, other.plants), _both(self.storerooms, other.storerooms))


def _both(one: frozenset[int] | None, other: frozenset[int] | None) -> frozenset[int] | None:
    if one is None or other is None:
        return other if one is None else one
    return one & other


EVERYTHING = Sight()
_asked: ContextVar[Callable[[], Sight]] = ContextVar("sight", default=lambda: EVERYTHING)


def sight() -> Sight:
    return _asked.get()()


@contextmanager
def looking(ask: Callable[[], Sight]) -> Iterator[None]:
    """Within it `sight()` is what `ask` tells; it is asked when somebody needs to know."""
    marker = _asked.set(ask)
    try:
        yield
    finally:
        _asked.reset(marker)


def in_storerooms(rows: Rows, path: str = "storeroom") -> Rows:
    """The rows whose storeroom may be looked at."""
    seen = sight().storerooms
    return rows if seen is None else rows.filter(**{f"{path}__in": seen})


def in_plants(rows: Rows, path: str = "plant") -> Rows:
    """The rows whose plant may be looked at."""
    seen = sight().plants
    return rows if seen is None else rows.filter(**{f"{path}__in": seen})
