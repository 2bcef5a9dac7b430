"""Which item can serve which position: judged anew where an attribute or a setting changed, kept as rows."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from hashlib import sha256

from django.db import transaction

from drives.models import Cover, CoverState, Installation, Position
from drives.place.verdict import judge_for_place
from drives.substitutes.requirement import PlaceAsked, place_asked
from drives.substitutes.span import teeth_span
from inventory.catalogue.candidates import TeethSpan, could_engage
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.plant_practice import current_practice
from inventory.interchange.requirement import Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, PartKind

GRADES_KEPT = (Grade.DROP_IN, Grade.WITH_WORK, Grade.NEEDS_REVIEW)


@dataclass(frozen=True, slots=True)
class Edge:
    """An item that can serve a position."""

    position_id: int
    item_id: int
    grade: str
    work_minutes: int | None


@dataclass(frozen=True)
class CoverMap:
    """The graph of items and positions down to a grade."""

    edges: tuple[Edge, ...]

    @cached_property
    def _by_position(self) -> Mapping[int, tuple[Edge, ...]]:
        return _grouped(self.edges, lambda edge: edge.position_id)

    @cached_property
    def _by_item(self) -> Mapping[int, tuple[Edge, ...]]:
        return _grouped(self.edges, lambda edge: edge.item_id)

    def items_of(self, position_id: int) -> tuple[Edge, ...]:
        return self._by_position.get(position_id, ())

    def positions_of(self, item_id: int) -> tuple[Edge, ...]:
        return self._by_item.get(item_id, ())

    def at(self, worst_grade: str) -> "CoverMap":
        """The part of the graph that is no worse than a grade."""
        worst = GRADE_RANK[Grade(worst_grade)]
        return CoverMap(tuple(edge for edge in self.edges if GRADE_RANK[Grade(edge.grade)] <= worst))


def _grouped(edges: Iterable[Edge], key: Callable[[Edge], int]) -> dict[int, tuple[Edge, ...]]:
    found: dict[int, list[Edge]] = defaultdict(list)
    for edge in edges:
        found[key(edge)].append(edge)
    return {name: tuple(rows) for name, rows in found.items()}


def cover_map(worst_grade: str) -> CoverMap:
    """The rows as they stand, down to a grade; one query."""
    rows = Cover.objects.order_by("position_id", "item_id").values_list(
        "position_id", "item_id", "grade", "work_minutes"
    )
    return CoverMap(tuple(Edge(*row) for row in rows)).at(worst_grade)


def refresh_cover() -> int:
    """Judge again what an attribute, a requirement or a rule has changed; the number of positions judged."""
    practice = current_practice()
    offered = _offered()
    runs_there = _items_that_run()
    known = dict(CoverState.objects.values_list("position_id", "inputs_hash"))
    judged = 0
    for position in Position.objects.with_drive().prefetch_related("drive__positions").order_by("id"):
        asked = place_asked(position)
        candidates = _candidates(asked, offered, practice)
        inputs = _hash(asked, candidates, practice, runs_there.get(position.pk, ()))
        if known.get(position.pk) != inputs:
            _write(position, inputs, _edges(asked, candidates, practice, runs_there.get(position.pk, ())))
            judged += 1
    return judged


def _offered() -> list[tuple[int, Sprocket]]:
    items = Item.objects.with_specification().filter(specification__kind=PartKind.SPROCKET).order_by("id")
    return [(item.pk, attributes_of(item.specification)) for item in items if item.specification]


def _items_that_run() -> dict[int, tuple[int, ...]]:
    """The number that sits at each position now, unless it was let in for a time only."""
    fitted = Installation.objects.still_fitted().filter(item__isnull=False, temporary_until__isnull=True)
    return {position: (item,) for position, item in fitted.values_list("position_id", "item_id") if item}


def _candidates(
    asked: PlaceAsked, offered: list[tuple[int, Sprocket]], practice: Practice
) -> list[tuple[int, Sprocket]]:
    span: TeethSpan = teeth_span(asked.required, asked.duty)
    return [
        (item, attributes)
        for item, attributes in offered
        if could_engage(asked.required, attributes, span, practice)
    ]


def _edges(
    asked: PlaceAsked,
    candidates: list[tuple[int, Sprocket]],
    practice: Practice,
    runs_there: tuple[int, ...],
) -> list[Edge]:
    """The number that runs there serves; every other by its verdict, and none but that number on a lifting drive.

    The chain is taken as new and no shelf is looked at: what is kept for years must not hang on today.
    """
    duty = replace(asked.duty, elongation_percent=None)
    edges = []
    for item_id, attributes in candidates:
        verdict = judge_for_place(asked.required, attributes, duty=duty, practice=practice)
        if item_id in runs_there and verdict.grade is not Grade.UNFIT:
            edges.append(Edge(asked.position.pk, item_id, Grade.DROP_IN, 0))
        elif verdict.grade in GRADES_KEPT and not duty.lifting:
            edges.append(Edge(asked.position.pk, item_id, verdict.grade, verdict.work_minutes))
    return edges


def _hash(
    asked: PlaceAsked,
    candidates: list[tuple[int, Sprocket]],
    practice: Practice,
    runs_there: tuple[int, ...],
) -> str:
    """Of all that the verdicts of a position rest on, sets written in order."""
    required = replace(asked.required, environment=frozenset())
    words = sorted(asked.required.environment)
    duty = replace(asked.duty, elongation_percent=None)
    parts = (required, words, duty, candidates, practice, runs_there)
    return sha256(repr(parts).encode()).hexdigest()


def _write(position: Position, inputs: str, edges: list[Edge]) -> None:
    with transaction.atomic():
        Cover.objects.filter(position=position).delete()
        Cover.objects.bulk_create(
            Cover(position=position, item_id=edge.item_id, grade=edge.grade, work_minutes=edge.work_minutes)
            for edge in edges
        )
        CoverState.objects.update_or_create(position=position, defaults={"inputs_hash": inputs})
