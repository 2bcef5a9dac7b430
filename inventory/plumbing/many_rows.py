"""Many rows of one model written by columns: COPY on PostgreSQL, statements of many rows on SQLite.

Values are taken as they are: checking them, and logging them, is for the caller. A conflict is an IntegrityError.
"""

import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from itertools import chain
from typing import Any

from django.db import connection, models
from django.utils import timezone

PLAIN = frozenset({str, int, float, bool, type(None)})
"""Both databases take them as they are."""
READY = frozenset({str, type(None)})
"""Of JSON: text as it will be stored."""
STAGE = "rows_to_update"
NATIVE = frozenset({Decimal, datetime, date})
"""PostgreSQL takes these too."""
WORDS_KEPT = 5_000
MOST_VALUES = 30_000
"""Of one statement; SQLite takes 32,766."""
Columns = Mapping[str, Sequence[Any]]


class Memo(dict[Any, Any]):
    """What a function makes of a value, remembered for the values that came first."""

    def __init__(self, function: Callable[[Any], Any]) -> None:
        super().__init__()
        self.function = function

    def __missing__(self, value: Any) -> Any:
        found = self.function(value)
        if len(self) < WORDS_KEPT:
            self[value] = found
        return found


def default_of(field: "models.Field[Any, Any]") -> Any:
    value = field.get_default()
    return value.value if isinstance(value, Enum) else value


def new_keys(model: type[models.Model], count: int) -> list[int]:
    """Primary keys for rows that this transaction will insert."""
    table = model._meta.db_table
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            cursor.execute(
                "SELECT nextval(pg_get_serial_sequence(%s, 'id')) FROM generate_series(1, %s)",
                [connection.ops.quote_name(table), count],
            )
            return [key for (key,) in cursor.fetchall()]
        # A write transaction is alone on SQLite: nobody else takes the next ones.
        cursor.execute("SELECT seq FROM sqlite_sequence WHERE name = %s", [table])
        last = (cursor.fetchone() or (0,))[0]
        return list(range(last + 1, last + count + 1))


def data_fields(model: type[models.Model]) -> "list[models.Field[Any, Any]]":
    """What a record says: no key, no stamp, nothing that the database works out."""
    return [
        field
        for field in model._meta.concrete_fields
        if not field.primary_key
        and not field.generated
        and not getattr(field, "auto_now", False)
        and not getattr(field, "auto_now_add", False)
    ]


def columns_of(model: type[models.Model], records: Sequence[models.Model]) -> Columns:
    names = [field.attname for field in data_fields(model)]
    return {name: [getattr(record, name) for record in records] for name in names}


def insert_records(model: type[models.Model], records: Sequence[models.Model]) -> None:
    """New records, which get their keys."""
    if not records:
        return
    keys = new_keys(model, len(records))
    insert_columns(model, {"id": keys, **columns_of(model, records)})
    for record, key in zip(records, keys, strict=True):
        record.pk, record._state.adding = key, False


def insert_columns(model: type[models.Model], columns: Columns) -> None:
    """Rows with a value for every column named; the stamps of the model are added."""
    size = len(next(iter(columns.values())))
    given: dict[str, Sequence[Any]] = {**stamps_of(model, size, is_new=True), **columns}
    fields = [field for field in model._meta.concrete_fields if field.attname in given]
    rows = zip(*(prepared(field, given[field.attname]) for field in fields), strict=True)
    names = ", ".join(connection.ops.quote_name(field.column or "") for field in fields)
    table = connection.ops.quote_name(model._meta.db_table)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            copy_rows(cursor, table, names, rows)
        else:
            insert_together(cursor, f"INSERT INTO {table} ({names}) VALUES ", list(rows))


def insert_together(cursor: Any, insert: str, rows: Sequence[Sequence[Any]]) -> None:
    """Many rows in a statement: full-text tables write to disk what they gathered at the end of each statement."""
    marks = "(" + ", ".join(["%s"] * len(rows[0])) + ")"
    at_once = max(1, MOST_VALUES // len(rows[0]))
    for start in range(0, len(rows), at_once):
        batch = rows[start : start + at_once]
        cursor.execute(insert + ", ".join([marks] * len(batch)), list(chain.from_iterable(batch)))


def update_columns(model: type[models.Model], keys: Sequence[Any], columns: Columns) -> None:
    """Set the columns named in the rows of the keys, and when they were updated."""
    given: dict[str, Sequence[Any]] = {**columns, **stamps_of(model, len(keys), is_new=False)}
    fields = [field for field in model._meta.concrete_fields if field.attname in given]
    values = [prepared(field, given[field.attname]) for field in fields]
    names = [connection.ops.quote_name(field.column or "") for field in fields]
    table = connection.ops.quote_name(model._meta.db_table)
    listed = ", ".join(["id", *names])
    rows = zip(keys, *values, strict=True)
    with connection.cursor() as cursor:
        # The stage takes the types of the table.
        cursor.execute(f"CREATE TEMPORARY TABLE {STAGE} AS SELECT {listed} FROM {table} LIMIT 0")
        if connection.vendor == "postgresql":
            copy_rows(cursor, STAGE, listed, rows)
            changes = ", ".join(f"{name} = {STAGE}.{name}" for name in names)
            cursor.execute(f"UPDATE {table} SET {changes} FROM {STAGE} WHERE {table}.id = {STAGE}.id")
        else:
            insert_together(cursor, f"INSERT INTO {STAGE} ({listed}) VALUES ", list(rows))
            changed = ", ".join(names)
            staged = f"SELECT {changed} FROM {STAGE} WHERE {STAGE}.id = {table}.id"
            cursor.execute(f"CREATE INDEX {STAGE}_id ON {STAGE} (id)")
            cursor.execute(
                f"UPDATE {table} SET ({changed}) = ({staged}) WHERE id IN (SELECT id FROM {STAGE})"
            )
        cursor.execute(f"DROP TABLE {STAGE}")


def stamps_of(model: type[models.Model], size: int, *, is_new: bool) -> dict[str, list[Any]]:
    """Ready to be stored: one moment for all of them."""
    now = timezone.now()
    return {
        field.attname: [field.get_db_prep_save(now, connection)] * size
        for field in model._meta.concrete_fields
        if getattr(field, "auto_now", False) or (is_new and getattr(field, "auto_now_add", False))
    }


def prepared(field: "models.Field[Any, Any]", column: Sequence[Any]) -> Sequence[Any]:
    """The values as the database takes them. JSON may come as text that is ready."""
    if isinstance(field, models.JSONField):
        # One list may stand in many rows: it is made text once.
        texts = {
            id(value): json.dumps(value, cls=field.encoder) for value in column if type(value) not in READY
        }
        return [texts.get(id(value), value) for value in column]
    kinds = set(map(type, column))
    if kinds <= PLAIN or (connection.vendor == "postgresql" and kinds <= PLAIN | NATIVE):
        return column
    if kinds <= PLAIN | {Decimal}:
        # SQLite gets a decimal as its text: cheaper to make here than by an adapter for each cell.
        return [str(value) if type(value) is Decimal else value for value in column]
    known = Memo(lambda value: field.get_db_prep_save(value, connection))
    return [value if type(value) in PLAIN else known[value] for value in column]


def copy_rows(cursor: Any, table: str, names: str, rows: Iterable[Sequence[Any]]) -> None:
    with cursor.copy(f"COPY {table} ({names}) FROM STDIN") as copy:
        for row in rows:
            copy.write_row(row)
