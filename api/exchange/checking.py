"""From cells to values, column by column: the header against the table, every cell against its column.

Checked rows wait on disk, so that nothing is written before the whole file is known, and a million rows need no more memory than
a thousand.
"""

import pickle
import tempfile
from array import array
from collections.abc import Iterable, Iterator, Sequence
from contextlib import ExitStack
from dataclasses import dataclass, field
from datetime import datetime
from itertools import compress, islice
from typing import Any, Generic, Self, TypeVar

import numpy as np

from api.edge.parsing import closest
from api.exchange.progress import RowProgress
from api.exchange.reading import ABSENT, Absent, Sheet, SourceRow
from api.exchange.refusals import FileRefused
from api.exchange.results import Report
from api.exchange.tables import FileTable
from api.wire.cells import Cell, CellRefused, is_empty, shown, with_point
from api.wire.declaration import Column
from inventory.facts import Fact, fact

AT_ONCE = 2_000
"""Rows that are checked, looked up and written together."""
GATHERED = 10_000
"""Rows of units and inspections that are written together."""
MOST_IN_MEMORY = 200_000
"""Lines of orders that wait for their last one."""
PROBLEMS_SHOWN = 50
WORDS_KEPT = 5_000
Key = tuple[Any, ...]
T = TypeVar("T")


@dataclass(frozen=True)
class Chunk:
    """Some rows as columns: the lines they begin on, their keys, and the values of each column of the file."""

    lines: list[int]
    keys: list[Key]
    cells: dict[str, list[Any]]

    def __len__(self) -> int:
        return len(self.lines)

    def name(self, row: int) -> str:
        return name_of(self.keys[row])

    def where(self, kept: Sequence[bool]) -> "Chunk":
        cells = {name: list(compress(column, kept)) for name, column in self.cells.items()}
        return Chunk(list(compress(self.lines, kept)), list(compress(self.keys, kept)), cells)


def name_of(key: Key) -> str:
    parts = (
        part.isoformat() if isinstance(part, datetime) else str(part) for part in key if part is not None
    )
    return " / ".join(parts)


@dataclass
class ParsedRow:
    """One row as values: `cells` by column as read, `values` by field with references found."""

    line: int
    key: Key
    cells: dict[str, Any]
    values: dict[str, Any] = field(default_factory=dict)

    @property
    def name(self) -> str:
        return name_of(self.key)


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
        if (column.required or name in table.key) and name not in sheet.columns and name not in table.may_lack
    ]
    if problems:
        raise FileRefused(*problems, fact("columns_known", kind=table.kind, columns=", ".join(known)))


class CellReader(dict[str, Any]):
    """The values of one column by cell; repeated words are parsed once. The value of a cell that is refused is the fact."""

    def __init__(self, column: Column, *, decimal_commas: bool) -> None:
        super().__init__()
        self.column = column
        self.with_point = column.decimal and decimal_commas
        self.has_refused = False

    def __missing__(self, cell: str) -> Any:
        value = self.understand(cell)
        if len(self) < WORDS_KEPT:
            self[cell] = value
        return value

    def read(self, cells: Sequence[Cell | Absent], *, is_text: bool) -> list[Any]:
        if is_text:
            return list(map(self.__getitem__, cells))  # type: ignore[arg-type]
        return [self[cell] if type(cell) is str else self.understand(cell) for cell in cells]

    def understand(self, cell: Cell | Absent) -> Any:
        try:
            return self.value_of(cell)
        except CellRefused as error:
            self.has_refused = True
            return error.fact

    def value_of(self, cell: Cell | Absent) -> Any:
        if isinstance(cell, Absent):
            if self.column.required:
                raise CellRefused(fact("column_missing_in_row", column=self.column.name))
            return ABSENT
        if is_empty(cell):
            if self.column.required:
                raise CellRefused(fact("cell_empty", column=self.column.name))
            return self.column.blank
        return self.column.parse(with_point(cell) if self.with_point else cell)


class Checker:
    """Reads the rows of a sheet as values; rows with a cell that is refused are reported and left out."""

    def __init__(self, sheet: Sheet, table: FileTable, report: Report) -> None:
        self.sheet, self.table, self.report = sheet, table, report
        self.readers = {
            column.name: CellReader(column, decimal_commas=sheet.decimal_commas)
            for column in table.every_column
            if column.name in sheet.columns
        }

    def chunks(self, progress: RowProgress | None = None) -> Iterator[Chunk]:
        progress = progress or RowProgress()
        for rows in batches(self.sheet.rows):
            yield self.checked(rows)
            progress.read += len(rows)
        progress.rows = progress.read

    def checked(self, rows: list[SourceRow]) -> Chunk:
        for row in rows:
            if row.problem:
                self.report.reject(row.line, "", "", row.problem)
        sound = [row for row in rows if row.problem is None]
        by_column = dict(
            zip(self.sheet.columns, zip(*(row.cells for row in sound), strict=True), strict=False)
        )
        is_text = self.sheet.is_text
        cells = {
            name: reader.read(by_column.get(name, ()), is_text=is_text)
            for name, reader in self.readers.items()
        }
        chunk = Chunk([row.line for row in sound], self.keys_of(cells, len(sound)), cells)
        return self.without_refused(chunk)

    def keys_of(self, cells: dict[str, list[Any]], size: int) -> list[Key]:
        none = [None] * size
        columns = [cells.get(name, none) for name in self.table.key]
        if self.sheet.is_text and not any(self.readers[n].has_refused for n in self.table.key if n in cells):
            return list(zip(*columns, strict=True))
        given = ([None if isinstance(v, Fact | Absent) else v for v in column] for column in columns)
        return list(zip(*given, strict=True))

    def without_refused(self, chunk: Chunk) -> Chunk:
        suspects = [name for name, reader in self.readers.items() if reader.has_refused]
        refused: dict[int, list[tuple[str, Fact]]] = {}
        for name in suspects:
            for row, value in enumerate(chunk.cells[name]):
                if type(value) is Fact:
                    refused.setdefault(row, []).append((name, value))
        for row, errors in sorted(refused.items()):
            for name, error in errors:
                self.report.reject(chunk.lines[row], chunk.name(row), name, error)
        return chunk.where([row not in refused for row in range(len(chunk))]) if refused else chunk


