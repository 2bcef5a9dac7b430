"""Both sprockets changed together so that the ratio holds: planned work, never a counter answer."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from math import ceil, floor

from django.utils import timezone

from drives.chain.take_up import TakeUp
from drives.models import Drive
from drives.place.duty import Duty
from drives.place.ratio_check import can_take_up, lengths_taken_up, present_links, tip_facts
from drives.place.verdict import judge_for_place
from drives.substitutes.position_requirement import (
    PositionRequirement,
    position_requirement,
    positions_with_requirements,
)
from drives.substitutes.rules_here import RulesHere, rules_question
from inventory.catalogue.candidates import Candidate, judge_candidates
from inventory.catalogue.plant_practice import SETTINGS, practice_of
from inventory.catalogue.ranked_shortlist import Shortlist
from inventory.catalogue.stock_on_hand import (
    CompanionNeeds,
    StockOnHand,
    bush_sizes_of,
    bushes_of,
    bushes_question,
    load_stock,
)
from inventory.facts import Fact, fact
from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Engagement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, Aspect, Grade, Operation, PositionRole
from inventory.models import Item
from inventory.plumbing.joint_statement import Parameters, answers
from inventory.standards.tooth_counts import COUNTED_TEETH

MOST_PAIRS = 50
MOST_OF_A_COUNT = 6
"""Of each tooth count so many sprockets are combined at either end, the best first."""
SAME_RATIO_PERCENT = 1e-6
"""Where a drive has no ratio tolerance recorded, only the same ratio is offered; this much is rounding."""
SAME_SPEED_PERCENT = 0.005


@dataclass(frozen=True, kw_only=True)
class PairLength:
    """A chain length for a pair: the centre at which it is taut, and how far that is from the present length's."""

    links: int
    centre_mm: float
    centre_shift_mm: float
    keeps_chain: bool
    fits: bool | None

    @classmethod
    def of(cls, taken: TakeUp) -> "PairLength":
        return cls(
            links=taken.links,
            centre_mm=round(taken.centre_mm, 2),
            centre_shift_mm=round(taken.centre_shift_mm, 2),
            keeps_chain=taken.keeps_chain,
            fits=taken.fits,
        )


@dataclass(frozen=True, kw_only=True)
class PairSide:
    """One of the two sprockets, judged with the other as its mate."""

    role: PositionRole
    candidate: Candidate
    verdict: Verdict

    @property
    def reasons(self) -> tuple[Fact, ...]:
        """Why it has its grade; none for a drop-in."""
        if self.verdict.grade is Grade.DROP_IN:
            return ()
        return tuple(dict.fromkeys(one for finding in self.verdict.deciding for one in finding.facts))

    @property
    def guard(self) -> tuple[Fact, ...]:
        found = [finding for finding in self.verdict.findings if finding.aspect is Aspect.ENVELOPE]
        return tuple(one for finding in found for one in finding.facts)


@dataclass(frozen=True, kw_only=True)
class SprocketPair:
    """A driver and a driven sprocket in stock, with what the drive becomes on them; at best for review, since two parts change."""

    driver: Candidate
    driven: Candidate
    driver_verdict: Verdict
    driven_verdict: Verdict
    ratio: float
    ratio_change_percent: float
    """That of the driven speed: above 0 it runs faster."""
    driven_speed_rpm: float | None
    lengths: tuple[PairLength, ...]
    """Every length that is worth choosing, the one that needs no cut first."""
    utilisation: float | None
    facts: tuple[Fact, ...]

    @property
    def reason(self) -> Fact:
        return self.facts[0]

    @property
    def further(self) -> tuple[Fact, ...]:
        return self.facts[1:]

    @property
    def grade(self) -> Grade:
        return Grade.NEEDS_REVIEW

    @property
    def length(self) -> PairLength:
        return self.lengths[0]

    @property
    def sides(self) -> tuple[PairSide, PairSide]:
        return (
            PairSide(role=PositionRole.DRIVER, candidate=self.driver, verdict=self.driver_verdict),
            PairSide(role=PositionRole.DRIVEN, candidate=self.driven, verdict=self.driven_verdict),
        )

    @property
    def cautions(self) -> tuple[Fact, ...]:
        return tuple(dict.fromkeys((*self.driver_verdict.cautions, *self.driven_verdict.cautions)))


@dataclass(frozen=True)
class PairOffers:
    pairs: tuple[SprocketPair, ...] = ()
    notes: tuple[Fact, ...] = ()
    left_out: int = 0
    """Sprockets in stock that were not combined, as enough of the same count were."""


