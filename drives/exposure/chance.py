"""The chance that a place stops and no shelf can serve it, out of plain numbers.

Everything that the other places of its cover component ask for in the same time is served first, as well as the stock
allows; then the place asks for one piece. What it adds to the shortage is its chance: the expected shortage of all, with
this place's law cut to {0, 1}, less that without it. Both are exact (`inventory.stocking.cover`); where a component is too
large for that, the chance is given with two bounds.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from inventory.array_checks import FloatArray
from inventory.stocking.cover import expected_shortage, shared_stock
from inventory.stocking.lead_time_demand import LeadTimeDemand, from_pmf

LawOf = Callable[[int], LeadTimeDemand]
"""What a position asks for over the time looked at."""


@dataclass(frozen=True)
class Chance:
    """Chance to stop unserved; `least` is below it where only bounds could be worked out. `asks` is the chance to ask
    for a piece at all."""

    value: float
    least: float
    asks: float

    @property
    def is_exact(self) -> bool:
        return self.least == self.value


@dataclass(frozen=True)
class Shelves:
    """Free pieces by item, and the items that serve each position."""

    free: Mapping[int, int]
    serves: Mapping[int, Collection[int]]

    def held_for(self, position: int) -> frozenset[int]:
        """The items with a free piece that serve a position."""
        return frozenset(item for item in self.serves.get(position, ()) if self.free.get(item, 0) > 0)

    def pieces_for(self, position: int) -> int:
        return sum(self.free[item] for item in self.held_for(position))

    @cached_property
    def _held(self) -> Mapping[int, frozenset[int]]:
        return {position: held for position in self.serves if (held := self.held_for(position))}

    @cached_property
    def _asking(self) -> Mapping[int, tuple[int, ...]]:
        """The positions that could take a piece of each item."""
        found: dict[int, list[int]] = defaultdict(list)
        for position, held in sorted(self._held.items()):
            for item in held:
                found[item].append(position)
        return {item: tuple(positions) for item, positions in found.items()}

    def rivals(self, position: int) -> frozenset[int]:
        """Positions that are linked with this one through free pieces, however many steps away; itself among them."""
        found, waiting = {position}, [position]
        while waiting:
            for item in self._held.get(waiting.pop(), ()):
                fresh = [other for other in self._asking[item] if other not in found]
                found.update(fresh)
                waiting += fresh
        return frozenset(found)

    def classes(self, positions: Iterable[int]) -> dict[frozenset[int], tuple[int, ...]]:
        """Positions that the very same free items serve are one class of demand."""
        found: dict[frozenset[int], list[int]] = defaultdict(list)
        for position in sorted(positions):
            found[self.held_for(position)].append(position)
        return {held: tuple(members) for held, members in found.items()}


def chance_unserved(position: int, shelves: Shelves, law_of: LawOf) -> Chance:
    """The chance that a position asks for a piece and none is left for it.

    Parameters
    ----------
    position : int
        Any position; one that nothing serves is never served.
    shelves : Shelves
        Free pieces, all storerooms together, and what serves what.
    law_of : callable
        Pieces that a position asks for in the time looked at; asked for the positions linked with this one.

    Returns
    -------
    Chance
        Exact, or the larger of two bounds with the smaller beside it.

    Raises
    ------
    ValueError
        As `law_of` does.

    Source
    ------
    Difference of two expected shortages. Bounds: a piece in reach is left for sure where all that could be taken of them
    are fewer, and none is where places that nothing else serves take them all.

    Examples
    --------
    >>> laws = {1: from_pmf([0.5, 0.5]), 2: from_pmf([0.8, 0.2])}
    >>> chance = chance_unserved(1, Shelves({7: 1}, {1: [7], 2: [7]}), laws.__getitem__)
    >>> round(chance.value, 12), chance.is_exact
    (0.1, True)
    """
    asks = law_of(position).chance_above(0)
    if not shelves.held_for(position) or not asks:
        return Chance(asks, asks, asks)
    classes = shelves.classes(shelves.rivals(position))
    laws = {held: _together(shelves, held, members, position, law_of) for held, members in classes.items()}
    try:
        value = _exact(shelves, laws, shelves.held_for(position), asks)
    except ValueError:
        least, most = _bounds(shelves, laws, shelves.held_for(position))
        return Chance(asks * most, asks * least, asks)
    return Chance(value, value, asks)


def _together(
    shelves: Shelves, held: frozenset[int], members: tuple[int, ...], left_out: int, law_of: LawOf
) -> FloatArray:
    """What the members ask for together, all beyond their pieces as one: it goes unserved in any case."""
    most = sum(shelves.free[item] for item in held)
    law = np.ones(1)
    for member in members:
        if member != left_out:
            law = _cut(np.convolve(law, _whole(law_of(member))), most)
    return law


def _whole(law: LeadTimeDemand) -> FloatArray:
    """Its chances, with the left-out tail at the upper end."""
    pmf = np.array(law.pmf)
    pmf[-1] += max(0.0, 1.0 - float(pmf.sum()))
    return pmf


def _cut(law: FloatArray, most: int) -> FloatArray:
    return law if law.size <= most + 1 else np.append(law[:most], law[most:].sum())


def _exact(
    shelves: Shelves, laws: Mapping[frozenset[int], FloatArray], own: frozenset[int], asks: float
) -> float:
    order = sorted(laws, key=sorted)
    piles: dict[tuple[int, ...], int] = defaultdict(int)
    for item in frozenset().union(*order):
        piles[tuple(place for place, held in enumerate(order) if item in held)] += shelves.free[item]
    graph = shared_stock(list(piles.values()), list(piles), len(order))
    without = [from_pmf(laws[held]) for held in order]
    one = np.array([1.0 - asks, asks])
    with_it = [
        from_pmf(np.convolve(laws[held], one)) if held == own else from_pmf(laws[held]) for held in order
    ]
    more = expected_shortage(graph, with_it).expected_short - expected_shortage(graph, without).expected_short
    return min(max(more, 0.0), asks)


def _bounds(
    shelves: Shelves, laws: Mapping[frozenset[int], FloatArray], own: frozenset[int]
) -> tuple[float, float]:
    """Chances that a piece more goes unserved: at least where places served by the very same items ask for all of
    them; at most where all who could reach those items do."""
    reach = [law for held, law in laws.items() if held & own]
    pieces = sum(shelves.free[item] for item in own)
    return _chance_of([laws[own]], pieces), _chance_of(reach, pieces)


def _chance_of(laws: Iterable[FloatArray], pieces: int) -> float:
    """That together they ask for so many pieces or more."""
    law = np.ones(1)
    for other in laws:
        law = _cut(np.convolve(law, other), pieces)
    return float(law[pieces]) if law.size > pieces else 0.0
