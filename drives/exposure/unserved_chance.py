"""The chance that a position needs a piece and none is left for it, from plain numbers.

The demand of the other positions that share its stock is served first, as well as the stock allows; then the position needs
one piece. The chance is what this adds to the shortage: the expected shortage of all, with this position's demand cut to
{0, 1}, less that without it. Both are exact (`inventory.stocking.cover`). Where too many parts are shared for that, two
bounds are given: a piece is left for certain where all positions that could take one need fewer, and none is left where
positions served by the very same items need them all.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inventory.array_checks import FloatArray
from inventory.stocking.cover import expected_shortage, shared_stock
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf

Key = tuple[int, int]
"""Item and storeroom of pieces that lie together."""

DemandOf = Callable[[int], LeadTimeDemand]
"""The demand of a position over the days in question."""


@dataclass(frozen=True)
class UnservedChance:
    """`at_least` is below `value` only where bounds were calculated; `of_demand` is the chance of any demand at all."""

    value: float
    at_least: float
    of_demand: float

    @property
    def is_exact(self) -> bool:
        return self.at_least == self.value


@dataclass(frozen=True)
class AvailableCover:
    """Available pieces, and those that can serve each position."""

    pieces: Mapping[Key, int]
    serves: Mapping[int, Collection[Key]]

    def items_for(self, position: int) -> frozenset[Key]:
        """What serves a position and is available."""
        return frozenset(item for item in self.serves.get(position, ()) if self.pieces.get(item, 0) > 0)

    @cached_property
    def _items(self) -> Mapping[int, frozenset[Key]]:
        return {position: items for position in self.serves if (items := self.items_for(position))}

    @cached_property
    def _positions(self) -> Mapping[Key, tuple[int, ...]]:
        """The positions that could take one of them."""
        found: dict[Key, list[int]] = defaultdict(list)
        for position, items in sorted(self._items.items()):
            for item in items:
                found[item].append(position)
        return {item: tuple(positions) for item, positions in found.items()}

    def linked_positions(self, position: int) -> frozenset[int]:
        """Positions that share available pieces with this one, over any number of steps; itself included."""
        found, waiting = {position}, [position]
        while waiting:
            for item in self._items.get(waiting.pop(), ()):
                fresh = [other for other in self._positions[item] if other not in found]
                found.update(fresh)
                waiting += fresh
        return frozenset(found)


def chance_unserved(position: int, cover: AvailableCover, demand_of: DemandOf) -> UnservedChance:
    """Exact, or the larger of two bounds with the smaller beside it. A position that nothing serves is never served.

    >>> demands = {1: from_pmf([0.5, 0.5]), 2: from_pmf([0.8, 0.2])}
    >>> chance = chance_unserved(1, AvailableCover({(7, 1): 1}, {1: [(7, 1)], 2: [(7, 1)]}), demands.__getitem__)
    >>> round(chance.value, 12), chance.is_exact
    (0.1, True)
    """
    of_demand = demand_of(position).chance_above(0)
    own = cover.items_for(position)
    if not own or not of_demand:
        return UnservedChance(of_demand, of_demand, of_demand)
    demands = _demand_of_others(position, cover, demand_of)
    try:
        value = _exact(cover, demands, own, of_demand)
    except ValueError:  # Too many parts are shared: `expected_shortage` refuses.
        least, most = _bounds(cover, demands, own)
        return UnservedChance(of_demand * most, of_demand * least, of_demand)
    return UnservedChance(value, value, of_demand)


def _demand_of_others(
    position: int, cover: AvailableCover, demand_of: DemandOf
) -> dict[frozenset[Key], FloatArray]:
    """Positions served by the very same available items are one class of demand; `position` itself is left out.

    All beyond the pieces of a class counts as one: it goes unserved in any case.
    """
    found: dict[frozenset[Key], FloatArray] = {}
    for member in sorted(cover.linked_positions(position)):
        items = cover.items_for(member)
        demand = found.setdefault(items, np.ones(1))
        if member != position:
            most = sum(cover.pieces[item] for item in items)
            found[items] = _cut(np.convolve(demand, _whole(demand_of(member))), most)
    return found


def _whole(demand: LeadTimeDemand) -> FloatArray:
    """Its chances, with the left-out tail at the upper end."""
    pmf = np.array(demand.pmf)
    pmf[-1] += max(0.0, 1.0 - float(pmf.sum()))
    return pmf


def _cut(pmf: FloatArray, most: int) -> FloatArray:
    return pmf if pmf.size <= most + 1 else np.append(pmf[:most], pmf[most:].sum())


def _exact(
    cover: AvailableCover, demands: Mapping[frozenset[Key], FloatArray], own: frozenset[Key], of_demand: float
) -> float:
    order = sorted(demands, key=sorted)
    stock: dict[tuple[int, ...], int] = defaultdict(int)
    for item in frozenset().union(*order):
        stock[tuple(index for index, items in enumerate(order) if item in items)] += cover.pieces[item]
    graph = shared_stock(list(stock.values()), list(stock), len(order))
    one = np.array([1.0 - of_demand, of_demand])
    without = [from_pmf(demands[items]) for items in order]
    with_it = [
        from_pmf(np.convolve(demands[items], one)) if items == own else from_pmf(demands[items])
        for items in order
    ]
    more = expected_shortage(graph, with_it).expected_short - expected_shortage(graph, without).expected_short
    return min(max(more, 0.0), of_demand)


def _bounds(
    cover: AvailableCover, demands: Mapping[frozenset[Key], FloatArray], own: frozenset[Key]
) -> tuple[float, float]:
    """Least and largest chance that one more piece goes unserved."""
    reach = [demand for items, demand in demands.items() if items & own]
    pieces = sum(cover.pieces[item] for item in own)
    return _chance_of([demands[own]], pieces), _chance_of(reach, pieces)


def _chance_of(demands: Iterable[FloatArray], pieces: int) -> float:
    """That together they need so many pieces or more."""
    total = np.ones(1)
    for demand in demands:
        total = _cut(np.convolve(total, demand), pieces)
    return float(total[pieces]) if total.size > pieces else 0.0
