"""Filter a list by what is rare, and walk it in its order where nothing is: databases guess which, and guess wrong."""

import functools
from dataclasses import dataclass, field, replace
from typing import Any

from django.db import connections
from django.db.models import DecimalField, F, Func, Model, Q, QuerySet

from inventory.models.text_index import among
from inventory.plumbing.text_search import are_surely_more

MOST_KEYS = 2_000
"""Rows with more common values fill a page before many others were read."""
SURELY_MORE = 3_000
"""By an estimate of the rows that refer to known ones, which is a good one."""


class Unindexed(Func):
    """A column by which SQLite does not look for rows; a decimal still compares as a number."""

    arity = 1
    template = "+%(expressions)s"

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        is_decimal = isinstance(self.output_field, DecimalField)
        template = "CAST(%(expressions)s AS NUMERIC)" if is_decimal else self.template
        return self.as_sql(compiler, connection, template=template, **extra)


@dataclass(frozen=True)
class Chosen:
    """What the filters leave of a list, and how it is found."""

    rows: QuerySet[Any]
    whole: QuerySet[Any]
    """What is walked for it: the list itself, or what the index of a reference leaves of it."""
    has_keys: bool = False
    """Some filter has named the rows, and they are few."""
    has_many: bool = False
    """Some filter leaves too many rows to name, or has no index that names them."""
    is_led: bool = False
    """What is walked is what the index of a reference leaves."""
    condition: Q | None = field(default_factory=Q)
    """What the filters ask of a row of the list, but those that named keys; None where no one expression says it."""

    @property
    def is_walked(self) -> bool:
        return self.has_many and not self.has_keys

    @property
    def shown(self) -> QuerySet[Any]:
        """Of which a page is read by its keys: of the list, unless filters bring values of their own."""
        brings_values = self.rows.query.annotations.keys() - self.whole.query.annotations.keys()
        return self.rows if brings_values else self.whole

    def annotated(self, **values: Any) -> "Chosen":
        return replace(self, rows=self.rows.annotate(**values), whole=self.whole.annotate(**values))

    def with_keys(self, keys: list[Any]) -> "Chosen":
        return replace(self, rows=self.rows.filter(among("pk", keys)), has_keys=True)

    def by_reference(self, condition: Q) -> "Chosen":
        return replace(
            self, rows=self.rows.filter(condition), whole=self.whole.filter(condition), is_led=True
        )

    def among_many(self, condition: Q) -> "Chosen":
        known = None if self.condition is None else self.condition & condition
        return replace(self, rows=self.rows.filter(condition), condition=known, has_many=True)

    def among_rows(self, rows: QuerySet[Any]) -> "Chosen":
        return replace(self, rows=rows, condition=None, has_many=True)


def narrowed(chosen: Chosen, path: str, lookup: str, value: Any) -> Chosen:
    """Rows whose column at a path has such a value: by their keys from the index of the column where they are few."""
    rows = chosen.rows
    if value is False:
        # Django asks for it by NOT, which no index of SQLite answers.
        lookup, value = "in", [value]
    if path in rows.query.annotations:
        return narrowed_by_expression(chosen, path, lookup, value)
    place, _, column = path.rpartition("__")
    model = target_of(rows.model, place)
    index = index_of(model, column) if model is not None else None
    if model is None or index is None:
        return chosen.among_many(Q(**{f"{path}__{lookup}": value}))
    found: Any = model._meta.get_field(column)
    keys = keys_of(model._base_manager.filter(index, **{f"{column}__{lookup}": value}))
    if keys is None:
        return chosen.among_many(walked(rows, path, found, lookup, value))
    own: list[Any] | None = keys
    if place and keys:
        referring = rows.model._base_manager.filter(among(place, keys))
        own = None if are_surely_more(referring, SURELY_MORE) else keys_of(referring)
    if own is not None:
        return chosen.with_keys(own)
    if "__" in place or not found.unique:
        return chosen.among_many(walked(rows, path, found, lookup, value))
    return chosen.by_reference(Q(**{f"{path}__{lookup}": value}))


def narrowed_by_expression(chosen: Chosen, name: str, lookup: str, value: Any) -> Chosen:
    rows = chosen.rows
    expression, model = rows.query.annotations[name], rows.model
    if not any(type(one) is type(expression) for index in model._meta.indexes for one in index.expressions):
        return chosen.among_many(Q(**{f"{name}__{lookup}": value}))
    keys = keys_of(model._base_manager.annotate(**{name: expression}).filter(**{f"{name}__{lookup}": value}))
    if keys is None:
        return chosen.among_many(walked(rows, name, expression.output_field, lookup, value))
    return chosen.with_keys(keys)


def keys_of(rows: QuerySet[Any]) -> list[Any] | None:
    """None where they are many."""
    keys = list(rows.order_by().values_list("pk", flat=True)[: MOST_KEYS + 1])
    return keys if len(keys) <= MOST_KEYS else None


def walked(rows: QuerySet[Any], path: str, field: Any, lookup: str, value: Any) -> Q:
    """Many rows have it: PostgreSQL knows that by its statistics, SQLite would read and sort them all."""
    if connections[rows.db].vendor != "sqlite":
        return Q(**{f"{path}__{lookup}": value})
    compare: Any = field.get_lookup(lookup)
    return Q(compare(Unindexed(F(path)), value))


def target_of(model: Any, place: str) -> type[Model] | None:
    """The record at the end of a path of references that a row has at most one of."""
    for name in place.split("__") if place else ():
        field = next((one for one in model._meta.concrete_fields if one.name == name), None)
        if field is None or field.related_model is None:
            return None
        model = field.related_model
    return model  # type: ignore[no-any-return]


@functools.cache
def index_of(model: Any, column: str) -> Q | None:
    """What the index that this column leads leaves out, as a condition; None where there is no such index."""
    if any(field.name == column and field.unique for field in model._meta.concrete_fields):
        return Q()
    known = {Q(**{f"{column}__isnull": False}), Q(**{f"{column}__gt": ""})}
    for index in model._meta.indexes:
        if index.fields and index.fields[0] == column and index.condition in (None, *known):
            return index.condition or Q()
    return None
