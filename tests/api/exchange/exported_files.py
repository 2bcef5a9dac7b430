"""Records to a file that the import reads back as unchanged."""

from collections.abc import Iterator
from typing import Any

from django.db import models

from api.edge.csv_writing import csv_text
from api.exchange.reference_finding import reach
from api.exchange.tables import FileTable
from api.wire.declaration import Column


def exported(table: FileTable, records: models.QuerySet[Any]) -> Iterator[str]:
    """The records of a kind in its own columns, a line at a time."""
    related = {path for column in table.every_column for path in paths_of(column)}
    if table.specification:
        related.add("specification")
    chosen = records.select_related(*sorted(related)) if related else records
    header = [column.name for column in table.every_column]
    return csv_text(header, (values_of(record, table) for record in chosen.iterator(chunk_size=500)))


def paths_of(column: Column) -> Iterator[str]:
    if column.lookup and column.field:
        yield column.field
        for field in column.lookup.fields:
            path = field.rpartition("__")[0]
            if path:
                yield f"{column.field}__{path}"


def values_of(record: Any, table: FileTable) -> list[Any]:
    own = [value_of(record, column, table) for column in table.columns]
    specification = getattr(record, "specification", None) if table.specification else None
    return own + [getattr(specification, c.field) if specification else None for c in table.specification]


def value_of(record: Any, column: Column, table: FileTable) -> Any:
    if column.lookup:
        other = getattr(record, column.field)
        return None if other is None else reach(other, column.lookup.fields[-1])
    if not column.field:
        return helper_value(record, column, table)
    return getattr(record, column.field)


def helper_value(record: Any, column: Column, table: FileTable) -> Any:
    """A column that only helps to find another one's record, such as the plant of an area."""
    for other in table.columns:
        if other.lookup and column.name in other.lookup.columns and other.name != column.name:
            path = other.lookup.fields[other.lookup.columns.index(column.name)]
            return reach(getattr(record, other.field), path)
    return None