@dataclass(frozen=True, kw_only=True)
class _Ends:
    """Both ends of a drive and what their candidates are judged with, loaded once."""

    driver: PositionRequirement
    driven: PositionRequirement
    items: dict[PositionRole | None, list[Item]]
    """By the role of the end: the items that could sit there at any count."""
    rules: dict[PositionRole | None, RulesHere]
    practice: Practice
    stock: StockOnHand
    bushes: BushesAtHand
    left_out: int

    def judge(self, end: PositionRequirement, item: Item, offered: Sprocket, duty: Duty) -> Verdict:
        """The verdict at the candidate's own count: in a pair the other sprocket makes up for it."""
        required = replace(end.required, teeth=offered.teeth, single_cut=offered.single_cut)
        found = judge_for_place(required, offered, duty=duty, practice=self.practice, bushes=self.bushes)
        return self.rules[end.required.role].settle(item.pk, offered, found)

    def candidates(self, end: PositionRequirement) -> list[Candidate]:
        """Candidates that fit in everything but their count, and are available."""
        duty, items = Duty(lifting=False), self.items[end.required.role]
        judged = judge_candidates(
            items, self.stock, lambda item, offered: self.judge(end, item, offered, duty)
        )
        return [c for c in judged if c.available and c.verdict.grade is not Grade.UNFIT and not c.is_guess]


@dataclass(frozen=True)
class _Present:
    """Effective teeth and chain length that the drive has now."""

    teeth: tuple[float, float]
    """Of driver and driven."""
    links: int


def substitute_pairs(drive: Drive) -> PairOffers:
    """Pairs in stock that keep the ratio of a drive, nearest ratio first; each at best for review.

    The number of queries does not depend on the number of pairs.
    """
    places = [position_requirement(one) for one in positions_with_requirements().filter(drive=drive)]
    drivers = [place for place in places if place.required.role is PositionRole.DRIVER]
    drivens = [place for place in places if place.required.role is PositionRole.DRIVEN]
    if len(drivers) != 1 or len(drivens) != 1:
        return PairOffers(notes=(fact("pair_needs_one_driver_and_one_driven"),))
    if drive.lifting:
        return PairOffers(notes=(fact("lifting_drive_takes_no_pair"),))
    present = _present(drivers[0], drivens[0])
    if present is None:
        return PairOffers(notes=(fact("pair_needs_teeth_and_length"),))
    ends = _load_ends(drivers[0], drivens[0], present)
    found = sorted(_pairs(ends, present), key=_preference)[:MOST_PAIRS]
    return PairOffers(tuple(found), () if found else (fact("no_pair_keeps_the_ratio"),), ends.left_out)


def _present(driver: PositionRequirement, driven: PositionRequirement) -> _Present | None:
    driver_teeth, driven_teeth = driver.required.effective_teeth, driven.required.effective_teeth
    links = present_links(driver.required, driver.duty)
    if driver_teeth is None or driven_teeth is None or links is None:
        return None
    return _Present((driver_teeth, driven_teeth), links)


def _load_ends(driver: PositionRequirement, driven: PositionRequirement, present: _Present) -> _Ends:
    put, ends = Parameters(), (driver, driven)
    bushes_asked = {
        one.required.role.value: bushes_question(one.required, put) for one in ends if one.required.role
    }
    rules_asked = {f"rules_{one.required.role}": rules_question(put, one.position) for one in ends}
    rows = answers(Item, put, SETTINGS | bushes_asked | rules_asked)
    practice = practice_of(rows)
    rules: dict[PositionRole | None, RulesHere] = {}
    items: dict[PositionRole | None, list[Item]] = {}
    needs, others = [], set[int]()
    for end, counts in zip(ends, _counts(driver.required.chain, driver.duty, present), strict=True):
        own = bushes_of(rows[str(end.required.role)], end.required, practice.thresholds)
        found, more = _listing(end, practice, own).best_of_each_count(counts, MOST_OF_A_COUNT)
        items[end.required.role] = found
        judge = partial(judge_for_place, end.required, duty=end.duty, practice=practice)
        of_end = rows[f"rules_{end.required.role}"]
        rules[end.required.role] = RulesHere.at_position(of_end, end.position, timezone.now(), judge)
        needs.append(CompanionNeeds(bush_sizes_of(found), _shaft_mm(end)))
        others |= more
    known = {item.pk for found in items.values() for item in found}
    stock = load_stock(known, *needs, limits=practice.thresholds)
    return _Ends(
        driver=driver,
        driven=driven,
        items=items,
        rules=rules,
        practice=practice,
        stock=stock,
        bushes=stock.bushes_at_hand(),
        left_out=len(others - known),
    )


