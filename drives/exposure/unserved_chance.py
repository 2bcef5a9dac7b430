"""The chance that a position needs a piece and none is left for it, from plain numbers.

The demand of the other positions that share its stock is served first, as well as the stock allows; then the position needs
one piece. The chance is that nothing is left for it then (`inventory.stocking.cover`). Where that would take too long, two
bounds are given: positions far away are left out, and unlikely states of the stock, counted as if nothing were left in them;
where too many parts are shared even for that, a piece is left for certain where all positions that could take one need fewer, and none is left
where positions served by the very same items need them all.
"""

from collections import Counter, defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inventory.array_checks import FloatArray
from inventory.progress import Progress, unreported
from inventory.stocking.cover import Left, PiecesLeft, shared_stock
from inventory.stocking.cover_sweep import at_least, of_note, up_to, whole_pmf
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
        return self.linked([position])

    def linked(self, positions: Iterable[int]) -> frozenset[int]:
        """The same with any of several."""
        found, waiting = set(positions), list(positions)
        while waiting:
            for item in self._items.get(waiting.pop(), ()):
                fresh = [other for other in self._positions[item] if other not in found]
                found.update(fresh)
                waiting += fresh
        return frozenset(found)


def chances_unserved(
    positions: Iterable[int],
    cover: AvailableCover,
    demand_of: DemandOf,
    *,
    progress: Progress = unreported,
) -> dict[int, UnservedChance]:
    """Of several positions over the same days: exact, or the larger of two bounds with the smaller beside it.

    A position that nothing serves is never served; what linked positions share is worked out once.

    >>> demands = {1: from_pmf([0.5, 0.5]), 2: from_pmf([0.8, 0.2])}
    >>> cover = AvailableCover({(7, 1): 1}, {1: [(7, 1)], 2: [(7, 1)]})
    >>> chance = chances_unserved([1], cover, demands.__getitem__)[1]
    >>> round(chance.value, 12), chance.is_exact
    (0.1, True)
    """
    wanted, found = set(positions), dict[int, UnservedChance]()
    for position in sorted(wanted):
        if position not in found:
            sharing = _Sharing(cover, cover.linked_positions(position), demand_of)
            found |= {one: sharing.chance(one) for one in sorted(sharing.members & wanted)}
            progress(len(found), len(wanted))
    return found


class _Sharing:
    """Positions linked by stock. Those served by the very same available items are one class of demand."""

    def __init__(self, cover: AvailableCover, members: frozenset[int], demand_of: DemandOf) -> None:
        self.members, self.cover = members, cover
        self._law = {member: demand_of(member) for member in members}
        self._classes: dict[frozenset[Key], list[int]] = defaultdict(list)
        for member in sorted(members):
            self._classes[cover.items_for(member)].append(member)
        self._names = sorted(self._classes, key=sorted)
        self._without: dict[tuple[frozenset[Key], LeadTimeDemand], FloatArray] = {}
        self._left: dict[frozenset[Key], Left | None] = {}

    def chance(self, position: int) -> UnservedChance:
        own, of_demand = self.cover.items_for(position), self._law[position].chance_above(0)
        if not own or not of_demand:
            return UnservedChance(of_demand, of_demand, of_demand)
        least, most = self._given_demand(own, position)
        return UnservedChance(of_demand * most, of_demand * least, of_demand)

    def _given_demand(self, own: frozenset[Key], position: int) -> tuple[float, float]:
        """Least and largest chance that one more piece goes unserved; equal where it is exact."""
        try:
            left = self._left_for(own)
        except ValueError:  # Too many parts are shared: `PiecesLeft` refuses.
            return self._bounds(own, self._demand_without(own, position))
        if left is None:
            return 0.0, 0.0
        demand = self._demand_without(own, position)
        least = _none_left(left.at_most, demand)
        if left.at_least is left.at_most and not left.left_out:
            return least, least
        bounds, most = self._bounds(own, demand), _none_left(left.at_least, demand) + left.left_out
        least = max(least, bounds[0])
        return least, max(min(most, bounds[1]), least)

    def _left_for(self, own: frozenset[Key]) -> Left | None:
        if own not in self._left:
            self._left[own] = self._pieces_left.of(self._names.index(own))
        return self._left[own]

    @cached_property
    def _pieces_left(self) -> PiecesLeft:
        stock: dict[tuple[int, ...], int] = defaultdict(int)
        takers: dict[Key, list[int]] = defaultdict(list)
        for index, items in enumerate(self._names):
            for item in items:
                takers[item].append(index)
        for item in sorted(takers):
            stock[tuple(takers[item])] += self.cover.pieces[item]
        graph = shared_stock(list(stock.values()), list(stock), len(self._names))
        return PiecesLeft(graph, [from_pmf(self._demands[items]) for items in self._names])

    @cached_property
    def _demands(self) -> Mapping[frozenset[Key], FloatArray]:
        """All beyond the pieces of a class counts as one: it goes unserved in any case."""
        return {
            items: _sum_of((self._law[one] for one in members), self._pieces(items))
            for items, members in self._classes.items()
        }

    def _pieces(self, items: frozenset[Key]) -> int:
        return sum(self.cover.pieces[item] for item in items)

    def _demand_without(self, own: frozenset[Key], position: int) -> FloatArray:
        """Of its class without one position; those with the very same law have one answer."""
        key = own, self._law[position]
        if key not in self._without:
            others = (self._law[one] for one in self._classes[own] if one != position)
            self._without[key] = _sum_of(others, self._pieces(own))
        return self._without[key]

    def _bounds(self, own: frozenset[Key], demand: FloatArray) -> tuple[float, float]:
        """The plain ones, without a sweep."""
        pieces = self._pieces(own)
        reach = [self._demands[items] for items in self._names if items != own and items & own]
        return _chance_of([demand], pieces), _chance_of([demand, *reach], pieces)


def _sum_of(laws: Iterable[LeadTimeDemand], most: int) -> FloatArray:
    """Of independent demands, all above `most` as one chance; equal laws are added up by doubling."""
    total = np.ones(1)
    for law, times in Counter(laws).items():
        power = up_to(of_note(whole_pmf(law)), most)
        while times:
            if times & 1:
                total = of_note(up_to(np.convolve(total, power), most))
            times >>= 1
            power = of_note(up_to(np.convolve(power, power), most)) if times else power
    return total


def _none_left(left: FloatArray, demand: FloatArray) -> float:
    """Chance that the demand takes all that is left, or more."""
    taken = np.zeros(len(left))
    reached = at_least(demand)[: len(left)]
    taken[: len(reached)] = reached
    return min(float(np.dot(left, taken)), 1.0)


def _chance_of(demands: Iterable[FloatArray], pieces: int) -> float:
    """That together they need so many pieces or more."""
    total = np.ones(1)
    for demand in demands:
        total = up_to(np.convolve(total, demand), pieces)
    return float(total[pieces]) if total.size > pieces else 0.0
