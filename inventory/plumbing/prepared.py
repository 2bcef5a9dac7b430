"""Statements of every request whose SQL is made once: making it takes longer than the database takes to answer.

PostgreSQL keeps them parsed and planned for a connection that has sent them five times (`prepare_threshold`).
"""

import functools
from collections.abc import Callable, Sequence
from typing import Any, Generic, TypeVar

import psycopg
from django.db import connections, router
from django.db.models import Expression, Model, QuerySet
from django.db.models.query import get_related_populators

M = TypeVar("M", bound=Model)


def preparing_cursor(alias: str) -> Any:
    """A cursor that sends values beside the statement; Django's writes them into it, so that none is ever sent again."""
    connection: Any = connections[alias]
    if connection.vendor != "postgresql":
        return connection.cursor()
    # What `connection.cursor()` does, with another class of cursor.
    connection.close_if_health_check_failed()
    connection.ensure_connection()
    with connection.wrap_database_errors:
        return connection._prepare_cursor(psycopg.Cursor(connection.connection))


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
        self.annotated = dict(compiler.annotation_col_map or {})
        self.populators = get_related_populators(known, chosen, alias)  # type: ignore[call-arg]
        self.converters = compiler.get_converters([column for column, *_ in chosen])

    def first(self, values: Sequence[str | int]) -> Any:
        given = [values[one.number] if isinstance(one, Place) else one for one in self.parameters]
        with preparing_cursor(self.alias) as cursor:
            cursor.execute(self.sql, given)
            found = cursor.fetchone()
        if found is None:
            return None
        row = list(found)
        for at, (converters, column) in self.converters.items():
            for convert in converters:
                row[at] = convert(row[at], column, connections[self.alias])
        record = self.model.from_db(self.alias, self.names, row[self.own])
        for populator in self.populators:
            populator.populate(row, record)
        for name, at in self.annotated.items():
            setattr(record, name, row[at])
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
            # A copy: making the SQL changes a query, and two threads may do so at once.
            self.plans[alias] = Plan(self.query.all(), alias)
        found: M | None = self.plans[alias].first(values)
        return found


class PreparedInsert:
    """Writes one record at a time; `computed` are SQL expressions for columns that the database works out.

    With `unique`, a record that meets another in these columns is not written.
    """

    def __init__(self, model: type[Model], *, unique: str = "", **computed: str) -> None:
        self.model, own = model, model._meta.concrete_fields
        self.given = [field for field in own if not field.primary_key and field.name not in computed]
        names = [f'"{field.column}"' for field in self.given] + list(computed)
        marks = ["%s"] * len(self.given) + list(computed.values())
        conflict = f"ON CONFLICT ({unique}) DO NOTHING" if unique else ""
        returned = ", ".join([str(model._meta.pk.column), *computed])
        self.sql = (
            f'INSERT INTO "{model._meta.db_table}" ({", ".join(names)}) VALUES ({", ".join(marks)}) '
            f"{conflict} RETURNING {returned}"
        )
        self.computed = list(computed)

    def write(self, record: Model, *more: str | int) -> bool:
        """Whether it was written; `more` are the values of the computed columns."""
        alias = router.db_for_write(self.model)
        connection = connections[alias]
        record._prepare_related_fields_for_save(operation_name="save")  # type: ignore[attr-defined]
        values = [field.get_db_prep_save(field.pre_save(record, True), connection) for field in self.given]
        with preparing_cursor(alias) as cursor:
            cursor.execute(self.sql, [*values, *more])
            found = cursor.fetchone()
        if found is None:
            return False
        record.pk, *computed = found
        for name, value in zip(self.computed, computed, strict=True):
            setattr(record, name, value)
        record._state.adding, record._state.db = False, alias
        return True
