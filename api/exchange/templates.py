"""Templates to fill: the headings of each kind with meaning, unit, allowed words and an example, from the declaration of its record."""

import csv
import io
import json
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from django.db import models
from django.utils.translation import gettext as _
from openpyxl import Workbook
from openpyxl.styles import Alignment, Font
from openpyxl.utils import get_column_letter

from api.exchange.message_tables import MESSAGE_TABLES
from api.exchange.tables import KINDS, TABLES, FileTable
from api.wire import cells
from api.wire.declaration import Column
from api.wording.file_columns import meaning_of

EXAMPLES = Path(__file__).with_name("examples.ndjson")
UNITS = {
    "_mm": "mm",
    "_kw": "kW",
    "_rpm": "1/min",
    "_kg": "kg",
    "_percent": "%",
    "_c": "°C",
    "_minutes": "min",
    "_days": "d",
    "_hours": "h",
    "_links": "links",
}
"""By the ending of a column."""
OTHER_UNITS = {"minutes": "min", "hours": "h", "links": "links", "hours_per_year": "h", "running_hours": "h"}
MEANINGS = "Meaning"
"""The sheet that explains the others; no kind is called so."""
WIDEST = 60


@dataclass(frozen=True)
class TemplateColumn:
    name: str
    required: bool
    meaning: str
    unit: str
    form: str
    """How a cell is written."""
    example: str


def table_of(kind: str) -> FileTable:
    return TABLES.get(kind) or MESSAGE_TABLES[kind]


def template_columns(kind: str) -> tuple[TemplateColumn, ...]:
    table, example = table_of(kind), next(iter(examples_of(kind)), {})
    return tuple(
        TemplateColumn(
            column.name,
            column.required,
            meaning_of(kind, column.name),
            unit_of(column),
            form_of(table, column),
            example.get(column.name, ""),
        )
        for column in table.every_column
    )


def unit_of(column: Column) -> str:
    if column.name in OTHER_UNITS:
        return OTHER_UNITS[column.name]
    return next((unit for ending, unit in UNITS.items() if column.name.endswith(ending)), "")


def form_of(table: FileTable, column: Column) -> str:
    """In words: the vocabulary, or how a number, a date or a time is written."""
    parse: Any = column.parse
    if isinstance(parse, cells.Word | cells.Words):
        return ", ".join(str(word) for word in parse.words if word)
    if isinstance(parse, cells.Whole):
        return _("whole number")
    if isinstance(parse, cells.LengthMm):
        return _("number, or inches such as 1 15/16 in")
    if isinstance(parse, cells.Number) or column.decimal:
        return _("number")
    words = {
        cells.boolean: _("yes or no"),
        cells.day: _("date, such as 2026-11-30"),
        cells.moment: _("date and time, such as 2026-11-30T06:00:00+01:00"),
        cells.hour: _("time of day, such as 06:00"),
        cells.timezone: _("time zone"),
        cells.currency: _("three capital letters"),
    }
    found = words.get(parse) if not isinstance(parse, type) and callable(parse) and parse.__hash__ else None
    return found or (
        _("text, found among {kind}").format(kind=kind_of(column)) if column.lookup else _("text")
    )


def kind_of(column: Column) -> str:
    """The kind of file that brings what the column refers to."""
    model: type[models.Model] | None = column.lookup.model if column.lookup else None
    return next((table.kind for table in TABLES.values() if table.model is model), "")


@cache
def examples() -> dict[str, list[dict[str, str]]]:
    """By kind, the cells of some rows by column; the rest is empty."""
    found: dict[str, list[dict[str, str]]] = {}
    for line in EXAMPLES.read_text(encoding="utf-8").splitlines():
        one = json.loads(line)
        found.setdefault(one["kind"], []).append(one["row"])
    return found


def examples_of(kind: str) -> list[dict[str, str]]:
    return examples().get(kind, [])


def template_rows(kind: str) -> list[list[str]]:
    """The headings, and the example rows."""
    names = [column.name for column in table_of(kind).every_column]
    return [names, *([row.get(name, "") for name in names] for row in examples_of(kind))]


def csv_template(kind: str) -> str:
    text = io.StringIO(newline="")
    csv.writer(text).writerows(template_rows(kind))
    return text.getvalue()


def csv_meanings(kinds: Iterable[str]) -> str:
    text = io.StringIO(newline="")
    csv.writer(text).writerows((headings(), *meaning_rows(kinds)))
    return text.getvalue()


def headings() -> list[str]:
    return [
        _("File"),
        _("Column"),
        _("Must be given"),
        _("Meaning"),
        _("Unit"),
        _("How it is written"),
        _("Example"),
    ]


def meaning_rows(kinds: Iterable[str]) -> Iterator[list[str]]:
    for kind in kinds:
        for one in template_columns(kind):
            given = _("yes") if one.required else ""
            yield [kind, one.name, given, one.meaning, one.unit, one.form, one.example]


def workbook_template(kinds: Iterable[str] = KINDS) -> bytes:
    """A sheet for each kind, in the order of loading, and one that explains the columns."""
    chosen = list(kinds)
    return workbook_of(meaning_rows(chosen), {kind: template_rows(kind) for kind in chosen}, mark_example)


def mark_example(cell: Any) -> None:
    cell.font = Font(italic=True, color="666666")


def workbook_of(
    meanings: Iterable[list[str]], sheets: Mapping[str, list[list[str]]], mark: Callable[[Any], None]
) -> bytes:
    """`sheets` by title, headings first; `mark` is called with each cell below them."""
    book = Workbook()
    first = book.active
    assert first is not None
    first.title = MEANINGS
    for row in (headings(), *meanings):
        first.append(row)
    shape(first)
    for title, rows in sheets.items():
        sheet = book.create_sheet(title)
        for row in rows:
            sheet.append([cell or None for cell in row])
        for below in sheet.iter_rows(min_row=2):
            for cell in below:
                mark(cell)
        # What is typed stays as it is typed: no code loses its zeros or becomes a date.
        for number in range(1, sheet.max_column + 1):
            sheet.column_dimensions[get_column_letter(number)].number_format = "@"
        shape(sheet)
    file = io.BytesIO()
    book.save(file)
    return file.getvalue()


def shape(sheet: Any) -> None:
    sheet.freeze_panes = "A2"
    for cell in sheet[1]:
        cell.font = Font(bold=True)
    for number, column in enumerate(sheet.columns, 1):
        longest = max(len(str(cell.value or "")) for cell in column)
        sheet.column_dimensions[get_column_letter(number)].width = min(longest + 2, WIDEST)
        for cell in column:
            cell.alignment = Alignment(wrap_text=longest > WIDEST, vertical="top")
