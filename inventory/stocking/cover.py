"""Stock that covers more than one need: what falls short when parts stand in for each other.

A class is a kind of demand, a part a kind of stock; a part covers the classes it may serve. For one exposure
period the least shortage of given demands is the largest deficiency of any set of classes (Hall), which counts
no piece twice. With resupply going on it is a guide, not the exact steady state.
"""

from collections.abc import Collection, Hashable, Mapping, Sequence
from dataclasses import dataclass
from itertools import combinations

import numpy as np

from inventory.array_checks import IntArray
from inventory.number_checks import whole
from inventory.stocking.cover_sweep import Sweep
from inventory.stocking.lead_time_demand import LeadTimeDemand

MOST_ENUMERATED = 20_000_000
"""Combinations of demands that enumeration takes on; more is a case for `expected_shortage`."""

MOST_CLASSES_BY_SETS = 16
"""Linked classes whose sets are all looked at: 65,535 of them."""


@dataclass(frozen=True, slots=True)
class SharedStock:
    """Pieces of each part, and the classes (0, 1, … `classes`-1) that each part covers."""

    stock: tuple[int, ...]
    covers: tuple[frozenset[int], ...]
    classes: int

    def __post_init__(self) -> None:
        if len(self.stock) != len(self.covers):
            raise ValueError("`stock` and `covers` must be of one length, an entry per part")
        for pieces in self.stock:
            whole("stock", pieces)
        if any(not 0 <= item < self.classes for cover in self.covers for item in cover):
            raise ValueError(f"`covers` must name classes from 0 to {self.classes - 1}")

    def parts_of(self, item: int) -> frozenset[int]:
        """The parts that serve a class."""
        return frozenset(part for part, cover in enumerate(self.covers) if item in cover)


@dataclass(frozen=True, slots=True)
class Shortage:
    """Expected pieces that go unserved in one exposure period, and the chance that none does."""

    expected_short: float
    no_short: float


def shared_stock(stock: Sequence[int], covers: Sequence[Collection[int]], classes: int) -> SharedStock:
    """A cover graph from plain lists.

    Parameters
    ----------
    stock : sequence of int
        Pieces of each part.
    covers : sequence of collection of int
        Classes that each part covers, counted from 0.
    classes : int
        Number of classes.

    Returns
    -------
    SharedStock
        Checked.

    Raises
    ------
    ValueError
        If a piece count or a class is out of range.

    Source
    ------
    Definition.

    Examples
    --------
    >>> shared_stock([1, 1], [[0], [0, 1]], 2).parts_of(0) == frozenset({0, 1})
    True
    """
    return SharedStock(
        tuple(whole("stock", pieces) for pieces in stock), tuple(map(frozenset, covers)), classes
    )


def with_transfers(
    stock: Mapping[tuple[Hashable, Hashable], int],
    covers: Mapping[Hashable, Collection[Hashable]],
    demands: Sequence[tuple[Hashable, Hashable]],
    transfers: Collection[tuple[Hashable, Hashable]],
) -> SharedStock:
    """Several storerooms as one graph: a part in one room covers another room that it can be sent to.

    Parameters
    ----------
    stock : mapping
        Pieces by (part, room).
    covers : mapping
        Classes that each part covers.
    demands : sequence of (class, room)
        The demands, in the order in which their laws will be given.
    transfers : collection of (from room, to room)
        Ways a piece may be sent; within a room it always may.

    Returns
    -------
    SharedStock
        One class per demand, one part per entry of `stock`, in their orders.

    Raises
    ------
    ValueError
        If a piece count is out of range.

    Source
    ------
    Definition; full pooling bounds lateral transshipment (Lee 1987, Management Science 33).

    Examples
    --------
    >>> graph = with_transfers({("A", "east"): 1}, {"A": ["17T"]}, [("17T", "west")], [("east", "west")])
    >>> graph.covers
    (frozenset({0}),)
    """
    ways = set(transfers)
    reach = [
        frozenset(
            index
            for index, (item, room) in enumerate(demands)
            if item in covers.get(part, ()) and (room == home or (home, room) in ways)
        )
        for part, home in stock
    ]
    return shared_stock(list(stock.values()), reach, len(demands))


def components(graph: SharedStock) -> list[frozenset[int]]:
    """Classes that are linked by common cover: minimum stock is set for each such set together.

    Parameters
    ----------
    graph : SharedStock
        Every part counts, with stock or without.

    Returns
    -------
    list of frozenset of int
        In the order of their lowest class.

    Source
    ------
    Connected components of the graph of parts and classes.

    Examples
    --------
    >>> components(shared_stock([1, 1], [[0, 1], [2]], 3)) == [frozenset({0, 1}), frozenset({2})]
    True
    """
    root = list(range(graph.classes))

    def top(item: int) -> int:
        while root[item] != item:
            item = root[item]
        return item

    for cover in graph.covers:
        tops = sorted(top(item) for item in cover)
        for other in tops[1:]:
            root[other] = tops[0]
    groups: dict[int, set[int]] = {}
    for item in range(graph.classes):
        groups.setdefault(top(item), set()).add(item)
    return [frozenset(groups[key]) for key in sorted(groups)]


