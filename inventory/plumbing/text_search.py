"""Find the rows that may contain words, from the text indexes, before a row is read."""

import json
from collections.abc import Iterable, Sequence
from typing import Any

from django.db import connections
from django.db.models import Model, Q, QuerySet

from inventory.models.text_index import among, normal, text_index_of

MOST_ROWS = 2_000
"""Where more rows than this may have the words, a list is read in its order: a page is full before many were read."""
SURELY_MANY = 20_000
"""By an estimate, which rests on a hundred of the texts: of a million rows it is a rare word's by chance below this."""
NOWHERE = Q(pk__in=[])


def rows_with_words(
    model: type[Model], paths: Iterable[str], words: Sequence[Iterable[str]], most: int = MOST_ROWS
) -> list[Any] | None:
    """Keys of all rows in which each word may be found, in one of its forms; None where they are many or no index tells.

    The paths are columns of the model and of records that it refers to (`item__description`).
    """
    places: dict[str, set[str]] = {}
    for path in paths:
        place, _, column = path.rpartition("__")
        places.setdefault(place, set()).add(column)
    wanted = [[normal(form) for form in forms] for forms in words]
    if set(places) == {""}:
        return _keys_in(model, places[""], wanted, most)
    condition = Q()
    for forms in wanted:
        found = _place_of(model, places, forms, most)
        if found == NOWHERE:
            return []
        condition &= found or Q()
    return _keys(model, condition, most) if condition else None


def _place_of(model: type[Model], places: dict[str, set[str]], forms: list[str], most: int) -> Q | None:
    """The word in a column of the model or in a record that it refers to; None where too many have it."""
    found = NOWHERE
    for place, columns in places.items():
        target: Any = model._meta.get_field(place).related_model if place else model
        keys = _keys_in(target, columns, [forms], most)
        if keys is None:
            return None
        if keys:
            found |= among(place or "pk", keys)
    return found


def _keys_in(model: type[Model], columns: set[str], words: list[list[str]], most: int) -> list[Any] | None:
    index = text_index_of(model)
    condition = index.containing(words, most + 1) if index and columns <= set(index.fields) else None
    if condition is None or are_surely_more(model._base_manager.filter(condition), SURELY_MANY):
        return None
    return _keys(model, condition, most)


def are_surely_more(found: QuerySet[Any], than: int) -> bool:
    """By the statistics of PostgreSQL, which would otherwise read many rows to count a common word."""
    if connections[found.db].vendor != "postgresql":
        return False
    (plan,) = json.loads(found.order_by().values("pk").explain(format="json"))
    return bool(plan["Plan"]["Plan Rows"] > than)


def _keys(model: type[Model], condition: Q, most: int) -> list[Any] | None:
    found = model._base_manager.filter(condition).order_by().values_list("pk", flat=True)
    keys = list(found[: most + 1])
    return keys if len(keys) <= most else None
