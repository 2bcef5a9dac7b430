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
    return _row_texts(record._base_manager.all(), [one.attname for one in record._meta.concrete_fields])


def digest_of_rows(rows: "models.QuerySet[Any]", columns: Iterable[str]) -> str:
    """Of these columns of these rows; one query."""
    found = hashlib.sha256()
    for text in _row_texts(rows, columns):
        found.update(text.encode())
    return found.hexdigest()


class _RowText(models.Func):
    """A row as one text; on PostgreSQL a hash of it, as the sum of the hashes needs no order and no row leaves the database."""

    template, output_field = "(%(expressions)s)", models.TextField()

    def as_sqlite(self, compiler: Any, connection: Any, **more: Any) -> Any:
        quoted = self.copy()
        quoted.set_source_expressions(
            [models.Func(one, function="quote") for one in self.get_source_expressions()]
        )
        return quoted.as_sql(compiler, connection, arg_joiner="||','||", **more)

    def as_postgresql(self, compiler: Any, connection: Any, **more: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="hashtextextended(ROW(%(expressions)s)::text, 0)", **more
        )


def _row_texts(rows: "models.QuerySet[Any]", columns: Iterable[str]) -> Iterator[str]:
    text = _RowText(*columns)
    if connection.vendor == "sqlite":
        found = rows.order_by("pk").values_list(text).iterator(ROWS_AT_ONCE)
        yield from (f"{row}\n" for (row,) in found)
    else:
        yield str(
            sorted(
                rows.order_by()
                .aggregate(rows=Count("pk"), sum=models.Sum(text, output_field=models.DecimalField()))
                .items()
            )
        )
