"""From cells to values: the header against the table, every cell against its column, every reference against the records."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import islice
from typing import Any, TypeVar

from django.db import models

from api.edge.parsing import closest
from api.edge.scope import visible_to_caller
from api.exchange.reading import Sheet, SourceRow
from api.exchange.refusals import FileRefused
from api.exchange.results import Report
from api.exchange.tables import FileTable
from api.wire.cells import Cell, CellRefused, is_empty, shown, with_point
from api.wire.declaration import Column, Lookup
from inventory.facts import Fact, fact

AT_ONCE = 500
SUGGESTIONS = 50
PROBLEMS_SHOWN = 50
WORDS_KEPT = 2_000
T = TypeVar("T")


@dataclass
class ParsedRow:
    """One row as values: `cells` by column as read, `values` by field with references found."""

    line: int
    key: tuple[Any, ...]
    cells: dict[str, Any]
    values: dict[str, Any] = field(default_factory=dict)
    specification: dict[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        parts = (
            part.isoformat() if isinstance(part, datetime) else str(part)
            for part in self.key
            if part is not None
        )
        return " / ".join(parts)


def batches(things: Iterable[T], size: int = AT_ONCE) -> Iterator[list[T]]:
    rest = iter(things)
    while batch := list(islice(rest, size)):
        yield batch


def check_columns(sheet: Sheet, table: FileTable) -> None:
    """Every problem of the header in one refusal."""
    known = {column.name: column for column in table.every_column}
    problems = [
        fact("column_not_known", column=shown(name), kind=table.kind, suggestion=closest(name, known))
        for name in sheet.columns
        if name not in known
    ]
    problems += [
        fact("column_missing", column=name, kind=table.kind)
        for name, column in known.items()
        if (column.required or name in table.key) and name not in sheet.columns
    ]
    if problems:
        raise FileRefused(*problems, fact("columns_known", kind=table.kind, columns=", ".join(known)))


class CellReader:
    """Reads the cells of one column; repeated words are parsed once."""

    def __init__(self, column: Column, *, decimal_commas: bool) -> None:
        self.column = column
        self.with_point = column.decimal and decimal_commas
        self.known: dict[str, Any] = {}

    def read(self, cell: Cell) -> Any:
        if type(cell) is not str:
            return self.understand(cell)
        if cell in self.known:
            return self.known[cell]
        value = self.understand(cell)
        if len(self.known) < WORDS_KEPT:
            self.known[cell] = value
        return value

    def understand(self, cell: Cell) -> Any:
        if is_empty(cell):
            if self.column.required:
                raise CellRefused(fact("cell_empty", column=self.column.name))
            return self.column.blank
        return self.column.parse(with_point(cell) if self.with_point else cell)


def parse_rows(sheet: Sheet, table: FileTable, report: Report) -> list[ParsedRow]:
    """Rows in which every cell is valid; errors in the others are reported by cell."""
    readers = [CellReader(column, decimal_commas=sheet.decimal_commas) for column in table.every_column]
    return [row for source in sheet.rows if (row := parse_row(source, table, readers, report)) is not None]


def parse_row(
    source: SourceRow, table: FileTable, readers: list[CellReader], report: Report
) -> ParsedRow | None:
    if source.problem:
        report.reject(source.line, "", "", source.problem)
        return None
    found: dict[str, Any] = {}
    errors: list[tuple[str, Fact]] = []
    for reader in readers:
        name = reader.column.name
        if name not in source.cells:
            if reader.column.required:
                errors.append((name, fact("column_missing_in_row", column=name)))
            continue
        try:
            found[name] = reader.read(source.cells[name])
        except CellRefused as error:
            errors.append((name, error.fact))
    row = ParsedRow(source.line, tuple(found.get(name) for name in table.key), found)
    for column_name, refusal in errors:
        report.reject(row.line, row.name, column_name, refusal)
    return None if errors else row


def refuse_two_of_a_key(rows: list[ParsedRow], report: Report) -> list[ParsedRow]:
    """The rows without exact repetitions; the same key with other data stops the file."""
    first: dict[tuple[Any, ...], ParsedRow] = {}
    problems, kept = [], []
    for row in rows:
        earlier = first.setdefault(row.key, row)
        if earlier is row:
            kept.append(row)
        elif earlier.cells == row.cells:
            report.repeated(row.line, row.name, earlier.line)
        else:
            other = [name for name in row.cells if row.cells[name] != earlier.cells.get(name)]
            problems.append(
                fact(
                    "two_rows_of_one_key",
                    first_line=earlier.line,
                    line=row.line,
                    key=row.name,
                    differs=", ".join(other[:5]),
                )
            )
    if problems:
        more = len(problems) - PROBLEMS_SHOWN
        shown_problems = problems[:PROBLEMS_SHOWN] + (
            [fact("more_rows_of_one_key", count=more)] if more > 0 else []
        )
        raise FileRefused(*shown_problems)
    return kept


def find_references(rows: list[ParsedRow], table: FileTable, report: Report) -> list[ParsedRow]:
    """Fill `values`, with each reference found; rows that refer to what is not recorded are reported."""
    finders = {c.name: Finder(c, rows) for c in table.every_column if c.lookup}
    for row in rows:
        for column in table.columns:
            if column.name in row.cells and column.field:
                row.values[column.field] = value_of(row, column, finders.get(column.name), report)
        row.specification = {c.field: row.cells[c.name] for c in table.specification if c.name in row.cells}
    return [row for row in rows if not report.is_rejected(row.line)]


def value_of(row: ParsedRow, column: Column, finder: "Finder | None", report: Report) -> Any:
    given = row.cells[column.name]
    if finder is None or given is None:
        return given
    found = finder.find(row)
    if found is None:
        report.reject(row.line, row.name, column.name, finder.refusal(row))
    return found


@dataclass(frozen=True)
class InFile:
    """A reference to a record that the same file creates."""

    key: str


class Finder:
    """The records that one column of a file refers to, fetched in a few queries."""

    def __init__(self, column: Column, rows: Sequence[ParsedRow]) -> None:
        assert column.lookup is not None
        self.lookup: Lookup = column.lookup
        asked = {key for row in rows if (key := self.key_of(row)) is not None}
        self.found = dict(self.fetch(asked))
        self.in_file = {row.key[0] for row in rows} if self.lookup.in_file else set()
        self.refusals: dict[tuple[Any, ...], Fact] = {}
        self.known: list[str] | None = None

    def key_of(self, row: ParsedRow) -> tuple[Any, ...] | None:
        key = tuple(first_given(row, names) for names in self.lookup.columns)
        return None if key[-1] is None else key

    def fetch(self, asked: set[tuple[Any, ...]]) -> Iterator[tuple[tuple[Any, ...], models.Model]]:
        records = visible_to_caller(self.lookup.model._default_manager.all())
        names = self.lookup.fields
        for batch in batches(sorted({key[-1] for key in asked})):
            chosen = records.filter(**{f"{names[-1]}__in": batch})
            related = [*self.lookup.related, *(name.rpartition("__")[0] for name in names if "__" in name)]
            for record in chosen.select_related(*related) if related else chosen:
                yield tuple(reach(record, name) for name in names), record

    def find(self, row: ParsedRow) -> Any:
        key = self.key_of(row)
        assert key is not None
        found = self.found.get(key)
        return InFile(key[0]) if found is None and key[0] in self.in_file else found

    def refusal(self, row: ParsedRow) -> Fact:
        key = self.key_of(row)
        assert key is not None
        if key not in self.refusals:
            self.refusals[key] = self.missing(key)
        return self.refusals[key]

    def missing(self, key: tuple[Any, ...]) -> Fact:
        return fact(
            "record_to_refer_to_missing",
            kind=self.lookup.what,
            name=shown(key[-1]),
            place=shown(key[0]) if len(key) > 1 else None,
            suggestion=self.suggestion(key) if len(self.refusals) < SUGGESTIONS else None,
        )

    def suggestion(self, key: tuple[Any, ...]) -> str | None:
        names = self.lookup.fields
        if self.known is None or len(names) > 1:
            place = dict(zip(names[:-1], key[:-1], strict=True))
            records = visible_to_caller(self.lookup.model._default_manager.filter(**place))
            values = records.values_list(names[-1], flat=True)
            self.known = list(values[:20_000])
        return closest(key[-1], self.known)


def first_given(row: ParsedRow, names: str) -> Any:
    """The cell of the column, or of the first one filled where several are named with '|' between them."""
    return next((cell for name in names.split("|") if (cell := row.cells.get(name)) is not None), None)


def reach(record: models.Model, path: str) -> Any:
    value: Any = record
    for name in path.split("__"):
        value = getattr(value, name)
    return value
