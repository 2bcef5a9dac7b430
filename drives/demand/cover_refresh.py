"""The cover of each position, judged again only where an attribute, a requirement or a setting changed."""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from datetime import datetime
from functools import cached_property
from hashlib import sha256

from django.db import transaction
from django.utils import timezone

from drives.demand.cover import GRADES_KEPT, ROWS_AT_ONCE, CoverEdge
from drives.demand.sprocket_index import SprocketIndex
from drives.models import Cover, CoverState, Installation, MissingAttribute, Position
from drives.place.duty import Duty, with_shock
from drives.place.missing_attributes import blocking_attributes, left_for_lack
from drives.place.verdict import findings_for_place
from drives.substitutes.position_requirement import PLANT, positions_with_duty, required_with
from drives.substitutes.rules_here import RuleBook, RulesHere
from inventory.catalogue.core_values import read_attributes
from inventory.catalogue.plant_practice import current_practice
from inventory.catalogue.shortlist import could_engage, tooth_range
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Requirement, Sprocket
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
    rules: RuleBook
    at: datetime

    @cached_property
    def hash(self) -> str:
        return sha256(repr(self.practice).encode()).hexdigest()


@dataclass(frozen=True)
class CoverInputs:
    """All that the verdicts of one position are made from.

    The chain is taken as new and stock is ignored: what is stored for years must not depend on today.
    """

    required: Requirement
    duty: Duty
    fitted_item: int | None
    """The item last fitted there for good, if any."""
    judges: Judges
    position: Position

    @cached_property
    def hash(self) -> str:
        """Sets are written in order, so that equal inputs give equal text."""
        required = replace(self.required, environment=frozenset())
        environment, duty = sorted(self.required.environment), self._duty
        near = self.judges.index.digest_near(self.required, tooth_range(self.required))
        # What is fitted may have another tooth count than those near.
        parts = (required, environment, duty, self.fitted_item, self._fitted, self.judges.hash, near)
        # Who gave a rule, and why, changes no verdict.
        rules = sorted(
            (one.item, one.kind, one.instead_of or 0, repr(one.original))
            for one in self._rules.held
            if one.item in self._ruled
        )
        return sha256(repr((*parts, rules, self._ruled)).encode()).hexdigest()

    def judged(self) -> "JudgedPosition":
        """The item last fitted for good serves; every other by its verdict, and no other on a lifting drive."""
        edges, missing, position = [], [], self.position.pk
        for item_id, attributes, is_lacking in self._candidates():
            own = self._judge(attributes)
            verdict = self._rules.settle(item_id, attributes, own)
            if item_id == self.fitted_item and verdict.grade is not Grade.UNFIT:
                edges.append(CoverEdge(position, item_id, Grade.DROP_IN, 0))
            elif verdict.grade in GRADES_KEPT and not self.duty.lifting:
                work = verdict.work_minutes, verdict.work_basis or ""
                edges.append(CoverEdge(position, item_id, verdict.grade, *work))
            elif verdict.grade is own.grade and (is_lacking or left_for_lack(own.findings)):
                missing += self._missing_of(item_id, attributes)
        return JudgedPosition(tuple(edges), tuple(missing))

    def _missing_of(self, item_id: int, offered: Sprocket) -> list[MissingAttribute]:
        names, is_alone = blocking_attributes(
            self.required, offered, duty=self._duty, practice=self.judges.practice
        )
        return [
            MissingAttribute(position_id=self.position.pk, item_id=item_id, attribute=name, is_alone=is_alone)
            for name in names
        ]

    def _judge(self, offered: Sprocket) -> Verdict:
        """By its attributes alone."""
        practice = self.judges.practice
        return Verdict(
            findings=findings_for_place(self.required, offered, duty=self._duty, practice=practice)
        )

    @cached_property
    def _rules(self) -> RulesHere:
        return self.judges.rules.at_position(self.position, self.judges.at, self._judge)

    @cached_property
    def _ruled(self) -> dict[int, Sprocket]:
        """The items that a rule in force is about and that could engage, or are fitted."""
        span = tooth_range(self.required, self.duty.ratio_tolerance_percent)
        named = {rule.item: self.judges.sprockets.get(rule.item) for rule in self._rules.held}
        return {
            item: offered
            for item, offered in sorted(named.items(), key=lambda one: one[0])
            if offered is not None
            if item == self.fitted_item or could_engage(self.required, offered, span, self.judges.practice)
        }

    @cached_property
    def _duty(self) -> Duty:
        return replace(self.duty, elongation_percent=None)

    @property
    def _fitted(self) -> Sprocket | None:
        return None if self.fitted_item is None else self.judges.sprockets.get(self.fitted_item)

    def _candidates(self) -> Iterator[tuple[int, Sprocket, bool]]:
        """The fitted item, if it could engage, and every other that could come through; none has another tooth count."""
        required, duty, fitted = self.required, self._duty, self.fitted_item
        span = tooth_range(required, duty.ratio_tolerance_percent)
        own = self._fitted
        if own is not None and could_engage(required, own, span, self.judges.practice):
            yield fitted or 0, own, False
        if not duty.lifting:
            found = self.judges.index.worth_judging(with_shock(required, duty), duty, tooth_range(required))
            yield from (one for one in found if one[0] not in (fitted, *self._ruled))
            # What is left to a person is not worth judging, but for a rule.
            yield from ((item, offered, False) for item, offered in self._ruled.items() if item != fitted)


