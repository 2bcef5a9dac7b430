"""Rows of any model written by columns: COPY on PostgreSQL, one prepared statement on SQLite."""

from collections.abc import Iterable, Iterator, Mapping
from itertools import islice, repeat
from typing import Any

import numpy as np
from django.db import connection, models

CHUNK = 20_000
START = np.datetime64("2016-01-01T00:00:00")
STAMPS = ("created_at", "updated_at", "recorded_at")


def write_rows(model: type[models.Model], columns: Mapping[str, Any]) -> int:
    """Rows with ids from 1 on; a column that is not given has the default of its field. Gives how many there are.

    A value is one for all rows or a sequence of them; the shortest sequence may not end before the others.
    """
    fields = [field for field in model._meta.concrete_fields if field.name != "id"]
    count = max(len(value) for value in columns.values() if _is_sequence(value))
    unknown = set(columns) - {field.attname for field in fields} - {"id"}
    if unknown:
        raise ValueError(f"{model.__name__} has no column {', '.join(sorted(unknown))}.")
    names = ["id", *(field.column for field in fields)]
    parts = [range(1, count + 1), *(_column(field, columns) for field in fields)]
    rows = zip(*parts, strict=False)
    table = connection.ops.quote_name(model._meta.db_table)
    quoted = ", ".join(connection.ops.quote_name(name) for name in names)
    with connection.cursor() as cursor:
        if connection.vendor == "postgresql":
            with cursor.cursor.copy(f"COPY {table} ({quoted}) FROM STDIN") as copy:
                for row in rows:
                    copy.write_row(row)
            cursor.execute(
                f"SELECT setval(pg_get_serial_sequence(%s, 'id'), {count})", [model._meta.db_table]
            )
        else:
            marks = ", ".join("?" * len(names))
            statement = f"INSERT INTO {table} ({quoted}) VALUES ({marks})"
            for chunk in _chunks(rows):
                cursor.cursor.connection.executemany(statement, chunk)
    return count


def moments(days: np.ndarray) -> np.ndarray:
    """Days after the start of the record as texts that both databases read as UTC."""
    seconds = START + (days * 86_400).astype("timedelta64[s]")
    return np.char.replace(np.datetime_as_string(seconds, unit="s"), "T", " ")


def _is_sequence(value: Any) -> bool:
    return isinstance(value, (list, tuple, range, np.ndarray))


def _column(field: Any, columns: Mapping[str, Any]) -> Iterable[Any]:
    value = columns.get(field.attname, _default(field))
    if isinstance(value, np.ndarray):
        return value.tolist()
    return value if _is_sequence(value) else repeat(value)


def _default(field: Any) -> Any:
    if field.name in STAMPS:
        return str(START).replace("T", " ")
    if isinstance(field, models.JSONField):
        return "{}" if field.get_default() == {} else "[]"
    if field.has_default():
        value = field.get_default()
        return value.value if hasattr(value, "value") else value
    return None if field.null else ""


def _chunks(rows: Iterator[Any]) -> Iterator[list[Any]]:
    while chunk := list(islice(rows, CHUNK)):
        yield chunk
