"""What to buy next: backorders avoided per unit of money, availability, and stock in two echelons."""

from collections.abc import Sequence
from dataclasses import dataclass
from heapq import heapify, heapreplace

import numpy as np
from numpy.typing import ArrayLike

from inventory.array_checks import not_negative_array
from inventory.number_checks import not_negative, positive, whole
from inventory.stocking.lead_time_demand import LeadTimeDemand, negative_binomial, poisson

MOST_STEPS = 100_000
"""Buys listed at most."""

SAME_GAIN = 1e-15
"""Gains per money below this share of the first end the list: no downtime is left to avoid."""


@dataclass(frozen=True, slots=True)
class Buy:
    """One more piece of one item: the stock after it, money spent so far, weighted backorders left."""

    item: int
    stock: tuple[int, ...]
    spend: float
    total_ebo: float


@dataclass(frozen=True, slots=True)
class TwoEchelon:
    """Pipeline and expected backorders of the depot and of each base; `variances` are those of the pipelines."""

    depot_pipeline: float
    depot_ebo: float
    pipelines: tuple[float, ...]
    variances: tuple[float, ...]
    base_ebo: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Base:
    """A base of a two-echelon net: demands a year, share repaired there, repair and shipping times [years]."""

    rate_per_year: float
    repaired_here: float
    repair_years: float
    shipping_years: float
    stock: int

    def __post_init__(self) -> None:
        positive("rate_per_year", self.rate_per_year)
        if not_negative("repaired_here", self.repaired_here) > 1:
            raise ValueError(f"`repaired_here` must not be above 1, got {self.repaired_here!r}")
        not_negative("repair_years", self.repair_years)
        not_negative("shipping_years", self.shipping_years)
        whole("stock", self.stock)


def marginal_buys(
    laws: Sequence[LeadTimeDemand],
    unit_costs: Sequence[float],
    *,
    budget: float,
    weights: Sequence[float] | None = None,
    start: Sequence[int] | None = None,
) -> list[Buy]:
    """Buys in the order of backorders avoided per unit of money.

    Parameters
    ----------
    laws : sequence of LeadTimeDemand
        Demand over the lead time of each item.
    unit_costs : sequence of float
        Price of one piece, above 0.
    budget : float
        Money to spend, not negative. The list ends before the first buy that passes it: a cheaper one further
        down would leave the frontier.
    weights : sequence of float, optional
        Downtime cost of one outstanding backorder, for items that do not weigh the same.
    start : sequence of int, optional
        Stock to start from; none if left out.

    Returns
    -------
    list of Buy
        Each stop has the fewest backorders for its money, since they fall ever less per piece; a budget between
        two stops may be better spent otherwise. At most 100,000 buys.

    Raises
    ------
    ValueError
        If the lists differ in length or a figure is out of range.

    Source
    ------
    Fox 1966, Management Science 13; Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed. 2004, chapter 2.

    Examples
    --------
    >>> buys = marginal_buys([poisson(1.0), poisson(4.0)], [5000, 1000], budget=11000)
    >>> buys[-1].stock, round(buys[-1].total_ebo, 6)
    ((1, 6), 0.563314)
    """
    money = not_negative("budget", budget)
    shelf = _Shelf(laws, unit_costs, weights, start)
    buys: list[Buy] = []
    while len(buys) < MOST_STEPS:
        buy = shelf.next_within(money)
        if buy is None:
            break
        buys.append(buy)
    return buys


class _Shelf:
    """The next piece of every item, the best gain per money on top."""

    def __init__(
        self,
        laws: Sequence[LeadTimeDemand],
        unit_costs: Sequence[float],
        weights: Sequence[float] | None,
        start: Sequence[int] | None,
    ) -> None:
        self.laws = laws
        self.costs = [positive("unit_costs", cost) for cost in unit_costs]
        self.weights = [not_negative("weights", weight) for weight in weights or [1.0] * len(laws)]
        self.stock = [whole("start", pieces) for pieces in start or [0] * len(laws)]
        for name, values in (("unit_costs", self.costs), ("weights", self.weights), ("start", self.stock)):
            if len(values) != len(laws):
                raise ValueError(f"`{name}` must hold an entry per law, {len(laws)}, got {len(values)}")
        self.spend = 0.0
        self.queue = [(-self._gain(item), item) for item in range(len(laws))]
        heapify(self.queue)
        self.least_gain = -self.queue[0][0] * SAME_GAIN if self.queue else 0.0

    def _gain(self, item: int) -> float:
        """A further piece takes P(demand > stock) off the expected backorders."""
        return self.weights[item] * self.laws[item].chance_above(self.stock[item]) / self.costs[item]

    def total(self) -> float:
        return sum(
            weight * law.expected_above(pieces)
            for weight, law, pieces in zip(self.weights, self.laws, self.stock, strict=True)
        )

    def next_within(self, budget: float) -> Buy | None:
        if not self.queue or -self.queue[0][0] <= self.least_gain:
            return None
        item = self.queue[0][1]
        if self.spend + self.costs[item] > budget:
            return None
        self.stock[item] += 1
        self.spend += self.costs[item]
        heapreplace(self.queue, (-self._gain(item), item))
        return Buy(item, tuple(self.stock), self.spend, self.total())


