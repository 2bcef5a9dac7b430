"""What could serve in place of the missing parts of a job: each line by its own requirement, never another kind of part."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
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
from inventory.catalogue.candidates import grade_order, judge_candidates, sprocket_of
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
    """By item that is missing, what fits in its place, best first, in stock or not."""
    return substitutes_of_jobs([(job, items)])[job.pk]


def substitutes_of_jobs(
    missing: Sequence[tuple[WorkOrder, Sequence[Item]]],
) -> dict[int, dict[int, list[Item]]]:
    """The same by job; four queries for any number of jobs and lines, and one for each job that lacks sprockets.

    Nothing for a job on a drive that lifts, or on equipment with one.
    """
    found: dict[int, dict[int, list[Item]]] = {job.pk: {} for job, _ in missing}
    lifting = _lifting_equipment([job for job, items in missing if items])
    short = [(job, items) for job, items in missing if items and not _lifts(job, lifting)]
    if not short:
        return found
    places = _places_of([job for job, _ in short])
    put = Parameters()
    every = {place.position.pk: place.position for of_job in places.values() for place in of_job}
    rules = {f"rules_{pk}": rules_question(put, position) for pk, position in every.items()}
    rows = answers(Rule, put, SETTINGS | rules | {"item_rules": rules_question(put, None)})
    practice = practice_of(rows)
    lines = {
        job.pk: [
            _line_requirement(item, places[job.pk], practice, rows)
            for item in items
            if _kind(item) == PartKind.SPROCKET
        ]
        for job, items in short
    }
    known = _known_items(short, lines, practice)
    for job, items in short:
        found[job.pk] = {item.pk: _like(item, known) for item in _described(items)}
        if lines[job.pk]:
            found[job.pk] |= _fitting_lines(lines[job.pk], known, practice, job)
    return found


def _described(items: Iterable[Item]) -> list[Item]:
    return [item for item in items if item.specification is not None and is_described(item.specification)]


def _known_items(
    short: Sequence[tuple[WorkOrder, Sequence[Item]]],
    lines: Mapping[int, Sequence[LineRequirement]],
    practice: Practice,
) -> list[Item]:
    """Whatever could serve one of the lines."""
    wanted = Q(pk__in=[])
    for job, items in short:
        for line in lines[job.pk]:
            wanted |= shortlisted(line.required, line.teeth, practice)
        for item in _described(items):
            assert item.specification is not None
            wanted |= like_parts(item.specification)
    # Of the specifications alone, so that each case finds its rows by its index.
    specifications = Specification.objects.filter(wanted).order_by()
    wanted_items = Item.objects.exclude(lifecycle=Lifecycle.BLOCKED).filter(specification__in=specifications)
    return list(wanted_items.with_specification().order_by("stock_number"))


def _fitting_lines(
    lines: Sequence[LineRequirement], known: Sequence[Item], practice: Practice, job: WorkOrder
) -> dict[int, list[Item]]:
    """With the stock of those alone that could engage in one of the lines of the job: only so many bushes are looked at."""
    room = job.plant.storeroom_id if job.plant else None
    sprockets = [item for item in known if _kind(item) == PartKind.SPROCKET]
    could = [
        [item for item in sprockets if could_engage(line.required, sprocket_of(item), line.teeth, practice)]
        for line in lines
    ]
    together = {item.pk: item for of_line in could for item in of_line}
    sizes, shafts = bush_sizes_of(together.values()), {line.required.shaft for line in lines}
    needs = {CompanionNeeds(sizes, shaft.diameter_mm if shaft else None) for shaft in shafts}
    stock = load_stock(together, *needs, limits=practice.thresholds, to_storeroom_id=room)
    return {
        line.item.pk: _fitting(line, of_line, stock, practice, room)
        for line, of_line in zip(lines, could, strict=True)
    }


def _kind(item: Item) -> str:
    return item.specification.kind if item.specification is not None else ""


def _lifting_equipment(jobs: Iterable[WorkOrder]) -> set[int]:
    """Of the equipment that jobs name without a position."""
    asked = {job.equipment_id for job in jobs if job.position is None and job.equipment_id is not None}
    rows = (
        Drive.objects.filter(equipment__in=asked, lifting=True).order_by() if asked else Drive.objects.none()
    )
    return set(rows.values_list("equipment_id", flat=True))


def _lifts(job: WorkOrder, lifting_equipment: Collection[int]) -> bool:
    return job.position.drive.lifting if job.position else job.equipment_id in lifting_equipment


def _places_of(jobs: Iterable[WorkOrder]) -> dict[int, list[PositionRequirement]]:
    """By job, those of its drive: its own position comes first, so that of equal grades it is the one that is meant."""
    drives = {job.pk: job.position.drive_id for job in jobs if job.position is not None}
    by_drive: dict[int, list[PositionRequirement]] = defaultdict(list)
    rows = positions_with_requirements().filter(drive__in=set(drives.values())).order_by("pk")
    for place in map(position_requirement, rows if drives else ()):
        by_drive[place.position.drive_id].append(place)
    return {
        job.pk: sorted(by_drive[drives[job.pk]], key=lambda one: one.position.pk != job.position_id)
        if job.pk in drives
        else []
        for job in jobs
    }


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
    others = [item for item in sprockets if item.pk != line.item.pk]
    judged = judge_candidates(
        others, stock, lambda item, offered: line.judge(item, offered, practice, bushes)
    )
    fitting = [one for one in judged if one.verdict.grade is not Grade.UNFIT]
    return [one.item for one in sorted(fitting, key=grade_order(room))]
