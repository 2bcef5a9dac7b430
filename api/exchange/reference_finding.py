"""References of a file: what each row refers to, found in one query for each column of a chunk."""

from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from itertools import repeat
from typing import Any

from django.db import models
from django.db.models import F
from django.db.models.functions import Coalesce

from api.edge.parsing import closest
from api.edge.scope import visible_to_caller
from api.exchange.checking import Chunk, Key, ParsedRow
from api.exchange.reading import ABSENT
from api.exchange.results import Report
from api.exchange.tables import FileTable
from api.wire.cells import shown
from api.wire.declaration import Column, Lookup
from inventory.facts import Fact, fact
from inventory.models import Item

SUGGESTIONS = 50
NAMES_COMPARED = 20_000
Columns = dict[str, list[Any]]


@dataclass(frozen=True)
class InFile:
    """A reference to a record that the same file creates."""

    key: str


class ReferenceFinder:
    """Finds what the columns of a table refer to; keys of records or, with `records`, the records themselves."""

    def __init__(
        self, table: FileTable, report: Report, *, records: bool, in_file: Collection[str] = ()
    ) -> None:
        self.table, self.report = table, report
        self.finders = {
            column.name: Finder(column.lookup, records=records, in_file=in_file)
            for column in table.columns
            if column.lookup
        }

    def resolved(self, chunk: Chunk) -> tuple[Chunk, Columns]:
        """The rows that refer to nothing missing, and their values by field; the others are reported."""
        values: Columns = {}
        missing: set[int] = set()
        for column in self.table.columns:
            if column.name in chunk.cells and column.field:
                values[column.field] = self.column(chunk, column, missing)
        if not missing:
            return chunk, values
        kept = [row not in missing for row in range(len(chunk))]
        return chunk.where(kept), {
            name: [v for v, k in zip(column, kept, strict=True) if k] for name, column in values.items()
        }

    def column(self, chunk: Chunk, column: Column, missing: set[int]) -> list[Any]:
        cells = chunk.cells[column.name]
        finder = self.finders.get(column.name)
        if finder is None:
            return cells
        keys = finder.keys(chunk)
        found = finder.find(keys)
        values = []
        for row, (key, cell) in enumerate(zip(keys, cells, strict=True)):
            value = cell if cell is None or cell is ABSENT else found.get(key)
            if value is None and cell is not None:
                missing.add(row)
                self.report.reject(chunk.lines[row], chunk.name(row), column.name, finder.refusal(key))
            values.append(value)
        return values


class Finder:
    """The records that one column of a file refers to."""

    def __init__(self, lookup: Lookup, *, records: bool, in_file: Collection[str]) -> None:
        self.lookup, self.records = lookup, records
        self.in_file = in_file if lookup.in_file else ()
        self.refusals: dict[Key, Fact] = {}
        self.known: list[str] | None = None

    def keys(self, chunk: Chunk) -> list[Key]:
        """What names the record of each row; its last part is None where the row refers to none."""
        return list(zip(*(first_given(chunk, names) for names in self.lookup.columns), strict=True))

    def find(self, keys: Sequence[Key]) -> dict[Key, Any]:
        asked = {key for key in keys if key[-1] is not None}
        found = dict(self.fetch(asked))
        if self.in_file:
            found |= {key: InFile(key[0]) for key in asked if key not in found and key[0] in self.in_file}
        return found

    def fetch(self, asked: Iterable[Key]) -> Iterator[tuple[Key, Any]]:
        names = self.lookup.fields
        wanted = sorted({key[-1] for key in asked})
        if not wanted:
            return
        chosen = visible_to_caller(self.lookup.model._default_manager.all()).order_by()
        chosen = chosen.filter(**{f"{names[-1]}__in": wanted})
        is_item = self.lookup.model is Item
        if not self.records:
            # A merged stock number names the item that goes on.
            own = Coalesce("merged_into_id", "pk") if is_item else F("pk")
            for *key, pk in chosen.values_list(*names, own):
                yield tuple(key), pk
            return
        related = [*self.lookup.related, *(name.rpartition("__")[0] for name in names if "__" in name)]
        for record in chosen.select_related(*related) if related else chosen:
            is_merged = is_item and record.merged_into_id is not None
            yield tuple(reach(record, name) for name in names), record.merged_into if is_merged else record

    def refusal(self, key: Key) -> Fact:
        if key not in self.refusals:
            found = self.missing(key)
            if len(self.refusals) >= NAMES_COMPARED:
                return found
            self.refusals[key] = found
        return self.refusals[key]

    def missing(self, key: Key) -> Fact:
        return fact(
            "record_to_refer_to_missing",
            kind=self.lookup.what,
            name=shown(key[-1]),
            place=shown(key[0]) if len(key) > 1 else None,
            suggestion=self.suggestion(key) if len(self.refusals) < SUGGESTIONS else None,
        )

    def suggestion(self, key: Key) -> str | None:
        names = self.lookup.fields
        if self.known is None or len(names) > 1:
            place = dict(zip(names[:-1], key[:-1], strict=True))
            records = visible_to_caller(self.lookup.model._default_manager.filter(**place))
            values = records.values_list(names[-1], flat=True)
            self.known = list(values[:NAMES_COMPARED])
        return closest(key[-1], self.known)


def first_given(chunk: Chunk, names: str) -> Iterable[Any]:
    """The cells of the column, or of the first one filled where several are named with '|' between them."""
    columns = [chunk.cells.get(name, repeat(None, len(chunk))) for name in names.split("|")]
    rows = zip(*columns, strict=True)
    return (next((cell for cell in row if cell is not None and cell is not ABSENT), None) for row in rows)


def reach(record: models.Model, path: str) -> Any:
    value: Any = record
    for name in path.split("__"):
        value = getattr(value, name)
    return value


def rows_of(chunk: Chunk, values: Columns | None = None) -> list[ParsedRow]:
    """The rows one by one, for writers that take them so; what a row leaves out is left out."""
    own = [given(chunk.cells, row) for row in zip(*chunk.cells.values(), strict=True)]
    meant = (
        [given(values, row) for row in zip(*values.values(), strict=True)] if values else [{} for _ in own]
    )
    rows = zip(chunk.lines, chunk.keys, own, meant, strict=True)
    return [ParsedRow(*row) for row in rows]


def given(names: Iterable[str], row: Iterable[Any]) -> dict[str, Any]:
    return {name: value for name, value in zip(names, row, strict=True) if value is not ABSENT}