def _shaft_mm(end: PositionRequirement) -> float | None:
    return end.required.shaft.diameter_mm if end.required.shaft is not None else None


def _listing(end: PositionRequirement, practice: Practice, bushes: BushesAtHand) -> Shortlist:
    """Sprockets at any count: in a pair the other one makes up for it."""
    required = replace(end.required, teeth=None)

    def judge_at_own_count(offered: Sprocket) -> Verdict:
        own = replace(required, teeth=offered.teeth, single_cut=offered.single_cut)
        return judge_for_place(own, offered, duty=Duty(lifting=False), practice=practice, bushes=bushes)

    return Shortlist(
        required=required, teeth=None, practice=practice, judge=judge_at_own_count, bushes=bushes
    )


@lru_cache(maxsize=256)
def _counts(chain: Engagement | None, duty: Duty, present: _Present) -> tuple[frozenset[int], frozenset[int]]:
    """Of either end, the counts to which there is one of the other end that keeps the ratio on some chain."""
    counted = range(COUNTED_TEETH[0], COUNTED_TEETH[1] + 1)
    if chain is None or (chain.is_double_pitch and not chain.has_large_rollers):
        return frozenset(counted), frozenset(counted)
    tolerance = duty.ratio_tolerance_percent or SAME_RATIO_PERCENT
    wanted = present.teeth[1] / present.teeth[0]
    found: tuple[set[int], set[int]] = (set(), set())
    for own in counted:
        for other in range(
            floor(wanted * own * (1 - tolerance / 100)),
            ceil(wanted * own / (1 - min(tolerance, 50) / 100)) + 1,
        ):
            if own in found[0] and other in found[1]:
                continue
            change = 100 * (wanted * own / other - 1) if other > 0 else tolerance + 1
            is_other = other in counted and (own, other) != present.teeth
            if is_other and abs(change) <= tolerance and _is_taken_up(chain, duty, present, (own, other)):
                found[0].add(own)
                found[1].add(other)
    return frozenset(found[0]), frozenset(found[1])


def _is_taken_up(chain: Engagement, duty: Duty, present: _Present, after: tuple[int, int]) -> bool:
    """Where no take-up is recorded nothing can be ruled out."""
    if duty.adjustment_mm is None:
        return True
    return can_take_up(chain, duty, links=present.links, before=present.teeth, after=after)


def _pairs(ends: _Ends, present: _Present) -> Iterator[SprocketPair]:
    tolerance = ends.driver.duty.ratio_tolerance_percent or SAME_RATIO_PERCENT
    drivers, drivens = ends.candidates(ends.driver), ends.candidates(ends.driven)
    for driver in drivers:
        for driven in drivens:
            teeth = (_teeth(ends.driver, driver), _teeth(ends.driven, driven))
            change = 100 * (present.teeth[1] / present.teeth[0] * teeth[0] / teeth[1] - 1)
            same = teeth == present.teeth
            enough = driver.item.pk != driven.item.pk or driver.available > 1
            if abs(change) <= tolerance and not same and enough:
                pair = _pair(ends, driver, driven, present, change)
                if pair is not None:
                    yield pair


def _teeth(end: PositionRequirement, candidate: Candidate) -> float:
    """Effective teeth on this chain; candidates without a count were left out before."""
    return candidate.attributes.effective_teeth_under(end.required.chain) or 0.0


def _has_bushes(ends: _Ends, driver: Candidate, driven: Candidate) -> bool:
    """Where both need a bush of one size and bore, there must be two: a shared one is not counted twice."""
    needed = [_bush_to_fetch(ends.driver, driver), _bush_to_fetch(ends.driven, driven)]
    if needed[0] is None or needed[0] != needed[1]:
        return True
    return sum(row.shelf.available for row in ends.stock.bushes(*needed[0], ends.practice.thresholds)) > 1


def _bush_to_fetch(end: PositionRequirement, candidate: Candidate) -> tuple[str, float] | None:
    shaft, size = end.required.shaft, candidate.attributes.bush_size
    changes = any(step.operation is Operation.CHANGE_BUSH for step in candidate.verdict.work)
    if not changes or size is None or shaft is None or shaft.diameter_mm is None:
        return None
    return size.upper(), shaft.diameter_mm


