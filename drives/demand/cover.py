"""Which item can serve which position: stored as rows, and judged again only where an attribute or a setting changed."""

from collections import defaultdict
from collections.abc import Collection, Hashable, Iterable, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from hashlib import sha256
from typing import TypeVar

from django.db import transaction

from drives.models import Cover, CoverState, Installation, Position
from drives.place.verdict import judge_for_place
from drives.substitutes.position_requirement import (
    PositionRequirement,
    position_requirement,
    positions_with_requirements,
)
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.shortlist import could_engage, tooth_range
from inventory.interchange.requirement import Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, PartKind

Name = TypeVar("Name", bound=Hashable)
Row = TypeVar("Row")
GRADES_KEPT = (Grade.DROP_IN, Grade.WITH_WORK, Grade.NEEDS_REVIEW)


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


def cover_map(worst_grade: str, *, item_ids: Collection[int] | None = None) -> CoverMap:
    """The stored rows down to a grade, of all positions or of those that some items serve; one query."""
    worst = GRADE_RANK[Grade(worst_grade)]
    rows = Cover.objects.filter(grade__in=[grade for grade in GRADES_KEPT if GRADE_RANK[grade] <= worst])
    if item_ids is not None:
        rows = rows.filter(position__in=rows.filter(item__in=item_ids).values("position"))
    columns = ("position_id", "item_id", "grade", "work_minutes", "work_basis")
    return CoverMap(
        tuple(CoverEdge(*row) for row in rows.order_by("position_id", "item_id").values_list(*columns))
    )


@dataclass(frozen=True)
class _PositionInputs:
    """All that the verdicts of one position are made from.

    The chain is taken as new and stock is ignored: what is stored for years must not depend on today.
    """

    asked: PositionRequirement
    candidates: list[tuple[int, Sprocket]]
    practice: Practice
    fitted_item: tuple[int, ...]
    """The item last fitted there for good, if any."""

    @cached_property
    def hash(self) -> str:
        """Sets are written in order, so that equal inputs give equal text."""
        required = replace(self.asked.required, environment=frozenset())
        environment = sorted(self.asked.required.environment)
        duty = replace(self.asked.duty, elongation_percent=None)
        parts = (required, environment, duty, self.candidates, self.practice, self.fitted_item)
        return sha256(repr(parts).encode()).hexdigest()

    def edges(self) -> list[CoverEdge]:
        """The item last fitted for good serves; every other by its verdict, and no other on a lifting drive."""
        duty = replace(self.asked.duty, elongation_percent=None)
        position_id = self.asked.position.pk
        edges = []
        for item_id, attributes in self.candidates:
            verdict = judge_for_place(self.asked.required, attributes, duty=duty, practice=self.practice)
            if item_id in self.fitted_item and verdict.grade is not Grade.UNFIT:
                edges.append(CoverEdge(position_id, item_id, Grade.DROP_IN, 0))
            elif verdict.grade in GRADES_KEPT and not duty.lifting:
                work = verdict.work_minutes, verdict.work_basis or ""
                edges.append(CoverEdge(position_id, item_id, verdict.grade, *work))
        return edges


def refresh_cover() -> int:
    """Judge again what an attribute, a requirement or a rule has changed; returns the number of positions judged."""
    practice = current_practice()
    items = Item.objects.with_specification().filter(specification__kind=PartKind.SPROCKET).order_by("id")
    sprockets = [(item.pk, attributes_of(item.specification)) for item in items if item.specification]
    fitted = Installation.objects.last_for_good().items_by_position()
    known = dict(CoverState.objects.values_list("position_id", "inputs_hash"))
    judged = 0
    for position in positions_with_requirements().order_by("id"):
        asked = position_requirement(position)
        candidates = _candidates(asked, sprockets, practice)
        fitted_here = (fitted[position.pk],) if position.pk in fitted else ()
        inputs = _PositionInputs(asked, candidates, practice, fitted_here)
        if known.get(position.pk) != inputs.hash:
            _store(position, inputs)
            judged += 1
    return judged


def _candidates(
    asked: PositionRequirement, sprockets: list[tuple[int, Sprocket]], practice: Practice
) -> list[tuple[int, Sprocket]]:
    span = tooth_range(asked.required, asked.duty.ratio_tolerance_percent)
    return [
        (item, attributes)
        for item, attributes in sprockets
        if could_engage(asked.required, attributes, span, practice)
    ]


def _store(position: Position, inputs: _PositionInputs) -> None:
    edges = inputs.edges()
    with transaction.atomic():
        Cover.objects.filter(position=position).delete()
        Cover.objects.bulk_create(Cover(**asdict(edge)) for edge in edges)
        CoverState.objects.update_or_create(position=position, defaults={"inputs_hash": inputs.hash})
