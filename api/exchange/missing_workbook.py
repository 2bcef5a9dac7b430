"""The cells that places wait for, as a workbook to fill and to import: a sheet for each kind, a row for each record.

Its cells that stay empty, or say that something is recorded, change nothing: whoever fills half of it blanks nothing.
"""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from pathlib import PurePath
from typing import Any

from django.db import models
from openpyxl.styles import Font, PatternFill

from api.edge.csv_writing import neutralised
from api.exchange.mapping.untidy import RawTable
from api.exchange.mapping.vocabulary import is_blank
from api.exchange.reading import ABSENT, Absent, Sheet, SourceRow, SourceRows
from api.exchange.tables import TABLES
from api.exchange.templates import meaning_rows, workbook_of
from api.wire.cells import Cell, is_empty
from api.wire.declaration import Column
from drives.substitutes.missing_cells import DRIVES, POSITIONS, UnjudgedPlace

ENDING = " missing"
"""Of the name of a sheet: it is known by it when it comes back."""
RECORDED = "✓"
"""In a cell that this record does not lack. No reader takes it for a value, should the name of the sheet be lost."""
TO_FILL = PatternFill("solid", fgColor="FFF2CC")
Lacking = Mapping[str, set[str]]
"""By key of a record, in the order of the rows, the columns that it lacks."""


def is_of_missing(sheet: str, file: str) -> bool:
    """A sheet that is sent back, or was saved as a file of its own."""
    return (sheet or PurePath(file).stem).strip().endswith(ENDING)


def missing_workbook(places: Iterable[UnjudgedPlace]) -> bytes:
    by_kind: dict[str, dict[str, set[str]]] = {DRIVES: {}, POSITIONS: {}}
    for place in places:
        for cell in place.missing:
            key = place.drive if cell.kind == DRIVES else place.tag
            by_kind[cell.kind].setdefault(key, set()).add(cell.column)
    sheets = {f"{kind}{ENDING}": rows_to_fill(kind, found) for kind, found in by_kind.items() if found}
    used = {(title.removesuffix(ENDING), name) for title, rows in sheets.items() for name in rows[0]}
    meanings = [row for row in meaning_rows(by_kind) if (row[0], row[1]) in used]
    return workbook_of(meanings, sheets, mark)


def rows_to_fill(kind: str, lacking: Lacking) -> list[list[str]]:
    """In the columns of the template: what every row must have, the name, and what some record lacks."""
    table, wanted = TABLES[kind], set[str]().union(*lacking.values())
    columns = [c for c in table.every_column if c.required or c.name in {*table.key, "name", *wanted}]
    (key,) = table.key
    records = table.model._default_manager.select_related(
        *(c.field for c in columns if c.lookup and c.required)
    ).in_bulk(list(lacking), field_name=key)
    return [
        [column.name for column in columns],
        *(
            [
                "" if c.name in lacks else RECORDED if c.name in wanted else recorded(records[one], c)
                for c in columns
            ]
            for one, lacks in lacking.items()
        ),
    ]


def recorded(record: models.Model, column: Column) -> str:
    value: Any = getattr(record, column.field)
    if column.lookup and value is not None:
        value = getattr(value, column.lookup.fields[-1])
    return "" if value is None else neutralised(str(value))


def mark(cell: Any) -> None:
    """What is to be filled is yellow, what is known is grey."""
    if cell.value is None:
        cell.fill = TO_FILL
    elif cell.value == RECORDED:
        cell.font = Font(color="999999")


def says_nothing(cell: Cell | Absent) -> bool:
    return (
        isinstance(cell, Absent)
        or is_empty(cell)
        or (isinstance(cell, str) and (cell == RECORDED or is_blank(cell)))
    )


def leaving_the_rest(sheet: Sheet) -> Sheet:
    """Cells that say nothing leave what is recorded, as the members do that a line of JSON has not."""

    def rows() -> Iterable[SourceRow]:
        for row in sheet.rows:
            yield row._replace(cells=[ABSENT if says_nothing(cell) else cell for cell in row.cells])

    return replace(sheet, rows=SourceRows(lambda: iter(rows())), is_text=False)


def without_marks(table: RawTable) -> RawTable:
    """As the mapping reads it."""
    return replace(
        table,
        rows=tuple(
            replace(row, cells=tuple(None if cell == RECORDED else cell for cell in row.cells))
            for row in table.rows
        ),
    )
