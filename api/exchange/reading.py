"""A file to rows: its delimiter, its columns, and the limits that it must keep. Rows are read one after another, as often as needed."""

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from enum import Enum
from itertools import islice
from typing import Any, NamedTuple, TypeVar

from api.exchange.refusals import FileRefused
from api.exchange.text_files import TextFile
from api.wire.cells import COMMA_AMBIGUOUS, COMMA_DECIMAL, Cell, shown
from inventory.facts import Fact, fact

MAX_COLUMNS = 200
T = TypeVar("T")

MAX_ROWS = 1_000_000
"""The goal that the mechanism is built for: memory does not grow with the rows, so time and disk are what bounds them."""
MAX_HEADER_CHARACTERS = 20_000
MAX_CELL_CHARACTERS = 20_000
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}


class Absent(Enum):
    """Stands where a line of JSON has no such member."""

    ABSENT = "absent"


ABSENT = Absent.ABSENT


class SourceRow(NamedTuple):
    """One row as it was sent: the line it begins on, its cells in the order of the columns, or why it cannot be read."""

    line: int
    cells: Sequence[Cell | Absent]
    problem: Fact | None = None


@dataclass(frozen=True)
class SourceRows:
    """Rows that are read from the file each time somebody goes through them."""

    read: Callable[[], Iterator[SourceRow]]

    def __iter__(self) -> Iterator[SourceRow]:
        return self.read()


@dataclass(frozen=True)
class Sheet:
    columns: tuple[str, ...]
    rows: SourceRows
    notes: tuple[Fact, ...] = ()
    decimal_commas: bool = field(default=False)
    is_text: bool = False
    """Every cell is text."""
    expected_rows: int | None = None
    """About how many rows there are, before they are read."""

    def named(self, row: SourceRow) -> dict[str, Any]:
        """The cells that the row has, by column."""
        pairs = zip(self.columns, row.cells, strict=False)
        return {name: cell for name, cell in pairs if cell is not ABSENT}


def read_csv(text: TextFile, *, looked_at: int | None = None) -> Sheet:
    first, length = text.first_line()
    if length > MAX_HEADER_CHARACTERS:
        raise FileRefused(fact("header_too_long", length=length, most=MAX_COLUMNS))
    delimiter = delimiter_of(first)
    _, header = next(csv_lines(text, delimiter), (1, []))
    columns = named_columns(header)
    rows = SourceRows(lambda: csv_rows(text, delimiter, columns))
    commas = delimiter != "," and writes_decimal_commas(islice(rows, looked_at))
    return Sheet(columns, rows, text.notes, commas, is_text=True, expected_rows=text.line_count - 1)


def csv_rows(text: TextFile, delimiter: str, columns: tuple[str, ...]) -> Iterator[SourceRow]:
    lines = csv_lines(text, delimiter)
    next(lines)
    last: SourceRow | None = None
    for line, cells in within_rows(lines):
        last = csv_row(line, cells, columns)
        yield last
    refuse_incomplete(last, text)


def refuse_incomplete(last: SourceRow | None, text: TextFile) -> None:
    """A file without rows, or one whose last row is cut off."""
    if last is None:
        raise FileRefused(fact("file_without_rows"))
    if last.problem and not text.is_whole():
        raise FileRefused(fact("file_breaks_off", line=last.line))


def delimiter_of(first_line: str) -> str:
    unquoted = re.sub(r'"[^"]*"', "", first_line)
    counts = {delimiter: unquoted.count(delimiter) for delimiter in DELIMITERS}
    best = max(counts, key=lambda delimiter: counts[delimiter])
    rivals = [d for d, count in counts.items() if count and d != best]
    if rivals and counts[rivals[0]] == counts[best]:
        raise FileRefused(fact("header_has_two_delimiters"))
    if counts[best] >= MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=counts[best] + 1, most=MAX_COLUMNS))
    return best


def csv_lines(text: TextFile, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Each record with the line that it begins on; blank ones left out."""
    reader = csv.reader(text.lines(), delimiter=delimiter, strict=True)
    begins = 1
    try:
        for cells in reader:
            if any(map(str.strip, cells)):
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        raise FileRefused(fact("quotation_damaged", line=begins, problem=str(error))) from error


def named_columns(header: list[str]) -> tuple[str, ...]:
    """The column names; nameless ones, and the same one twice, are refused together."""
    names = [str(name).strip() for name in header]
    while names and not names[-1]:
        names.pop()
    problems = []
    if not names:
        problems.append(fact("file_without_columns"))
    if len(names) > MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=len(names), most=MAX_COLUMNS))
    problems += [fact("column_without_name", number=n) for n, name in enumerate(names, 1) if not name]
    problems += [
        fact("column_named_twice", column=shown(name), times=times)
        for name, times in Counter(names).items()
        if name and times > 1
    ]
    if problems:
        raise FileRefused(*problems)
    return tuple(names)


def within_rows(rows: Iterable[T], most: int | None = None) -> Iterator[T]:
    limit = MAX_ROWS if most is None else most
    for count, row in enumerate(rows, 1):
        if count > limit:
            raise FileRefused(fact("file_has_too_many_rows", most=limit))
        yield row


def csv_row(line: int, cells: list[str], columns: tuple[str, ...]) -> SourceRow:
    while len(cells) > len(columns) and not cells[-1].strip():
        cells.pop()
    if len(cells) != len(columns):
        problem = fact("row_has_other_cell_count", cells=len(cells), columns=len(columns))
        return SourceRow(line, (), problem)
    return SourceRow(line, cells, too_long(cells))


def too_long(cells: Sequence[str]) -> Fact | None:
    longest = max(map(len, cells), default=0)
    if longest <= MAX_CELL_CHARACTERS:
        return None
    return fact("row_has_long_cell", length=longest, most=MAX_CELL_CHARACTERS)


def writes_decimal_commas(rows: Iterable[SourceRow]) -> bool:
    """Whether some number of the file can only be read with a decimal comma."""
    for row in rows:
        for cell in row.cells:
            if isinstance(cell, str) and "," in cell:
                text = cell.strip()
                if COMMA_DECIMAL.fullmatch(text) and not COMMA_AMBIGUOUS.fullmatch(text):
                    return True
    return False
