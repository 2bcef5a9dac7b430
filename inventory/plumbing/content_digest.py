"""One digest over everything that some tables hold: equal digests, equal rows, whoever wrote them and however."""

import hashlib
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from django.db import connection, models
from django.db.models import Count, DateTimeField, Q

ROWS_AT_ONCE = 5_000

Record = type[models.Model]


def content_digest(records: Iterable[Record], *, at: datetime) -> str:
    """Of every column of every row, and of how many moments lie after `at`: what was still to come may have come since.

    The database puts each row into one text, so that no row becomes an object; two queries for each table.
    """
    found = hashlib.sha256()
    for record in sorted(records, key=lambda one: one._meta.label):
        found.update(f"{record._meta.label} {_to_come(record, at)}".encode())
        for text in _texts(record):
            found.update(text.encode())
    return found.hexdigest()


def _to_come(record: Record, at: datetime) -> str:
    moments = [column.name for column in record._meta.concrete_fields if _may_lie_ahead(column)]
    if not moments:
        return ""
    later = {f"{name}_to_come": Count("pk", filter=Q(**{f"{name}__gt": at})) for name in moments}
    return str(sorted(record._base_manager.aggregate(**later).items()))


def _may_lie_ahead(column: "models.Field[Any, Any]") -> bool:
    """When a row was written is never still to come."""
    return isinstance(column, DateTimeField) and not (column.auto_now or column.auto_now_add)


def _texts(record: Record) -> Iterator[str]:
    quote = connection.ops.quote_name
    columns = [quote(str(column.column)) for column in record._meta.concrete_fields]
    table, key = quote(record._meta.db_table), quote(str(record._meta.pk.column))
    if connection.vendor == "sqlite":
        row = "||','||".join(f"quote({column})" for column in columns)
        sql = f"SELECT {row} FROM {table} ORDER BY {key}"
    else:
        # The sum of the hashes needs no order, and no row leaves the database.
        row = f"hashtextextended(ROW({', '.join(columns)})::text, 0)"
        sql = f"SELECT count(*) || ' ' || coalesce(sum({row}), 0) FROM {table}"
    with connection.cursor() as cursor:
        cursor.execute(sql)
        while rows := cursor.fetchmany(ROWS_AT_ONCE):
            yield "\n".join(row[0] for row in rows)
