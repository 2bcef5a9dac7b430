"""From a requirement to ranked candidates: the shortlist is SQL, the judgement is the core."""

from collections.abc import Callable
from dataclasses import dataclass
from decimal import Decimal
from math import floor

from django.db.models import Q

from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.stock_on_hand import ShelfStock, StockOnHand
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import GRADE_RANK, Outcome
from inventory.models import Item, PartKind

MOST_CANDIDATES = 5_000
"""No more are judged for one question; the largest group of equal chain and teeth known is of this order."""
Judge = Callable[[Sprocket], Verdict]


@dataclass(frozen=True)
class Candidate:
    """An item with its verdict and its stock."""

    item: Item
    attributes: Sprocket
    verdict: Verdict
    shelves: tuple[ShelfStock, ...]
    is_outlasted: bool = False
    """Its units lasted shorter than others at the place: it changes no grade, only the order within one."""

    @property
    def available(self) -> int:
        return sum(shelf.available for shelf in self.shelves)

    def available_in(self, storeroom_id: int | None) -> int:
        return sum(shelf.available for shelf in self.shelves if shelf.storeroom_id == storeroom_id)

    @property
    def refusals(self) -> int:
        """How many aspects refuse it: the fewer, the nearer it came."""
        return sum(check.outcome is Outcome.NO for check in self.verdict.checks)

    @property
    def is_guess(self) -> bool:
        """Chain or teeth are not recorded: it may be anything, so it is sorted behind what is known."""
        return self.attributes.chain is None or self.attributes.teeth is None


ToothRange = tuple[int, int] | None
"""The least and the greatest tooth count worth judging; None where any count may do (an idler)."""


def tooth_range(required: Requirement, ratio_tolerance_percent: float | None = None) -> ToothRange:
    """The counts that a drive's ratio tolerance allows; for double pitch also twice as many."""
    teeth = required.effective_teeth
    if teeth is None or required.is_idler:
        return None
    share = (ratio_tolerance_percent or 0.0) / 100
    least = floor(teeth * (1 - share))
    most = floor(teeth / (1 - min(share, 0.5))) + 1 if share else floor(teeth)
    if required.chain is not None and required.chain.is_double_pitch and not required.chain.has_large_rollers:
        most = max(most, 2 * most)
    return max(least, 1), most


def shortlist(required: Requirement, teeth: ToothRange, practice: Practice) -> list[Item]:
    """Sprocket items that could engage or be mistaken for one that does: pitch and count are right or not known.

    One query. Look-alikes that engage badly are in it on purpose: the refusal is worth as much as the offer.
    """
    items = Item.objects.with_specification().filter(shortlisted(required, teeth, practice))
    return list(items.order_by("stock_number")[:MOST_CANDIDATES])


def shortlisted(required: Requirement, teeth: ToothRange, practice: Practice) -> Q:
    """The condition of `shortlist`, for a query that has others too."""
    found = Q(specification__kind=PartKind.SPROCKET)
    if required.chain is not None:
        found &= _pitch_near(required, practice) | Q(specification__pitch_mm__isnull=True)
    if teeth is not None:
        in_range = Q(specification__teeth__gte=teeth[0], specification__teeth__lte=teeth[1])
        found &= in_range | Q(specification__teeth__isnull=True)
    return found


def could_engage(required: Requirement, offered: Sprocket, teeth: ToothRange, practice: Practice) -> bool:
    """The same choice as `shortlist`, for one item whose attributes are at hand."""
    if required.chain is not None and offered.chain is not None:
        tolerance = practice.thresholds.pitch_tolerance_mm
        if all(abs(offered.chain.pitch_mm - pitch_mm) > tolerance for pitch_mm in _pitches(required)):
            return False
    return teeth is None or offered.teeth is None or teeth[0] <= offered.teeth <= teeth[1]


def _pitches(required: Requirement) -> list[float]:
    """The chain's own pitch; for double-pitch chain on standard rollers also half of it."""
    chain = required.chain
    assert chain is not None
    pitches = [chain.pitch_mm]
    if chain.is_double_pitch and not chain.has_large_rollers:
        pitches.append(chain.pitch_mm / 2)
    return pitches


def _pitch_near(required: Requirement, practice: Practice) -> Q:
    tolerance = Decimal(str(practice.thresholds.pitch_tolerance_mm))
    near = Q()
    for pitch_mm in _pitches(required):
        pitch = Decimal(str(round(pitch_mm, 6)))
        near |= Q(
            specification__pitch_mm__gte=pitch - tolerance, specification__pitch_mm__lte=pitch + tolerance
        )
    return near


def judge_candidates(items: list[Item], stock: StockOnHand, judge: Judge) -> list[Candidate]:
    candidates = []
    for item in items:
        assert item.specification is not None
        attributes = attributes_of(item.specification)
        candidates.append(Candidate(item, attributes, judge(attributes), stock.of_item(item.pk)))
    return candidates


def grade_order(here_id: int | None) -> Callable[[Candidate], tuple[object, ...]]:
    """Sort key: grade (the unfit by how much refuses them), what lasted shorter last, available here, elsewhere, minutes, cost.

    The stock number comes last, so that the order is total.
    """

    def key(candidate: Candidate) -> tuple[object, ...]:
        nearness = 0 if candidate.available_in(here_id) else 1 if candidate.available else 2
        minutes, cost = candidate.verdict.work_minutes, candidate.item.unit_cost
        return (
            GRADE_RANK[candidate.verdict.grade],
            candidate.is_guess,
            candidate.refusals,
            candidate.is_outlasted,
            nearness,
            minutes is None,
            minutes or 0,
            cost is None,
            cost or 0,
            candidate.item.stock_number,
        )

    return key
