"""An item with its verdict and its stock, and the order of several."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from decimal import Decimal

from inventory.catalogue.core_values import attributes_of
from inventory.catalogue.stock_on_hand import ShelfStock, StockOnHand
from inventory.interchange.findings import Verdict
from inventory.interchange.requirement import Sprocket
from inventory.interchange.vocabulary import GRADE_RANK, Aspect, Grade, Outcome
from inventory.models import Item

Judge = Callable[[Item, Sprocket], Verdict]
OPEN = (Outcome.REVIEW, Outcome.WORK)
MOUNTED_BY = (Aspect.MOUNTING, Aspect.KEY)
MOUNTING_STEP = len(Aspect) + 1


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
    def departures(self) -> int:
        """How far it is from what was asked for: of the unfit how many aspects refuse it, of what a person has to look at how many
        are open. What goes on the shaft as it is comes before what may have to be bored for it."""
        checks = self.verdict.checks
        if self.verdict.grade is Grade.NEEDS_REVIEW:
            is_mounted_otherwise = any(one.aspect in MOUNTED_BY and one.outcome in OPEN for one in checks)
            return is_mounted_otherwise * MOUNTING_STEP + sum(one.outcome in OPEN for one in checks)
        return sum(one.outcome is Outcome.NO for one in checks)

    @property
    def is_guess(self) -> bool:
        """Chain or teeth are not recorded: it may be anything, so it is sorted behind what is known."""
        return self.attributes.chain is None or self.attributes.teeth is None


def judge_candidates(items: Iterable[Item], stock: StockOnHand, judge: Judge) -> list[Candidate]:
    candidates = []
    for item in items:
        attributes = sprocket_of(item)
        candidates.append(Candidate(item, attributes, judge(item, attributes), stock.of_item(item.pk)))
    return candidates


def sprocket_of(item: Item) -> Sprocket:
    assert item.specification is not None
    return attributes_of(item.specification)


def place_of(
    *,
    grade_rank: int,
    is_guess: bool,
    departures: int,
    nearness: int,
    minutes: int | None,
    cost: Decimal | None,
    stock_number: str,
    is_outlasted: bool = False,
) -> tuple[object, ...]:
    """Sort key: grade (the unfit by how much refuses them, what needs review by how much is open), what lasted shorter last,
    available here, elsewhere, minutes, cost.

    The stock number comes last, so that the order is total.
    """
    return (
        *(grade_rank, is_guess, departures, is_outlasted, nearness, minutes is None, minutes or 0),
        *(cost is None, cost or 0, stock_number),
    )


def grade_order(here_id: int | None) -> Callable[[Candidate], tuple[object, ...]]:
    """The sort key of a candidate where this storeroom asks."""

    def key(candidate: Candidate) -> tuple[object, ...]:
        nearness = 0 if candidate.available_in(here_id) else 1 if candidate.available else 2
        return place_with(candidate, nearness)

    return key


def place_with(candidate: Candidate, nearness: int) -> tuple[object, ...]:
    """0 where it lies in the storeroom that asks, 1 elsewhere, 2 on no shelf."""
    return place_of(
        grade_rank=GRADE_RANK[candidate.verdict.grade],
        is_guess=candidate.is_guess,
        departures=candidate.departures,
        is_outlasted=candidate.is_outlasted,
        nearness=nearness,
        minutes=candidate.verdict.work_minutes,
        cost=candidate.item.unit_cost,
        stock_number=candidate.item.stock_number,
    )
