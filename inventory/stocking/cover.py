"""Stock that several demands share: what falls short when parts stand in for each other.

A class is a kind of demand, a part a kind of stock that may serve some classes. For one exposure period the least shortage of
given demands counts no piece twice. With resupply going on it is a guide, not the exact steady state.
"""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from inventory.array_checks import FloatArray
from inventory.number_checks import whole
from inventory.stocking.cover_sweep import (
    NEGLIGIBLE_CHANCE,
    UNSEEN_CHANCE,
    DemandTotals,
    Parts,
    Sweep,
    linked,
    nearest,
    scarce,
)
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf

MOST_LINKED = 24
"""Classes up to which all that are linked are followed."""

MOST_NEAR = 12
"""Classes that are followed where more are linked."""


@dataclass(frozen=True, slots=True)
class SharedStock:
    """Pieces of each part, and the classes (0, 1, … `classes`-1) that each part covers."""

    stock: tuple[int, ...]
    covers: tuple[frozenset[int], ...]
    classes: int

    def parts_of(self, item: int) -> frozenset[int]:
        """The parts that serve a class."""
        return frozenset(part for part, cover in enumerate(self.covers) if item in cover)

    @property
    def parts(self) -> Parts:
        """By class."""
        return {item: self.parts_of(item) for item in range(self.classes)}


@dataclass(frozen=True, slots=True)
class Shortage:
    """Expected pieces that go unserved in one exposure period, and the chance that none does."""

    expected_short: float
    no_short: float


def shared_stock(stock: Sequence[int], covers: Sequence[Collection[int]], classes: int) -> SharedStock:
    if len(stock) != len(covers):
        raise ValueError("`stock` and `covers` must be of one length, an entry per part")
    if any(not 0 <= item < classes for cover in covers for item in cover):
        raise ValueError(f"`covers` must name classes from 0 to {classes - 1}")
    pieces = tuple(whole("stock", one) for one in stock)
    return SharedStock(pieces, tuple(map(frozenset, covers)), classes)


def expected_shortage(shared: SharedStock, demands: Sequence[LeadTimeDemand]) -> Shortage:
    """Expected shortage of independent demands, one per class; the work grows with the stock, not with the demands.

    The demands that can be served together form a polymatroid, so serving classes one after another, each as far as it goes,
    serves the most in total. Source: Edmonds 1970.
    """
    totals = _totals(shared, demands, NEGLIGIBLE_CHANCE)
    short_of = scarce(shared.stock, shared.parts, totals)
    expected, none = 0.0, 1.0
    for group in linked(short_of):
        served, all_served = Sweep(shared.stock, group, totals).run()
        expected += sum(demands[item].mean for item in group) - served
        none *= all_served
    return Shortage(max(expected, 0.0), none)


@dataclass(frozen=True, slots=True, eq=False)
class Left:
    """Chances of 0, 1, 2, … pieces, at the upper end of more than is needed: at least and at most, the same where they are exact.

    `left_out` is the chance of states that were left out for time.
    """

    at_least: FloatArray
    at_most: FloatArray
    left_out: float


class PiecesLeft:
    """What each class finds once all others are served, each as far as it goes.

    Where many are linked, those far away hardly matter. The nearest ones alone leave at most what is left of all; the others
    that share their parts leave at least that, if they take no other part.
    """

    def __init__(self, shared: SharedStock, demands: Sequence[LeadTimeDemand]) -> None:
        self._stock, self._totals = shared.stock, _totals(shared, demands, UNSEEN_CHANCE)
        groups = linked(scarce(shared.stock, shared.parts, self._totals))
        self._group_of = {item: group for group in groups for item in group}

    def of(self, item: int) -> Left | None:
        """None where there is plenty."""
        group = self._group_of.get(item)
        if group is None:
            return None
        if len(group) <= MOST_LINKED:
            found, left_out = Sweep(self._stock, group, self._totals, last=item).left()
            return Left(found, found, left_out)
        near = {one: group[one] for one in nearest(group, item)[:MOST_NEAR]}
        at_most, _ = Sweep(self._stock, near, self._totals, last=item).left()
        reached = frozenset().union(*near.values())
        at_least, left_out = self._kept_to(reached, group, item).left()
        return Left(at_least, at_most, left_out)

    def _kept_to(self, reached: frozenset[int], group: Parts, last: int) -> Sweep:
        """Of all that may take one of these parts; those that may take the same ones are one class."""
        same: dict[tuple[bool, frozenset[int]], list[int]] = defaultdict(list)
        for item, own in group.items():
            if own & reached:
                same[item == last, own & reached].append(item)
        demands = [from_pmf(self._totals.total(tuple(items))) for items in same.values()]
        parts = {index: own for index, (_, own) in enumerate(same)}
        totals = DemandTotals(demands, UNSEEN_CHANCE)
        return Sweep(self._stock, parts, totals, last=[is_last for is_last, _ in same].index(True))


def _totals(shared: SharedStock, demands: Sequence[LeadTimeDemand], negligible: float) -> DemandTotals:
    if len(demands) != shared.classes:
        raise ValueError(
            f"`demands` must hold {shared.classes} distributions, one per class, got {len(demands)}"
        )
    return DemandTotals(demands, negligible)
