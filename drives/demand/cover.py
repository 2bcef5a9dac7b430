"""Which item can serve which position, as it is stored: read by position, by item and down to a grade."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TypeVar

from drives.demand.record_part import WHOLE_RECORD, WholeRecord
from drives.models import Cover
from inventory.interchange.vocabulary import GRADE_RANK, Grade

Name = TypeVar("Name", bound=Hashable)
Row = TypeVar("Row")
ROWS_AT_ONCE = 2_000
GRADES_KEPT = (Grade.DROP_IN, Grade.WITH_WORK)
"""What is for review serves nothing until a person has judged it."""


@dataclass(frozen=True, slots=True)
class CoverEdge:
    """An item that can serve a position."""

    position_id: int
    item_id: int
    grade: str
    work_minutes: int | None
    work_basis: str = ""


@dataclass(frozen=True)
class CoverMap:
    """The graph of items and positions, down to a grade."""

    edges: tuple[CoverEdge, ...]

    @cached_property
    def _by_position(self) -> Mapping[int, tuple[CoverEdge, ...]]:
        return grouped((edge.position_id, edge) for edge in self.edges)

    @cached_property
    def _by_item(self) -> Mapping[int, tuple[CoverEdge, ...]]:
        return grouped((edge.item_id, edge) for edge in self.edges)

    def items_of(self, position_id: int) -> tuple[CoverEdge, ...]:
        return self._by_position.get(position_id, ())

    def positions_of(self, item_id: int) -> tuple[CoverEdge, ...]:
        return self._by_item.get(item_id, ())

    def at(self, worst_grade: str) -> "CoverMap":
        """The part of the graph that is no worse than a grade."""
        worst = GRADE_RANK[Grade(worst_grade)]
        return CoverMap(tuple(edge for edge in self.edges if GRADE_RANK[Grade(edge.grade)] <= worst))


def grouped(pairs: Iterable[tuple[Name, Row]]) -> dict[Name, tuple[Row, ...]]:
    """Rows by name, in the order in which they come."""
    found: dict[Name, list[Row]] = defaultdict(list)
    for name, row in pairs:
        found[name].append(row)
    return {name: tuple(rows) for name, rows in found.items()}


def cover_map(
    worst_grade: str, *, item_ids: Collection[int] | None = None, record: WholeRecord = WHOLE_RECORD
) -> CoverMap:
    """The stored rows down to a grade, of all positions or of those that some items serve; one query."""
    worst = GRADE_RANK[Grade(worst_grade)]
    graded = Cover.objects.filter(grade__in=[grade for grade in GRADES_KEPT if GRADE_RANK[grade] <= worst])
    rows = record.cover(graded)
    if item_ids is not None:
        rows = rows.filter(position__in=rows.filter(item__in=item_ids).values("position"))
    columns = ("position_id", "item_id", "grade", "work_minutes", "work_basis")
    found = rows.order_by("position_id", "item_id").values_list(*columns)
    return CoverMap(tuple(CoverEdge(*row) for row in record.each(found)))
