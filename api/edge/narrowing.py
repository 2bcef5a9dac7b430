"""Filter a list by what is rare, and walk it in its order where nothing is: databases guess which, and guess wrong."""

import functools
from typing import Any

from django.db import connections
from django.db.models import DecimalField, F, Func, Model, Q, QuerySet

from inventory.models.text_index import among

MOST_KEYS = 2_000
"""Rows with more common values fill a page before many others were read."""


class Unindexed(Func):
    """A column by which SQLite does not look for rows; a decimal still compares as a number."""

    arity = 1
    template = "+%(expressions)s"

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        is_decimal = isinstance(self.output_field, DecimalField)
        template = "CAST(%(expressions)s AS NUMERIC)" if is_decimal else self.template
        return self.as_sql(compiler, connection, template=template, **extra)


def narrowed(queryset: QuerySet[Any], path: str, lookup: str, value: Any) -> QuerySet[Any]:
    """Rows whose column at a path has such a value: by their keys from the index of the column where they are few."""
    plain = queryset.filter(**{f"{path}__{lookup}": value})
    if path in queryset.query.annotations:
        return narrowed_by_expression(queryset, path, lookup, value)
    place, _, column = path.rpartition("__")
    model = target_of(queryset.model, place)
    index = index_of(model, column) if model is not None else None
    if model is None or index is None:
        return plain
    keys = keys_of(model._base_manager.filter(index, **{f"{column}__{lookup}": value}))
    field: Any = model._meta.get_field(column)
    if keys is None:
        return walked(queryset, path, field, lookup, value)
    if field.unique and "__" not in place and place:
        own = keys_of(queryset.model._base_manager.filter(among(place, keys)))
        return plain if own is None else queryset.filter(among("pk", own))
    return queryset.filter(among(place or "pk", keys)) if not field.unique else plain


def narrowed_by_expression(queryset: QuerySet[Any], name: str, lookup: str, value: Any) -> QuerySet[Any]:
    expression, model = queryset.query.annotations[name], queryset.model
    if not any(type(one) is type(expression) for index in model._meta.indexes for one in index.expressions):
        return queryset.filter(**{f"{name}__{lookup}": value})
    keys = keys_of(model._base_manager.annotate(**{name: expression}).filter(**{f"{name}__{lookup}": value}))
    if keys is None:
        return walked(queryset, name, expression.output_field, lookup, value)
    return queryset.filter(among("pk", keys))


def keys_of(rows: QuerySet[Any]) -> list[Any] | None:
    """None where they are many."""
    keys = list(rows.order_by().values_list("pk", flat=True)[: MOST_KEYS + 1])
    return keys if len(keys) <= MOST_KEYS else None


def walked(queryset: QuerySet[Any], path: str, field: Any, lookup: str, value: Any) -> QuerySet[Any]:
    """Many rows have it: PostgreSQL knows that by its statistics, SQLite would read and sort them all."""
    if connections[queryset.db].vendor != "sqlite":
        return queryset.filter(**{f"{path}__{lookup}": value})
    compare: Any = field.get_lookup(lookup)
    return queryset.filter(compare(Unindexed(F(path)), value))


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