@dataclass(frozen=True)
class JudgedPosition:
    """What serves a position, and what could if more were recorded of it."""

    edges: tuple[CoverEdge, ...]
    missing: tuple[MissingAttribute, ...]


def refresh_cover(as_of: datetime | None = None) -> int:
    """Judge again what an attribute, a requirement, a setting or a rule has changed; returns the number of positions judged."""
    practice = current_practice()
    attributes = dict(read_attributes(Specification.objects.filter(kind=PartKind.SPROCKET).order_by()))
    sprockets = _sprockets(attributes)
    index, at = SprocketIndex(sprockets, practice), as_of or timezone.now()
    judges = Judges(practice, index, sprockets, RuleBook.load(), at)
    known = dict(CoverState.objects.values_list("position_id", "inputs_hash"))
    judged = 0
    for inputs in _inputs(judges, attributes):
        changed = [one for one in inputs if known.get(one.position.pk) != one.hash]
        _store(changed)
        judged += len(changed)
    return judged


def _sprockets(attributes: Mapping[int, Sprocket]) -> dict[int, Sprocket]:
    """The attributes of every item that is one, by its id."""
    items = Item.objects.filter(specification__kind=PartKind.SPROCKET).order_by("id")
    rows = items.values_list("id", "specification_id")
    return {item: attributes[record] for item, record in rows.iterator(ROWS_AT_ONCE) if record in attributes}


def _inputs(judges: Judges, attributes: Mapping[int, Sprocket]) -> Iterator[list[CoverInputs]]:
    """Of all positions in the order of their ids, some at a time; one query for each time."""
    units = Installation.objects.last_for_good()
    columns = ("position_id", "item_id", "specification_id", "item__specification_id")
    # The specification of a unit is that of the day on which it was fitted, else that of its item.
    fitted = {
        position: (item, attributes.get(own or of_item))
        for position, item, own, of_item in units.values_list(*columns).iterator(ROWS_AT_ONCE)
    }
    related = PLANT if judges.rules.by_place else "drive"
    positions, last = positions_with_duty().select_related(None).select_related(related).order_by("id"), 0
    while rows := list(positions.filter(pk__gt=last)[:POSITIONS_AT_ONCE]):
        yield [_inputs_of(row, *fitted.get(row.pk, (None, None)), judges) for row in rows]
        last = rows[-1].pk


def _inputs_of(
    position: Position, fitted_item: int | None, lender: Sprocket | None, judges: Judges
) -> CoverInputs:
    required, duty = required_with(position, lender)
    return CoverInputs(required, duty, fitted_item, judges, position)


def _store(changed: Collection[CoverInputs]) -> None:
    judged = [one.judged() for one in changed]
    positions = [one.position.pk for one in changed]
    states = [CoverState(position_id=one.position.pk, inputs_hash=one.hash) for one in changed]
    with transaction.atomic():
        Cover.objects.filter(position__in=positions).delete()
        Cover.objects.bulk_create([Cover(**asdict(edge)) for one in judged for edge in one.edges])
        MissingAttribute.objects.filter(position__in=positions).delete()
        MissingAttribute.objects.bulk_create([row for one in judged for row in one.missing])
        CoverState.objects.bulk_create(
            states, update_conflicts=True, unique_fields=["position"], update_fields=["inputs_hash"]
        )
