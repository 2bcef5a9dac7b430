"""Items replaced by others, which may stand further down in the same file."""

from collections.abc import Iterator, Sequence
from typing import Any

from api.exchange.checking import Chunk, Spool
from api.exchange.reading import ABSENT
from api.exchange.reference_finding import Columns, InFile
from api.exchange.results import Report
from inventory.facts import fact
from inventory.models import Item

FIELD = "replaced_by"
Rows = tuple[Chunk, Columns]


class Successors:
    """What a file says of successors. Rows that name one of the same file wait until that one is written."""

    def __init__(self, spool: Spool, report: Report) -> None:
        self.report = report
        self.waiting: list[Rows] = []
        said = {
            key[0]: successor
            for chunk in spool
            for key, successor in zip(chunk.keys, chunk.cells.get(FIELD, ()), strict=False)
            if successor and successor is not ABSENT
        }
        named = set(said.values())
        self.lines: dict[str, int] = {}
        if said:
            self.look_through(spool, said, named)

    def look_through(self, spool: Spool, said: dict[str, str], named: set[str]) -> None:
        """Where the successors stand in the file; rows whose successors lead back to them are reported.

        What is recorded counts too, unless the file takes it back.
        """
        recorded = dict(
            Item.objects.filter(replaced_by__isnull=False).values_list(
                "stock_number", "replaced_by__stock_number"
            )
        )
        for chunk in spool:
            cells = chunk.cells[FIELD]
            for key, line, successor in zip(chunk.keys, chunk.lines, cells, strict=True):
                if key[0] in named:
                    self.lines.setdefault(key[0], line)
                if successor is not ABSENT:
                    recorded.pop(key[0], None)
        successor_of = {**recorded, **said}
        circles = in_circles(successor_of)
        for chunk in spool:
            for row, key in enumerate(chunk.keys):
                if said.get(key[0]) and key[0] in circles:
                    problem = fact("successors_lead_back", item=chunk.name(row))
                    self.report.reject(chunk.lines[row], chunk.name(row), FIELD, problem)

    @property
    def in_file(self) -> set[str]:
        return set(self.lines)

    def hold_back(self, chunk: Chunk, values: Columns) -> Rows:
        """The rows that can be written now."""
        waits = [isinstance(link, InFile) for link in values.get(FIELD, ())]
        if not any(waits):
            return chunk, values
        self.waiting.append(where(chunk, values, waits))
        return where(chunk, values, [not one for one in waits])

    def held_back(self) -> Iterator[Rows]:
        """The rows that waited, those first whose successor is written by now; each gets the item that it names."""
        waiting, self.waiting = self.waiting, []
        while waiting:
            open_keys = {key[0] for chunk, _ in waiting for key in chunk.keys}
            later = []
            for chunk, values in waiting:
                waits = [link.key in open_keys for link in values[FIELD]]
                if any(waits):
                    later.append(where(chunk, values, waits))
                yield self.linked(*where(chunk, values, [not one for one in waits]))
            if sum(len(chunk) for chunk, _ in later) == sum(len(chunk) for chunk, _ in waiting):
                return  # Only circles are left, and their rows are rejected.
            waiting = later

    def linked(self, chunk: Chunk, values: Columns) -> Rows:
        links = [link.key for link in values[FIELD]]
        rejected = [self.report.is_rejected(self.lines[key]) for key in links]
        for row, key in enumerate(links):
            if rejected[row] and not self.report.is_rejected(chunk.lines[row]):
                problem = fact("successor_rejected", successor=key)
                self.report.reject(chunk.lines[row], chunk.name(row), FIELD, problem)
        made = dict(Item.objects.filter(stock_number__in=links).values_list("stock_number", "pk"))
        # Where nothing is written any more, the successor has no key: it is another one than stands.
        return chunk, {**values, FIELD: [made.get(key, -1) for key in links]}


def where(chunk: Chunk, values: Columns, kept: Sequence[bool]) -> Rows:
    columns: dict[str, list[Any]] = {
        name: [value for value, is_kept in zip(column, kept, strict=True) if is_kept]
        for name, column in values.items()
    }
    return chunk.where(kept), columns


def in_circles(successor: dict[str, str]) -> set[str]:
    """Those that lead back to themselves; each is walked through once."""
    done, found = set[str](), set[str]()
    for start in successor:
        way: dict[str, int] = {}
        at: str | None = start
        while at is not None and at not in done and at not in way:
            way[at] = len(way)
            at = successor.get(at)
        if at is not None and at in way:
            found.update(list(way)[way[at] :])
        done.update(way)
    return found
