"""Stock that several demands share: what falls short when parts stand in for each other.

A class is a kind of demand, a part a kind of stock that may serve some classes. For one exposure period the least shortage of
given demands counts no piece twice. With resupply going on it is a guide, not the exact steady state.
"""

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
    scarce,
)
from inventory.stocking.lead_time_demand import LeadTimeDemand


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


class PiecesLeft:
    """What each class finds once all others are served, each as far as it goes."""

    def __init__(self, shared: SharedStock, demands: Sequence[LeadTimeDemand]) -> None:
        self._stock, self._totals = shared.stock, _totals(shared, demands, UNSEEN_CHANCE)
        groups = linked(scarce(shared.stock, shared.parts, self._totals))
        self._group_of = {item: group for group in groups for item in group}

    def of(self, item: int) -> tuple[FloatArray, float] | None:
        """Chances of 0, 1, 2, … pieces, at the upper end of more than it needs, and that of what was left out; None of plenty."""
        group = self._group_of.get(item)
        return None if group is None else Sweep(self._stock, group, self._totals, last=item).left()


def _totals(shared: SharedStock, demands: Sequence[LeadTimeDemand], negligible: float) -> DemandTotals:
    if len(demands) != shared.classes:
        raise ValueError(
            f"`demands` must hold {shared.classes} distributions, one per class, got {len(demands)}"
        )
    return DemandTotals(demands, negligible)
