"""The cover of each position, judged again only where an attribute, a requirement or a setting changed."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cached_property
from hashlib import sha256

from django.db import transaction

from drives.demand.cover import GRADES_KEPT, ROWS_AT_ONCE, CoverEdge
from drives.demand.sprocket_index import SprocketIndex
from drives.models import Cover, CoverState, Installation
from drives.place.duty import with_shock
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
from inventory.interchange.vocabulary import Grade
from inventory.models import Item, PartKind, Specification

POSITIONS_AT_ONCE = 200


@dataclass(frozen=True)
class Judges:
    """What all positions share."""

    practice: Practice
    index: SprocketIndex
    sprockets: Mapping[int, Sprocket]

    @cached_property
    def hash(self) -> str:
        return sha256(repr(self.practice).encode()).hexdigest()


@dataclass(frozen=True)
class CoverInputs:
    """All that the verdicts of one position are made from.

    The chain is taken as new and stock is ignored: what is stored for years must not depend on today.
    """

    asked: PositionRequirement
    fitted_item: int | None
    """The item last fitted there for good, if any."""
    judges: Judges

    @cached_property
    def hash(self) -> str:
        """Sets are written in order, so that equal inputs give equal text."""
        required = replace(self.asked.required, environment=frozenset())
        environment = sorted(self.asked.required.environment)
        duty = replace(self.asked.duty, elongation_percent=None)
        near = self.judges.index.digest_near(self.asked.required, tooth_range(self.asked.required))
        # What is fitted may have another tooth count than those near.
        parts = (required, environment, duty, self.fitted_item, self._fitted, self.judges.hash, near)
        return sha256(repr(parts).encode()).hexdigest()

    def edges(self) -> list[CoverEdge]:
        """The item last fitted for good serves; every other by its verdict, and no other on a lifting drive."""
        duty, practice = replace(self.asked.duty, elongation_percent=None), self.judges.practice
        position_id, fitted = self.asked.position.pk, self.fitted_item
        edges = []
        for item_id, attributes in self._candidates():
            verdict = judge_for_place(self.asked.required, attributes, duty=duty, practice=practice)
            if item_id == fitted and verdict.grade is not Grade.UNFIT:
                edges.append(CoverEdge(position_id, item_id, Grade.DROP_IN, 0))
            elif verdict.grade in GRADES_KEPT and not duty.lifting:
                work = verdict.work_minutes, verdict.work_basis or ""
                edges.append(CoverEdge(position_id, item_id, verdict.grade, *work))
        return edges

    @property
    def _fitted(self) -> Sprocket | None:
        return None if self.fitted_item is None else self.judges.sprockets.get(self.fitted_item)

    def _candidates(self) -> Iterator[tuple[int, Sprocket]]:
        """The fitted item, if it could engage, and every other that could come through; none has another tooth count."""
        required, duty, fitted = self.asked.required, self.asked.duty, self.fitted_item
        span = tooth_range(required, duty.ratio_tolerance_percent)
        own = self._fitted
        if own is not None and could_engage(required, own, span, self.judges.practice):
            yield fitted or 0, own
        if not duty.lifting:
            found = self.judges.index.worth_judging(with_shock(required, duty), tooth_range(required))
            yield from ((item, offered) for item, offered in found if item != fitted)


def refresh_cover() -> int:
    """Judge again what an attribute, a requirement or a rule has changed; returns the number of positions judged."""
    practice, sprockets = current_practice(), _sprockets()
    judges = Judges(practice, SprocketIndex(sprockets, practice), sprockets)
    fitted = Installation.objects.last_for_good().items_by_position()
    known = dict(CoverState.objects.values_list("position_id", "inputs_hash"))
    judged = 0
    for asked in _requirements():
        inputs = [CoverInputs(one, fitted.get(one.position.pk), judges) for one in asked]
        changed = [one for one in inputs if known.get(one.asked.position.pk) != one.hash]
        _store(changed)
        judged += len(changed)
    return judged


def _sprockets() -> dict[int, Sprocket]:
    """The attributes of every item that is one, by its id; two queries."""
    records = Specification.objects.filter(kind=PartKind.SPROCKET).order_by()
    attributes = {record.pk: attributes_of(record) for record in records.iterator(ROWS_AT_ONCE)}
    items = Item.objects.filter(specification__kind=PartKind.SPROCKET).order_by("id")
    rows = items.values_list("id", "specification_id")
    return {item: attributes[record] for item, record in rows.iterator(ROWS_AT_ONCE) if record in attributes}


def _requirements() -> Iterator[list[PositionRequirement]]:
    """Of all positions in the order of their ids, some at a time; one query for each time."""
    last = 0
    while rows := list(positions_with_requirements().filter(pk__gt=last).order_by("id")[:POSITIONS_AT_ONCE]):
        yield [position_requirement(row) for row in rows]
        last = rows[-1].pk


def _store(changed: Collection[CoverInputs]) -> None:
    edges = {one.asked.position.pk: (one.hash, one.edges()) for one in changed}
    rows = [Cover(**asdict(edge)) for _, found in edges.values() for edge in found]
    states = [CoverState(position_id=position, inputs_hash=found) for position, (found, _) in edges.items()]
    with transaction.atomic():
        Cover.objects.filter(position__in=edges).delete()
        Cover.objects.bulk_create(rows)
        CoverState.objects.bulk_create(
            states, update_conflicts=True, unique_fields=["position"], update_fields=["inputs_hash"]
        )