def availability(expected_backorders: ArrayLike, machines: int, per_machine: ArrayLike) -> float:
    """Share of machines that wait for no part.

    Parameters
    ----------
    expected_backorders : array_like
        Expected backorders of each item, not negative.
    machines : int
        Number of machines, 1 or more.
    per_machine : array_like of int
        Pieces of each item in a machine.

    Returns
    -------
    float
        Product over items of (1 - EBO/(N Z))^Z; 0 where backorders pass the pieces fitted.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Source
    ------
    Sherbrooke 2004, chapter 2.

    Examples
    --------
    >>> round(availability([0.1036383235, 0.1954345815], 10, [1, 2]), 9)
    0.970389752
    """
    short = not_negative_array("expected_backorders", expected_backorders)
    fitted = not_negative_array("per_machine", per_machine)
    count = whole("machines", machines, least=1)
    if short.shape != fitted.shape or (fitted < 1).any():
        raise ValueError("`per_machine` must hold 1 or more for each of `expected_backorders`")
    return float(np.prod(np.maximum(1 - short / (count * fitted), 0.0) ** fitted))


def metric(bases: Sequence[Base], depot_repair_years: float, depot_stock: int) -> TwoEchelon:
    """Expected backorders of a depot and its bases, base pipelines taken as Poisson.

    Parameters
    ----------
    bases : sequence of Base
        At least one.
    depot_repair_years : float
        Mean repair time at the depot [years], not negative.
    depot_stock : int
        Pieces at the depot, 0 or more.

    Returns
    -------
    TwoEchelon
        The delay at the depot lengthens the resupply of every base. It counts too few base backorders.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Source
    ------
    Sherbrooke 1968, Operations Research 16.

    Examples
    --------
    >>> net = metric([Base(12, 0.3, 0.02, 0.015, 1)] * 4, 0.06, 1)
    >>> round(net.base_ebo[0], 7)
    0.1008113
    """
    pipeline, ebo, _ = _depot(bases, depot_repair_years, depot_stock)
    means = [_base_mean(base, share * ebo) for base, share in zip(bases, _shares(bases), strict=True)]
    short = [poisson(mean).expected_above(base.stock) for mean, base in zip(means, bases, strict=True)]
    return TwoEchelon(pipeline, ebo, tuple(means), tuple(means), tuple(short))


def vari_metric(bases: Sequence[Base], depot_repair_years: float, depot_stock: int) -> TwoEchelon:
    """As `metric`, with the variance of each base's pipeline, fitted by the negative binomial law.

    Parameters
    ----------
    bases : sequence of Base
        At least one.
    depot_repair_years : float
        Mean repair time at the depot [years], not negative.
    depot_stock : int
        Pieces at the depot, 0 or more.

    Returns
    -------
    TwoEchelon
        Closer than `metric`; both are approximations.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Source
    ------
    Sherbrooke 1986, Operations Research 34; Graves 1985, Management Science 31. Each base holds a binomial
    share f of the depot's backorders B: mean f E[B], variance f (1-f) E[B] + f^2 V[B].

    Examples
    --------
    >>> net = vari_metric([Base(12, 0.3, 0.02, 0.015, 1)] * 4, 0.06, 1)
    >>> round(net.base_ebo[0], 7)
    0.1091172
    """
    pipeline, ebo, variance = _depot(bases, depot_repair_years, depot_stock)
    means, variances, short = [], [], []
    for base, part in zip(bases, _shares(bases), strict=True):
        mean = _base_mean(base, part * ebo)
        spread = mean - part * ebo + part * (1 - part) * ebo + part**2 * variance
        means.append(mean)
        variances.append(spread)
        short.append(negative_binomial(mean, spread).expected_above(base.stock))
    return TwoEchelon(pipeline, ebo, tuple(means), tuple(variances), tuple(short))


def _depot(bases: Sequence[Base], repair_years: float, stock: int) -> tuple[float, float, float]:
    """Pipeline, expected backorders and their variance."""
    if not bases:
        raise ValueError("`bases` must hold at least one base")
    repair = not_negative("depot_repair_years", repair_years)
    pieces = whole("depot_stock", stock)
    law = poisson(repair * sum(_sent_on(base) for base in bases))
    over = np.maximum(np.arange(len(law)) - pieces, 0)
    ebo = law.expected_above(pieces)
    return law.mean, ebo, max(float(np.dot(law.pmf, over**2)) - ebo**2, 0.0)


def _sent_on(base: Base) -> float:
    return base.rate_per_year * (1 - base.repaired_here)


def _shares(bases: Sequence[Base]) -> list[float]:
    total = sum(_sent_on(base) for base in bases)
    return [_sent_on(base) / total if total else 0.0 for base in bases]


def _base_mean(base: Base, depot_backorders: float) -> float:
    resupply = base.repaired_here * base.repair_years + (1 - base.repaired_here) * base.shipping_years
    return base.rate_per_year * resupply + depot_backorders
