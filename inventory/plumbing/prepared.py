"""Queries of every request whose SQL is made once: making it takes longer than the database takes to answer."""

import functools
from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

from django.db import connections
from django.db.models import Expression, Model, QuerySet
from django.db.models.query import get_related_populators

M = TypeVar("M", bound=Model)


class Place(Expression):
    """Where a value goes."""

    def __init__(self, number: int, field: Any) -> None:
        super().__init__(output_field=field)
        self.number = number

    def as_sql(self, compiler: Any, connection: Any) -> Any:
        return "%s", [self]


class Plan:
    """The SQL of a query for one database, and how a row of it becomes a record."""

    def __init__(self, rows: QuerySet[Any], alias: str) -> None:
        compiler = rows.query.get_compiler(using=alias)
        self.alias = alias
        self.sql, self.parameters = compiler.as_sql()
        chosen, known = compiler.select, compiler.klass_info
        first, last = known["select_fields"][0], known["select_fields"][-1] + 1
        self.own, self.model = slice(first, last), known["model"]
        self.names = [column.target.attname for column, *_ in chosen[self.own]]
        self.populators = get_related_populators(known, chosen, alias)  # type: ignore[call-arg]
        self.converters = compiler.get_converters([column for column, *_ in chosen])

    def first(self, values: Sequence[str | int]) -> Any:
        connection = connections[self.alias]
        given = [values[one.number] if isinstance(one, Place) else one for one in self.parameters]
        with connection.cursor() as cursor:
            cursor.execute(self.sql, given)
            found = cursor.fetchone()
        if found is None:
            return None
        row = list(found)
        for at, (converters, column) in self.converters.items():
            for convert in converters:
                row[at] = convert(row[at], column, connection)
        record = self.model.from_db(self.alias, self.names, row[self.own])
        for populator in self.populators:
            populator.populate(row, record)
        return record


class PreparedQuery(Generic[M]):
    """One record of `rows` by the columns `by`, which hold text or whole numbers and together name one."""

    def __init__(self, rows: Callable[[], QuerySet[M]], *by: str) -> None:
        self.rows, self.by = rows, by
        self.plans: dict[str, Plan] = {}

    @functools.cached_property
    def query(self) -> QuerySet[M]:
        rows = self.rows()
        field = rows.model._meta.get_field
        return rows.filter(**{name: Place(at, field(name)) for at, name in enumerate(self.by)}).order_by()

    def first(self, *values: str | int) -> M | None:
        alias = self.query.db
        if alias not in self.plans:
            self.plans[alias] = Plan(self.query, alias)
        found: M | None = self.plans[alias].first(values)
        return found
