"""Which columns cover every need at least cost: groups that share nothing are solved apart, and a lower bound says how far the best can be.

Sources: Chvátal, A greedy heuristic for the set-covering problem, Mathematics of Operations Research 4 (1979), 233-235;
weak duality of linear programs for the bound. From memory: raising one need's price after the other until a column is paid for.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from heapq import heapify, heappop, heappush

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import csr_array

from inventory.number_checks import number
from inventory.progress import Progress, counted, unreported

LARGEST_SOLVED = 4_000
"""Entries (need and column) of a group up to which the solver is asked; beyond, the greedy answer stands with its bound."""

MOST_NODES = 500
"""Of the solver's search in one group: a count, not a time, so that equal inputs have equal answers."""

LARGEST_COST = 1e12
SLACK = 1e-9
"""Relative: a bound this close to the cost is the cost."""

Need = frozenset[int]


@dataclass(frozen=True)
class SetCover:
    """Columns that cover every need, what they cost, and a cost below which no cover exists."""

    chosen: frozenset[int]
    cost: float
    lower_bound: float

    @property
    def gap(self) -> float:
        """Share of the cost by which the best cover may be cheaper; 0: there is none cheaper."""
        return (self.cost - self.lower_bound) / self.cost if self.cost else 0.0


def least_cost_cover(
    needs: Iterable[Collection[int]],
    costs: Mapping[int, float],
    *,
    largest_solved: int = LARGEST_SOLVED,
    progress: Progress = unreported,
) -> SetCover:
    """Each need names the columns of which at least one is chosen; costs are 0 or more."""
    distinct = {frozenset(need) for need in needs}
    if frozenset() in distinct:
        raise ValueError("A need that no column covers has no cover.")
    for column, cost in costs.items():
        number(f"costs[{column}]", cost, least=0.0, most=LARGEST_COST)
    # The only column of a need is chosen in every cover.
    forced = {column for need in distinct if len(need) == 1 for column in need}
    rest = [need for need in distinct if forced.isdisjoint(need)]
    parts = [_cover_of_group(group, costs, largest_solved) for group in counted(_groups(rest), progress)]
    sure = sum(costs[column] for column in forced)
    return SetCover(
        frozenset(forced).union(*(part.chosen for part in parts)),
        sure + sum(part.cost for part in parts),
        sure + sum(part.lower_bound for part in parts),
    )


def _groups(needs: list[Need]) -> list[list[Need]]:
    """Needs that share no column with those of another group, in the order of their columns."""
    leader: dict[int, int] = {}

    def find(column: int) -> int:
        while leader[column] != column:
            leader[column] = column = leader[leader[column]]
        return column

    for need in needs:
        for column in need:
            leader.setdefault(column, column)
        first, *others = sorted(find(column) for column in need)
        for other in others:
            leader[find(other)] = find(first)
    found: dict[int, list[Need]] = defaultdict(list)
    for need in sorted(needs, key=sorted):
        found[find(min(need))].append(need)
    return list(found.values())


def _cover_of_group(needs: list[Need], costs: Mapping[int, float], largest_solved: int) -> SetCover:
    chosen = _without_spare(needs, _greedy(needs, costs), costs)
    cost = sum(costs[column] for column in chosen)
    found = SetCover(chosen, cost, min(cost, _paid_bound(needs, costs)))
    if found.gap <= SLACK:
        return SetCover(chosen, cost, cost)
    return _solved(needs, costs, found) if sum(map(len, needs)) <= largest_solved else found


def _greedy(needs: list[Need], costs: Mapping[int, float]) -> set[int]:
    """The column with the least cost for each need not yet covered, again and again."""
    covers: dict[int, set[int]] = defaultdict(set)
    for place, need in enumerate(needs):
        for column in need:
            covers[column].add(place)
    queue = [(costs[column] / len(places), column) for column, places in covers.items()]
    heapify(queue)
    chosen, open_needs = set[int](), set(range(len(needs)))
    while open_needs:
        price, column = heappop(queue)
        left = covers[column] & open_needs
        if not left:
            continue
        now = costs[column] / len(left)
        if now > price:
            # It covers fewer than when it was queued.
            heappush(queue, (now, column))
            continue
        chosen.add(column)
        open_needs -= left
    return chosen


def _without_spare(needs: list[Need], chosen: set[int], costs: Mapping[int, float]) -> frozenset[int]:
    """Without columns whose needs the others cover too, the most expensive left out first."""
    times = [len(need & chosen) for need in needs]
    places: dict[int, list[int]] = defaultdict(list)
    for place, need in enumerate(needs):
        for column in need & chosen:
            places[column].append(place)
    kept = set(chosen)
    for column in sorted(chosen, key=lambda one: (-costs[one], one)):
        if all(times[place] > 1 for place in places[column]):
            kept.remove(column)
            for place in places[column]:
                times[place] -= 1
    return frozenset(kept)


def _paid_bound(needs: list[Need], costs: Mapping[int, float]) -> float:
    """Every need pays until one of its columns is paid for: no column gets more than it costs, so every cover costs at least the sum."""
    unpaid = {column: costs[column] for need in needs for column in need}
    total = 0.0
    for need in sorted(needs, key=lambda one: (len(one), sorted(one))):
        price = min(unpaid[column] for column in need)
        total += price
        for column in need:
            unpaid[column] -= price
    return total


def _solved(needs: list[Need], costs: Mapping[int, float], known: SetCover) -> SetCover:
    """By branch and bound; where that stops early, the better of both answers with the better of both bounds."""
    columns = sorted(frozenset().union(*needs))
    place = {column: number for number, column in enumerate(columns)}
    rows = np.repeat(np.arange(len(needs)), [len(need) for need in needs])
    entries = np.fromiter((place[column] for need in needs for column in sorted(need)), dtype=np.int64)
    matrix = csr_array((np.ones(len(rows)), (rows, entries)), shape=(len(needs), len(columns)))
    result = milp(
        np.array([costs[column] for column in columns]),
        constraints=LinearConstraint(matrix, lb=1.0),
        integrality=np.ones(len(columns)),
        bounds=Bounds(0.0, 1.0),
        options={"mip_rel_gap": 0.0, "node_limit": MOST_NODES},
    )
    best = known
    if result.x is not None:
        chosen = {column for column, share in zip(columns, result.x, strict=True) if share > 0.5}
        if all(not chosen.isdisjoint(need) for need in needs):
            kept = _without_spare(needs, chosen, costs)
            cost = sum(costs[column] for column in kept)
            best = min(SetCover(kept, cost, 0.0), known, key=lambda one: one.cost)
    bound = known.lower_bound if result.mip_dual_bound is None else result.mip_dual_bound
    bound = min(best.cost, max(float(bound), known.lower_bound))
    return SetCover(best.chosen, best.cost, best.cost if best.cost - bound <= SLACK * best.cost else bound)
