"""What could serve in place of the missing parts of a job: each line by its own requirement, never another kind of part."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import partial

from django.db.models import Q
from django.utils import timezone

from drives.models import Drive, WorkOrder
from drives.place.verdict import judge_for_place
from drives.substitutes.position_requirement import (
    PositionRequirement,
    position_requirement,
    positions_with_requirements,
)
from drives.substitutes.rules_here import RulesHere, rules_question
from inventory.catalogue.candidates import grade_order, judge_candidates
from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.like_parts import is_described, is_like, like_parts
from inventory.catalogue.plant_practice import SETTINGS, practice_of
from inventory.catalogue.shortlist import could_engage, shortlisted, tooth_range
from inventory.catalogue.stock_on_hand import CompanionNeeds, StockOnHand, bush_sizes_of, load_stock
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.findings import Verdict
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import judge as judge_part
from inventory.interchange.vocabulary import GRADE_RANK, Grade
from inventory.models import Item, Lifecycle, PartKind, Rule, Specification
from inventory.plumbing.joint_statement import Parameters, Row, answers


@dataclass(frozen=True)
class LineRequirement:
    """What a substitute for one line must be: as the place requires where the line's item serves one of the drive."""

    item: Item
    required: Requirement
    place: PositionRequirement | None
    rules: RulesHere

    def judge(self, item: Item, offered: Sprocket, practice: Practice, bushes: BushesAtHand) -> Verdict:
        return self.rules.settle(item.pk, offered, self._judge_alone(offered, practice, bushes))

    def _judge_alone(self, offered: Sprocket, practice: Practice, bushes: BushesAtHand) -> Verdict:
        if self.place is None:
            return judge_part(self.required, offered, practice=practice, bushes=bushes)
        return judge_for_place(self.required, offered, duty=self.place.duty, practice=practice, bushes=bushes)

    @property
    def teeth(self) -> tuple[int, int] | None:
        tolerance = self.place.duty.ratio_tolerance_percent if self.place else None
        return tooth_range(self.required, tolerance)


def line_substitutes(items: Sequence[Item], job: WorkOrder) -> dict[int, list[Item]]:
    """By item that is missing, what fits in its place, best first, in stock or not; five queries for any number of lines.

    Nothing for a job on a drive that lifts, or on equipment with one.
    """
    if not items or _lifts(job):
        return {}
    places = _places_of(job)
    put = Parameters()
    rules = {f"rules_{place.position.pk}": rules_question(put, place.position) for place in places}
    rows = answers(Rule, put, SETTINGS | rules | {"item_rules": rules_question(put, None)})
    practice = practice_of(rows)
    wheels = [item for item in items if _kind(item) == PartKind.SPROCKET]
    lines = [_line_requirement(item, places, practice, rows) for item in wheels]
    parts = [item for item in items if item.specification is not None and is_described(item.specification)]
    wanted = Q(pk__in=[])
    for line in lines:
        wanted |= shortlisted(line.required, line.teeth, practice)
    for item in parts:
        assert item.specification is not None
        wanted |= like_parts(item.specification)
    # Of the specifications alone, so that each case finds its rows by its index.
    specifications = Specification.objects.filter(wanted).order_by()
    wanted_items = Item.objects.exclude(lifecycle=Lifecycle.BLOCKED).filter(specification__in=specifications)
    known = list(wanted_items.with_specification().order_by("stock_number"))
    found = {item.pk: _like(item, known) for item in parts}
    if lines:
        room = job.plant.storeroom_id if job.plant else None
        sprockets = [item for item in known if _kind(item) == PartKind.SPROCKET]
        sizes, shafts = bush_sizes_of(sprockets), {line.required.shaft for line in lines}
        needs = {CompanionNeeds(sizes, shaft.diameter_mm if shaft else None) for shaft in shafts}
        stock = load_stock(
            (item.pk for item in sprockets), *needs, limits=practice.thresholds, to_storeroom_id=room
        )
        found |= {line.item.pk: _fitting(line, sprockets, stock, practice, room) for line in lines}
    return found


def _kind(item: Item) -> str:
    return item.specification.kind if item.specification is not None else ""


def _lifts(job: WorkOrder) -> bool:
    if job.position is not None:
        return job.position.drive.lifting
    return job.equipment is not None and Drive.objects.filter(equipment=job.equipment, lifting=True).exists()


def _places_of(job: WorkOrder) -> list[PositionRequirement]:
    """Those of the job's drive: its own position comes first, so that of equal grades it is the one that is meant."""
    if job.position is None:
        return []
    rows = positions_with_requirements().filter(drive=job.position.drive_id).order_by("pk")
    return sorted(map(position_requirement, rows), key=lambda one: one.position.pk != job.position_id)


def _line_requirement(
    item: Item, places: Sequence[PositionRequirement], practice: Practice, rows: Mapping[str, list[Row]]
) -> LineRequirement:
    """The grade that chooses the place is that of the attributes alone; so is what a rule replaces there."""
    assert item.specification is not None
    part, now = attributes_of(item.specification), timezone.now()
    judges = [partial(judge_for_place, one.required, duty=one.duty, practice=practice) for one in places]
    grades = [(judge(part).grade, place, judge) for place, judge in zip(places, judges, strict=True)]
    serving = [one for one in grades if one[0] is not Grade.UNFIT]
    if not serving:
        rules = RulesHere.for_item(rows["item_rules"], item, now)
        return LineRequirement(item, requirement_of(part), None, rules)
    _, place, judge = min(serving, key=lambda found: GRADE_RANK[found[0]])
    here = RulesHere.at_position(rows[f"rules_{place.position.pk}"], place.position, now, judge)
    return LineRequirement(item, place.required, place, here)


def _like(item: Item, known: Sequence[Item]) -> list[Item]:
    part = item.specification
    assert part is not None
    return [
        other
        for other in known
        if other.pk != item.pk and other.unit == item.unit
        if other.specification is not None and is_like(other.specification, part)
    ]


def _fitting(
    line: LineRequirement,
    sprockets: Sequence[Item],
    stock: StockOnHand,
    practice: Practice,
    room: int | None,
) -> list[Item]:
    bushes = stock.bushes_at_hand()
    others = [
        item
        for item in sprockets
        if item.pk != line.item.pk and item.specification is not None
        if could_engage(line.required, attributes_of(item.specification), line.teeth, practice)
    ]
    judged = judge_candidates(
        others, stock, lambda item, offered: line.judge(item, offered, practice, bushes)
    )
    fitting = [one for one in judged if one.verdict.grade is not Grade.UNFIT]
    return [one.item for one in sorted(fitting, key=grade_order(room))]
