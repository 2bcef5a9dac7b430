"""Purchases in the order of downtime avoided per unit of money, from each stock's own curve of downtime."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from heapq import heapify, heapreplace

from inventory.array_checks import FloatArray

NEGLIGIBLE_HOURS = 1e-6
"""Hours of downtime a year below which no further piece is weighed: four milliseconds."""

MOST_PIECES_WEIGHED = 20_000
"""Of one item; a longer curve of downtime is cut off there."""


@dataclass(frozen=True, eq=False)
class BuyOption:
    """One item in one storeroom: `hours[s]` of downtime a year with s pieces kept one for one."""

    price: Decimal
    cost_per_hour: float
    hours: FloatArray
    start: int = 0
    lot: int = 1
    """Pieces bought together, such as the links of one strand."""

    @property
    def first(self) -> int:
        """Stock to start with, no further than the curve goes."""
        return min(max(self.start, 0), len(self.hours) - 1)


@dataclass(frozen=True, slots=True)
class BuyStep:
    """From one stock to the next one worth having; several pieces where one alone avoids less for its money."""

    option: int
    stock: int
    pieces: int
    spend: Decimal
    hours_left: float
    cost_left: float


def plan_buys(options: Sequence[BuyOption], budget: Decimal) -> Iterator[BuyStep]:
    """Steps by downtime cost avoided per unit of money, the best first.

    Each stop has the least downtime cost for its money. The list ends before the first step that passes the
    budget: a cheaper one further down would leave the frontier.

    Source
    ------
    Fox 1966, Management Science 13: marginal analysis; where a curve is not convex its lower convex hull takes
    its place.
    """
    corners = [hull(option) for option in options]
    hours = sum(float(option.hours[option.first]) for option in options)
    cost = sum(float(option.hours[option.first]) * option.cost_per_hour for option in options)
    queue = [(-_gain(options[n], stops, 0), n, 0) for n, stops in enumerate(corners) if len(stops) > 1]
    heapify(queue)
    spent = Decimal(0)
    while queue and queue[0][0] < 0:
        _, n, at = queue[0]
        option, (low, high) = options[n], corners[n][at : at + 2]
        spent += (high - low) * option.price
        if spent > budget:
            return
        saved = float(option.hours[low] - option.hours[high])
        hours, cost = max(hours - saved, 0.0), max(cost - saved * option.cost_per_hour, 0.0)
        yield BuyStep(n, high, high - low, spent, hours, cost)
        further = _gain(option, corners[n], at + 1) if at + 2 < len(corners[n]) else 0.0
        heapreplace(queue, (-further, n, at + 1))


def hull(option: BuyOption) -> list[int]:
    """Stocks at the corners of the lower convex hull of the downtime, from the first on."""
    stops: list[int] = []
    hours = option.hours
    end = min(len(hours), option.first + MOST_PIECES_WEIGHED)
    for stock in range(option.first, end, option.lot):
        while len(stops) > 1 and _slope(hours, stops[-2], stops[-1]) >= _slope(hours, stops[-1], stock):
            stops.pop()
        stops.append(stock)
        if hours[stock] <= NEGLIGIBLE_HOURS:
            break
    return stops


def _slope(hours: FloatArray, low: int, high: int) -> float:
    return float(hours[high] - hours[low]) / (high - low)


def _gain(option: BuyOption, stops: list[int], at: int) -> float:
    return -_slope(option.hours, stops[at], stops[at + 1]) * option.cost_per_hour / float(option.price)
