"""Which storerooms share the stock of a part: where fetching it costs no more than holding one piece more.

One storeroom of a group keeps the part. Another one joins it where the yearly cost of the stops while a piece is fetched is at most
the holding cost of one piece for a year. So what is rare and dear is kept once, and what is frequent and cheap in every storeroom.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

Way = tuple[int, int]
"""From one storeroom to another."""

ROUNDING = 1e-9
"""Two sums this close (relative) are equal."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoreroomDemand:
    """`waiting_cost` is that of one hour of fetching for every job of a year that stops a drive; None: not known."""

    storeroom: int
    waiting_cost: float | None
    has_stock: bool = False


@dataclass(frozen=True, slots=True)
class StoreroomGroup:
    """`home` keeps the part for `others`."""

    home: int
    others: tuple[int, ...] = ()


def fetching_cost(asking: StoreroomDemand, home: int, hours: Mapping[Way, float]) -> float | None:
    """A year's cost of fetching from `home`; None where a way, out or back, or the cost of a stop is not known."""
    out, back = (home, asking.storeroom), (asking.storeroom, home)
    if out not in hours or back not in hours:
        return None
    if asking.waiting_cost is None:
        return None
    return asking.waiting_cost * hours[out]


def storeroom_groups(
    storerooms: Sequence[StoreroomDemand], hours: Mapping[Way, float], holding_cost: float | None
) -> tuple[StoreroomGroup, ...]:
    """Each storeroom in exactly one group. `hours` are those by which fetching takes longer than a shelf of one's own.

    The home is the storeroom that most others can join; of several, the one with the least cost of fetching, so where
    requests are most and stops dearest, and that is attended longest; then where stock lies; then the lowest number. Each of the
    others goes to the home from which fetching costs least, and of equal ones the nearest.
    Without a known holding cost only those join that have nothing to fetch.
    """
    most = holding_cost or 0.0
    left, found = sorted(storerooms, key=lambda one: one.storeroom), []
    while left:
        homes = [_gathered(home, left, hours, most) for home in left]
        chosen = min(homes, key=lambda one: one[0])[1]
        found.append(chosen)
        left = [one for one in left if one.storeroom not in (chosen.home, *chosen.others)]
    by_number = {one.storeroom: one for one in storerooms}
    others = {
        room: _nearest_home(by_number[room], group.home, [one.home for one in found], hours, most)
        for group in found
        for room in group.others
    }
    return tuple(
        StoreroomGroup(home, tuple(room for room in sorted(others) if others[room] == home))
        for home in sorted(group.home for group in found)
    )


def _nearest_home(
    asking: StoreroomDemand, gathered: int, homes: Collection[int], hours: Mapping[Way, float], most: float
) -> int:
    """Of the homes that it may join, of which `gathered` is one."""
    ranks = []
    for home in homes:
        cost = fetching_cost(asking, home, hours)
        if cost is not None and cost <= most * (1 + ROUNDING):
            ranks.append((cost, hours[home, asking.storeroom], home != gathered, home))
    return min(ranks)[-1]


def _gathered(
    home: StoreroomDemand, storerooms: Collection[StoreroomDemand], hours: Mapping[Way, float], most: float
) -> tuple[tuple[float, ...], StoreroomGroup]:
    """The group around a home, and its rank: the lowest is the best."""
    joining = {}
    for one in storerooms:
        cost = None if one is home else fetching_cost(one, home.storeroom, hours)
        if cost is not None and cost <= most * (1 + ROUNDING):
            joining[one.storeroom] = cost
    rank = (-len(joining), sum(joining.values()), not home.has_stock, home.storeroom)
    return rank, StoreroomGroup(home.storeroom, tuple(joining))
