"""Items from a file, each with the specification behind it.

A specification is changed in place if nothing else uses it, else the item gets a new one.
"""

from collections.abc import Sequence
from typing import Any

from django.db.models import Q

from api.edge.change_log import logging_deletion
from api.exchange.checking import Chunk
from api.exchange.reading import ABSENT
from api.exchange.reference_finding import Columns
from api.exchange.results import Report
from api.exchange.specifications import shared_by_others
from api.exchange.tables import FileTable
from api.exchange.writing import Planned, RecordTable, Standing, Upsert
from inventory.facts import fact
from inventory.models import Item, Specification

LINK = "specification_id"


class PartColumns:
    """The specifications of a chunk: which rows give one, which give it up, and which leave it as it is."""

    def __init__(self, table: FileTable, report: Report, parts: RecordTable) -> None:
        self.table, self.report, self.parts = table, report, parts
        self.blanks = {c.name: c.blank for c in table.specification if c.name != "kind"}

    def given(self, chunk: Chunk) -> Columns:
        return {c.field: chunk.cells[c.name] for c in self.table.specification if c.name in chunk.cells}

    def split(self, chunk: Chunk, before: Sequence[Standing | None]) -> tuple[list[int], list[int]]:
        """The places of the rows that say what part the item is, and of those that say it is none."""
        kinds = chunk.cells.get("kind") or [ABSENT] * len(chunk)
        says, gives_up = [], []
        for row, kind in enumerate(kinds):
            if kind == "":
                if self.refuse_stray(chunk, row):
                    gives_up.append(row)
            elif kind is not ABSENT or before[row] is not None:
                says.append(row)
            elif self.filled(chunk, row):
                self.report.reject(chunk.lines[row], chunk.name(row), "kind", fact("kind_of_part_missing"))
        return says, gives_up

    def filled(self, chunk: Chunk, row: int) -> list[str]:
        """The attributes that the row gives."""
        cells = {name: chunk.cells[name][row] for name in self.blanks if name in chunk.cells}
        return [name for name, value in cells.items() if value is not ABSENT and value != self.blanks[name]]

    def refuse_stray(self, chunk: Chunk, row: int) -> bool:
        """Whether a row without a kind is sound: it gives no attribute either."""
        stray = self.filled(chunk, row)
        if stray:
            problem = fact("kind_of_part_empty", column=stray[0])
            self.report.reject(chunk.lines[row], chunk.name(row), "kind", problem)
        return not stray


class ItemUpsert(Upsert):
    """`upsert_many` for items: two tables, and one outcome for the row."""

    def __init__(self, table: FileTable, report: Report) -> None:
        fields = {column.name: column.field for column in table.columns}
        super().__init__(Item, fields, table.key, report)
        self.parts = RecordTable(Specification)
        self.part_columns = PartColumns(table, report, self.parts)
        self.part_column_of = {column.field: column.name for column in table.specification}
        self.link_place = self.records.names.index(LINK)
        self.given_up: set[int] = set()

    def take(self, chunk: Chunk, values: Columns, *, write: bool) -> None:
        given = {self.attname[name]: column for name, column in values.items()}
        before = self.recorded(given)
        self.refuse_other_case(chunk, given, before)
        items = self.records.planned(given, before, lock=write)
        self.reject(chunk, items.check())
        standing = self.standing_parts(items.before)
        says, gives_up = (
            self.part_columns.split(chunk, standing) if self.part_columns.given(chunk) else ([], [])
        )
        parts = self.planned_parts(chunk, says, standing, write=write)
        links = self.links(items, gives_up)
        sound = self.sound(chunk)
        touched = [
            one or link != old
            for one, link, old in zip(items.touched, links, items.columns[LINK], strict=True)
        ]
        for place, row in enumerate(says):
            touched[row] = touched[row] or parts.touched[place]
        self.note(chunk, sound, touched, items.before)
        if write:
            items.columns[LINK] = links
            self.write_parts(items, parts, says, set(sound))
            self.write_items(items, [row for row in sound if touched[row]])

    def standing_parts(self, items: Sequence[Standing | None]) -> list[Standing | None]:
        """The specification that each item has."""
        keys = [None if one is None else one.state[self.link_place] for one in items]
        asked = {key for key in keys if key is not None}
        found = {one.key: one for one in self.parts.standing(Q(pk__in=asked))} if asked else {}
        return [None if key is None else found.get(key) for key in keys]

    def planned_parts(
        self, chunk: Chunk, says: list[int], standing: Sequence[Standing | None], *, write: bool
    ) -> Planned:
        given = self.part_columns.given(chunk)
        if len(says) < len(chunk):
            given = {name: [column[row] for row in says] for name, column in given.items()}
        planned = self.parts.planned(given, [standing[row] for row in says], lock=write)
        for place, errors in sorted(planned.check().items()):
            row = says[place]
            for name, refusal in errors:
                column = self.part_column_of.get(name, name)
                self.report.reject(chunk.lines[row], chunk.name(row), column, refusal)
        return planned

    def links(self, items: Planned, gives_up: Sequence[int]) -> list[Any]:
        """The specification of each item, without those given up."""
        links = list(items.columns[LINK])
        for row in gives_up:
            if links[row] is not None:
                self.given_up.add(links[row])
                links[row] = None
        return links

    def write_parts(self, items: Planned, parts: Planned, says: Sequence[int], sound: set[int]) -> None:
        """Write the specifications first: the items that refer to them are written after."""
        written = [p for p, row in enumerate(says) if row in sound and parts.touched[p]]
        standing = {place: one.key for place in written if (one := parts.before[place]) is not None}
        shared = shared_by_others(set(standing.values()))
        parts.update([place for place in written if standing.get(place) not in {None, *shared}])
        new = [place for place in written if standing.get(place) in {None, *shared}]
        for place, key in zip(new, parts.create(new), strict=True):
            items.columns[LINK][says[place]] = key

    def write_items(self, items: Planned, rows: Sequence[int]) -> None:
        items.create([row for row in rows if items.before[row] is None])
        items.update([row for row in rows if items.before[row] is not None])

    def finish(self) -> None:
        """Delete specifications that nothing uses any more."""
        unused = Specification.objects.filter(pk__in=self.given_up, items=None, installations=None)
        with logging_deletion(list(unused)):
            unused.delete()
        self.given_up.clear()