def shortage(graph: SharedStock, demands: Sequence[int]) -> int:
    """Pieces that go unserved however the stock is given out.

    Parameters
    ----------
    graph : SharedStock
        Stock and cover.
    demands : sequence of int
        Pieces asked for per class.

    Returns
    -------
    int
        Largest, over sets U of classes, of the demand of U less the stock that covers any of U.

    Raises
    ------
    ValueError
        If `demands` does not match the classes.

    Source
    ------
    Hall 1935, J. London Math. Soc. 10; deficiency version: Ore 1955, Duke Math. J. 22.

    Examples
    --------
    >>> shortage(shared_stock([1, 1], [[0], [0, 1]], 2), [3, 0])
    1
    """
    if len(demands) != graph.classes:
        raise ValueError(f"`demands` must hold {graph.classes} classes, got {len(demands)}")
    asked = np.array([[whole("demands", demand) for demand in demands]], dtype=np.int64)
    return sum(
        int(_deficiency(graph, sorted(group), asked[:, sorted(group)])[0]) for group in components(graph)
    )


def shortage_by_enumeration(graph: SharedStock, laws: Sequence[LeadTimeDemand]) -> Shortage:
    """Expected shortage by looking at every combination of demands.

    Parameters
    ----------
    graph : SharedStock
        Stock and cover.
    laws : sequence of LeadTimeDemand
        Independent demands, one law per class.

    Returns
    -------
    Shortage
        Exact but for the tails that the laws leave out.

    Raises
    ------
    ValueError
        If there are too many combinations, or laws and classes do not match.

    Source
    ------
    Hall deficiency, component by component.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> graph = shared_stock([1, 1], [[0], [0, 1]], 2)
    >>> round(shortage_by_enumeration(graph, [poisson(0.8), poisson(0.4)]).expected_short, 8)
    0.19147855
    """
    _matching(graph, laws)
    expected, none = 0.0, 1.0
    for group in components(graph):
        members = sorted(group)
        sizes = [len(laws[item]) for item in members]
        if np.prod([float(size) for size in sizes]) > MOST_ENUMERATED:
            raise ValueError(f"`laws` must not make more than {MOST_ENUMERATED:,} combinations")
        chances = np.ones(1)
        for item in members:
            chances = np.outer(chances, laws[item].pmf).ravel()
        asked = np.stack(np.unravel_index(np.arange(len(chances)), sizes), axis=1).astype(np.int64)
        short = _deficiency(graph, members, asked)
        expected += float(np.dot(chances, short))
        none *= float(chances[short == 0].sum())
    return Shortage(expected, none)


def expected_shortage(graph: SharedStock, laws: Sequence[LeadTimeDemand]) -> Shortage:
    """Expected shortage, class by class, keeping only what the stock left can still serve.

    Parameters
    ----------
    graph : SharedStock
        Stock and cover; components may be many, each with few parts shared at a time.
    laws : sequence of LeadTimeDemand
        Independent demands, one law per class.

    Returns
    -------
    Shortage
        The same value as by enumeration. The work grows with the stock, not with the demands.

    Raises
    ------
    ValueError
        If a component shares too many parts at a time, or laws and classes do not match.

    Source
    ------
    The demands that can be served together form a polymatroid, so serving classes one after another, each as
    far as it goes, serves the most in total: Edmonds 1970; what is left is its rank function on the parts
    shared with classes still to come.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> graph = shared_stock([1, 1], [[0], [0, 1]], 2)
    >>> round(expected_shortage(graph, [poisson(0.8), poisson(0.4)]).expected_short, 8)
    0.19147855
    """
    _matching(graph, laws)
    expected, none = 0.0, 1.0
    for group in components(graph):
        parts = {item: graph.parts_of(item) for item in group}
        served, all_served = Sweep(graph.stock, parts).run(laws)
        expected += sum(laws[item].mean for item in group) - served
        none *= all_served
    return Shortage(max(expected, 0.0), none)


def worth_of_a_piece(graph: SharedStock, laws: Sequence[LeadTimeDemand], part: int) -> float:
    """Expected shortage that the last piece of a part averts, everything it covers counted once.

    Parameters
    ----------
    graph : SharedStock
        Stock and cover.
    laws : sequence of LeadTimeDemand
        Independent demands, one law per class.
    part : int
        A part with a piece at least.

    Returns
    -------
    float
        Pieces in one exposure period; 0 for a part without stock.

    Raises
    ------
    ValueError
        If the part is not in the graph, or as for `expected_shortage`.

    Source
    ------
    Difference of two expected shortages.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> graph = shared_stock([1], [[0, 1]], 2)
    >>> round(worth_of_a_piece(graph, [poisson(0.8), poisson(0.4)], 0), 6)
    0.698806
    """
    if whole("part", part) >= len(graph.stock):
        raise ValueError(f"`part` must be below {len(graph.stock)}, got {part}")
    if not graph.stock[part]:
        return 0.0
    fewer = list(graph.stock)
    fewer[part] -= 1
    without = shared_stock(fewer, graph.covers, graph.classes)
    return expected_shortage(without, laws).expected_short - expected_shortage(graph, laws).expected_short


def _matching(graph: SharedStock, laws: Sequence[LeadTimeDemand]) -> None:
    if len(laws) != graph.classes:
        raise ValueError(f"`laws` must hold {graph.classes} laws, one per class, got {len(laws)}")


def _deficiency(graph: SharedStock, members: list[int], asked: IntArray) -> IntArray:
    """Largest deficiency over the sets of these classes, for each row of demands."""
    worst = np.zeros(len(asked), dtype=np.int64)
    parts = [graph.parts_of(item) for item in members]
    if len(members) > MOST_CLASSES_BY_SETS:
        raise ValueError(f"`covers` must not link more than {MOST_CLASSES_BY_SETS} classes here")
    for size in range(1, len(members) + 1):
        for chosen in combinations(range(len(members)), size):
            cover: frozenset[int] = frozenset().union(*(parts[index] for index in chosen))
            held = sum(graph.stock[part] for part in cover)
            np.maximum(worst, asked[:, list(chosen)].sum(axis=1) - held, out=worst)
    return worst
