"""Records to a file that the import reads back as unchanged, and that no spreadsheet takes for a formula."""

import csv
import re
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.db import models

from api.edge.lengths import PLAUSIBLE
from api.exchange.cells import NEUTRALISED
from api.exchange.checking import reach
from api.exchange.columns import Column
from api.exchange.tables import Table

LOOKS_LIKE_FORMULA = re.compile(r"[=+\-@\t\r＝＋－＠]")


class Line:
    """What the csv module writes to, handing back each line instead of keeping it."""

    def write(self, text: str) -> str:
        return text


def neutralised(text: str) -> str:
    """Text that a spreadsheet shows as it is; the apostrophe in front is taken off again by the import.

    >>> neutralised("=1+1"), neutralised("A-01")
    ("'=1+1", 'A-01')
    """
    return f"'{text}" if LOOKS_LIKE_FORMULA.match(text) or NEUTRALISED.match(text) else text


def cell(value: Any, name: str = "") -> str:
    """A value as text; numbers stay numbers, a length that would raise a question says its unit."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        plain = f"{value:f}".rstrip("0").rstrip(".") if "." in f"{value:f}" else f"{value:f}"
        doubtful = name in PLAUSIBLE and PLAUSIBLE[name].question(value)
        return f"{plain} mm" if doubtful else plain
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat("minutes" if not value.second else "auto")
    if isinstance(value, list | tuple):
        return ";".join(neutralised(str(part)) for part in value)
    return str(value) if isinstance(value, int | float) else neutralised(str(value))


def csv_text(header: list[str], rows: Iterator[list[Any]]) -> Iterator[str]:
    """Lines of CSV, one at a time."""
    writer: Any = csv.writer(Line(), lineterminator="\r\n")
    yield writer.writerow(header)
    for row in rows:
        yield writer.writerow([cell(value, name) for name, value in zip(header, row, strict=True)])


def exported(table: Table, records: models.QuerySet[Any]) -> Iterator[str]:
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


def values_of(record: Any, table: Table) -> list[Any]:
    own = [value_of(record, column, table) for column in table.columns]
    specification = getattr(record, "specification", None) if table.specification else None
    return own + [getattr(specification, c.field) if specification else None for c in table.specification]


def value_of(record: Any, column: Column, table: Table) -> Any:
    if column.lookup:
        other = getattr(record, column.field)
        return None if other is None else reach(other, column.lookup.fields[-1])
    if not column.field:
        return helper_value(record, column, table)
    return getattr(record, column.field)


def helper_value(record: Any, column: Column, table: Table) -> Any:
    """A column that only helps to find another one's record, such as the plant of an area."""
    for other in table.columns:
        if other.lookup and column.name in other.lookup.columns and other.name != column.name:
            path = other.lookup.fields[other.lookup.columns.index(column.name)]
            return reach(getattr(record, other.field), path)
    return None