def _pair(
    ends: _Ends, driver: Candidate, driven: Candidate, present: _Present, change: float
) -> SprocketPair | None:
    lengths = _lengths(ends, driver, driven, present)
    if not lengths or not _has_bushes(ends, driver, driven):
        return None
    on_driver = _judge_with_mate(ends, ends.driver, driver, driven, present)
    on_driven = _judge_with_mate(ends, ends.driven, driven, driver, present)
    if Grade.UNFIT in (on_driver.grade, on_driven.grade):
        return None
    return SprocketPair(
        driver=driver,
        driven=driven,
        driver_verdict=on_driver,
        driven_verdict=on_driven,
        ratio=round(_teeth(ends.driven, driven) / _teeth(ends.driver, driver), 5),
        ratio_change_percent=round(change, 3),
        driven_speed_rpm=on_driver.consequences.driven_speed_rpm,
        lengths=lengths,
        utilisation=on_driver.consequences.rating_utilisation,
        facts=(
            *_facts(driver, driven, change, lengths),
            *tip_facts(
                ends.driver.required.chain,
                _both_teeth(ends, driver, driven),
                min(length.centre_mm for length in lengths),
            ),
        ),
    )


def _lengths(ends: _Ends, driver: Candidate, driven: Candidate, present: _Present) -> tuple[PairLength, ...]:
    """The present length where it fits, else the nearest to it; and that with which the shafts move least."""
    chain, duty = ends.driver.required.chain, ends.driver.duty
    if chain is None:
        return ()
    after = _both_teeth(ends, driver, driven)
    taken = lengths_taken_up(chain, duty, links=present.links, before=present.teeth, after=after)
    fitting = [one for one in taken if one.fits is not False]
    # Beside the present chain the best cut one is a choice; of two cut ones only that with the smaller movement.
    others = [one for one in fitting[1:] if fitting[0].keeps_chain or _moves_less(one, fitting[0])]
    least = sorted(others, key=lambda one: abs(one.centre_shift_mm))
    return tuple(PairLength.of(one) for one in (*fitting[:1], *least[:1]))


def _both_teeth(ends: _Ends, driver: Candidate, driven: Candidate) -> tuple[float, float]:
    return _teeth(ends.driver, driver), _teeth(ends.driven, driven)


def _moves_less(one: TakeUp, other: TakeUp) -> bool:
    return abs(one.centre_shift_mm) < abs(other.centre_shift_mm)


def _judge_with_mate(
    ends: _Ends, end: PositionRequirement, own: Candidate, mate: Candidate, present: _Present
) -> Verdict:
    """What only the pair shows: rating and torque under the drive's real duty, with the other sprocket as its mate."""
    duty = replace(end.duty, mating_teeth=mate.attributes.teeth, teeth_before=present.teeth)
    return ends.judge(end, own.item, own.attributes, duty)


def _facts(
    driver: Candidate, driven: Candidate, change: float, lengths: tuple[PairLength, ...]
) -> tuple[Fact, ...]:
    teeth = {"driver_teeth": driver.attributes.teeth, "driven_teeth": driven.attributes.teeth}
    return (
        _speed_fact(teeth, change),
        *(_length_fact(length, is_first=length is lengths[0]) for length in lengths),
        *(() if lengths[0].fits else (fact("pair_take_up_not_recorded"),)),
        fact("pair_is_planned_work"),
    )


def _length_fact(length: PairLength, *, is_first: bool) -> Fact:
    values = {"shift_mm": length.centre_shift_mm, "centre_mm": length.centre_mm}
    if length.keeps_chain:
        return fact("pair_keeps_chain", **values)
    return fact("pair_needs_other_chain" if is_first else "pair_other_length", links=length.links, **values)


def _speed_fact(teeth: dict[str, int | None], change: float) -> Fact:
    if abs(change) < SAME_SPEED_PERCENT:
        return fact("pair_keeps_speed", **teeth)
    code = "pair_runs_faster" if change > 0 else "pair_runs_slower"
    return fact(code, **teeth, change_percent=round(abs(change), 3))


def _preference(pair: SprocketPair) -> tuple[object, ...]:
    worst = max(GRADE_RANK[pair.driver_verdict.grade], GRADE_RANK[pair.driven_verdict.grade])
    return (
        abs(pair.ratio_change_percent) > SAME_SPEED_PERCENT,
        worst,
        not pair.length.keeps_chain,
        abs(pair.length.centre_shift_mm),
        pair.driver.item.stock_number,
        pair.driven.item.stock_number,
    )