class OnDisk(Generic[T]):
    """A list that waits on disk."""

    def __init__(self) -> None:
        self.file = tempfile.TemporaryFile()  # noqa: SIM115 - closed where the list is left

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.file.close()

    def add(self, thing: T) -> None:
        pickle.dump(thing, self.file, pickle.HIGHEST_PROTOCOL)

    def __iter__(self) -> Iterator[T]:
        self.file.seek(0)
        while True:
            try:
                yield pickle.load(self.file)
            except EOFError:
                return


class Spool(OnDisk[Chunk]):
    """Checked rows on disk, and a number for each key in memory, which finds rows of the same key."""

    def __init__(self) -> None:
        super().__init__()
        self.numbers = array("q")
        self.count = 0

    def add(self, chunk: Chunk) -> None:
        self.numbers.extend(map(hash, chunk.keys))
        self.count += len(chunk)
        super().add(chunk)

    def repeated(self) -> frozenset[int]:
        """The numbers of keys that more than one row may have."""
        found = np.frombuffer(self.numbers, dtype=np.int64) if self.numbers else np.empty(0, np.int64)
        found.sort()  # Where they lie: a copy of a million takes 8 MB.
        return frozenset(found[1:][found[1:] == found[:-1]].tolist())


def joined(chunks: Sequence[Chunk]) -> Chunk:
    cells = {name: [cell for one in chunks for cell in one.cells[name]] for name in chunks[0].cells}
    return Chunk([n for one in chunks for n in one.lines], [key for one in chunks for key in one.keys], cells)


def gathered(chunks: Iterable[Chunk], count: int) -> Iterator[Chunk]:
    """The rows again, a part of the file at a time: those of one position (the first column of the key) in one part."""
    size = -(-count // GATHERED)
    with ExitStack() as stack:
        parts: list[OnDisk[Chunk]] = [stack.enter_context(OnDisk()) for _ in range(size)]
        for chunk in chunks:
            part_of = [hash(key[0]) % size for key in chunk.keys]
            for number in set(part_of):
                parts[number].add(chunk.where([part == number for part in part_of]))
        for part in parts:
            if pieces := list(part):
                yield joined(pieces)


@dataclass(frozen=True)
class SeenRow:
    line: int
    cells: tuple[Any, ...]


def refuse_two_of_a_key(spool: Spool, report: Report) -> frozenset[int]:
    """The lines that repeat an earlier row exactly; the same key with other data stops the file."""
    numbers = spool.repeated()
    if not numbers:
        return frozenset()
    first: dict[Key, SeenRow] = {}
    repeats: set[int] = set()
    problems: list[Fact] = []
    count = 0
    for chunk in spool:
        for row in [row for row, key in enumerate(chunk.keys) if hash(key) in numbers]:
            row_seen = SeenRow(chunk.lines[row], tuple(column[row] for column in chunk.cells.values()))
            earlier = first.setdefault(chunk.keys[row], row_seen)
            if earlier is row_seen:
                continue
            if earlier.cells == row_seen.cells:
                report.repeated(row_seen.line, chunk.name(row), earlier.line)
                repeats.add(row_seen.line)
                continue
            count += 1
            if count <= PROBLEMS_SHOWN:
                problems.append(two_rows(chunk.name(row), earlier, row_seen, list(chunk.cells)))
    if problems:
        more = count - PROBLEMS_SHOWN
        raise FileRefused(*problems, *([fact("more_rows_of_one_key", count=more)] if more > 0 else []))
    return frozenset(repeats)


def two_rows(key: str, first: SeenRow, other: SeenRow, columns: list[str]) -> Fact:
    pairs = zip(columns, first.cells, other.cells, strict=True)
    differs = [name for name, one, two in pairs if one != two and two is not ABSENT]
    return fact(
        "two_rows_of_one_key",
        first_line=first.line,
        line=other.line,
        key=key,
        differs=", ".join(differs[:5]),
    )


def without_lines(chunk: Chunk, lines: frozenset[int]) -> Chunk:
    return chunk.where([line not in lines for line in chunk.lines]) if lines else chunk
