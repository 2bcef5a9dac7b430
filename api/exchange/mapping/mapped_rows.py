"""The rows of a mapped file, with cells as the strict readers take them."""

import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from functools import cached_property
from hashlib import sha256

from django.utils import timezone

from api.exchange.mapping.misfit import Misfit
from api.exchange.mapping.moments import in_zone
from api.exchange.mapping.questions import AS_SIDE, CONTENT, RECEIVED
from api.exchange.mapping.readings import CellReading, accepted, stands_for_nothing
from api.exchange.mapping.sides import side_named
from api.exchange.mapping.untidy import RawTable
from api.exchange.mapping.vocabulary import Words
from api.exchange.mapping.zones import Zones
from api.exchange.reading import SourceRow
from api.wire import cells
from api.wire.cells import Cell, is_empty, shown
from api.wire.declaration import Column
from inventory.facts import Fact, fact

PLACE = re.compile(r"\{([^{}]+)\}")


def as_it_is(cell: Cell) -> str:
    return str(cell)


@dataclass(frozen=True)
class MappedColumn:
    """One column with its cells row by row, or the text that they are made from."""

    column: Column
    heading: str
    own: tuple[Cell, ...]
    reading: CellReading
    words: Words
    made_from: str = ""

    @classmethod
    def made(cls, column: Column, text: str, words: Words) -> "MappedColumn":
        return cls(column, "", (), CellReading("made", as_it_is), words, text)

    @property
    def is_made(self) -> bool:
        return not self.heading

    @property
    def has_cells(self) -> bool:
        """Whether it says something of its own in each row."""
        return not self.is_made or (self.made_from not in (CONTENT, RECEIVED) and "{" in self.made_from)


class MappedRows:
    def __init__(self, raw: RawTable, columns: tuple[MappedColumn, ...], zones: Zones) -> None:
        self.raw, self.columns, self.zones = raw, columns, zones
        self.names = tuple(one.column.name for one in columns)
        self.known: dict[tuple[str, type, str], str | None] = {}
        self.received_at = timezone.now().isoformat()
        self.received_before: dict[int, str] = {}
        """By line, for records that came before just as they are: the time at which that was."""

    def read(self) -> Iterator[SourceRow]:
        for at, row in enumerate(self.raw.rows):
            found = self.values(at)
            if all(is_empty(found[one.column.name]) for one in self.columns if one.has_cells):
                continue
            problem = self.localized(found)
            yield SourceRow(row.line, [found[name] for name in self.names], problem)

    def values(self, at: int) -> dict[str, Cell]:
        return {one.column.name: self.value(one, at) for one in self.columns}

    def value(self, one: MappedColumn, at: int) -> Cell:
        if one.is_made:
            return self.made(one.made_from, at)
        cell = one.own[at]
        if is_empty(cell) or stands_for_nothing(cell, one.column, one.words):
            return None
        key = one.column.name, type(cell), str(cell)
        if key not in self.known:
            self.known[key] = accepted(one.reading, cell, one.column)
        return self.known[key] or cell

    def made(self, text: str, at: int) -> str:
        """Empty where a heading that it is made from has no cell in this row."""
        if text == RECEIVED:
            return self.received_before.get(self.raw.rows[at].line, self.received_at)
        if text == CONTENT:
            return self.digests[at]
        cells_of = dict(zip(self.raw.headings, self.raw.rows[at].cells, strict=True))
        cells_of |= {f"{AS_SIDE}{heading}": side_named(cell) for heading, cell in cells_of.items()}
        named = [name for name in PLACE.findall(text) if name in cells_of]
        if any(is_empty(cells_of[name]) for name in named):
            return ""
        return PLACE.sub(lambda match: str(cells_of.get(match[1], match[0])).strip(), text)

    @cached_property
    def digests(self) -> list[str]:
        """Of each row by its content; a row that is repeated counts on, so that both are kept."""
        seen: Counter[str] = Counter()
        found = []
        for row in self.raw.rows:
            digest = sha256("\x1f".join(map(str, row.cells)).encode()).hexdigest()[:16]
            seen[digest] += 1
            found.append(digest if seen[digest] == 1 else f"{digest}-{seen[digest]}")
        return found

    @cached_property
    def moments(self) -> list[str]:
        return [one.column.name for one in self.columns if one.column.parse is cells.moment]

    def localized(self, values: dict[str, Cell]) -> Fact | None:
        """Put the moments of a row into the zone of its place; gives the first one that this leaves unclear."""
        for name in self.moments:
            at = moment_of(values[name])
            if at is None or at.tzinfo is not None:
                continue
            zone = self.zones.of({key: str(cell) for key, cell in values.items()})
            if zone is None:
                return fact("zone_of_row_not_known", cell=shown(values[name]))
            try:
                values[name] = in_zone(at, zone).isoformat()
            except Misfit:
                return fact("local_time_not_clear", cell=shown(values[name]), zone=zone.key)
        return None

    def lacks_zone(self) -> bool:
        return any(
            self.zones.of({key: str(cell) for key, cell in found.items()}) is None
            for found in map(self.values, range(len(self.raw.rows)))
            if any((at := moment_of(found[name])) and at.tzinfo is None for name in self.moments)
        )

    def days_without_time(self) -> int:
        """Moments that are a day alone."""
        found = (moment_of(self.value(one, at)) for one in self.columns if one.column.name in self.moments for at in range(len(self.raw.rows)))  # fmt: skip
        return sum(
            at is not None and at.tzinfo is None and at.hour == at.minute == at.second == 0 for at in found
        )


def moment_of(cell: Cell) -> datetime | None:
    try:
        return datetime.fromisoformat(cell) if isinstance(cell, str) else None
    except ValueError:
        return None
