"""Stock against downtime: what a missing piece costs, emergency buys, and whether to stock at all."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from inventory.array_checks import FloatArray
from inventory.number_checks import not_negative, positive, whole
from inventory.stocking.lead_time_demand import LeadTimeDemand
from inventory.stocking.lot_size import critical_stock, whole_order_quantity
from inventory.stocking.service_levels import ServiceProfile


@dataclass(frozen=True, slots=True)
class DowntimeStock:
    """Base stock of least cost, the ratio it had to reach, its yearly cost."""

    stock: int
    critical_ratio: float
    annual_cost: float


@dataclass(frozen=True, slots=True)
class EmergencyStock:
    """Base stock of least cost where a missing piece is bought at once; the share so bought."""

    stock: int
    emergency_share: float
    annual_cost: float


@dataclass(frozen=True, slots=True)
class StockingCost:
    """Yearly money of one item: holding a piece, placing an order, one piece missing when asked for."""

    holding_per_piece: float
    order: float
    missing: float

    def __post_init__(self) -> None:
        positive("holding_per_piece", self.holding_per_piece)
        not_negative("order", self.order)
        not_negative("missing", self.missing)


@dataclass(frozen=True, slots=True)
class LeastCost:
    """The cheapest rule. Not stocked: reorder point -1, order up to 0, every piece bought when asked for."""

    stocked: bool
    reorder_point: int
    order_up_to: int
    annual_cost: float
    cost_of_none: float
    cost_of_some: float
    """Least cost with at least one piece kept."""

    @property
    def order_quantity(self) -> int:
        return self.order_up_to - self.reorder_point


LONGEST_QUANTITY_SEARCH = 5_000
"""Longest law [pieces] for which every order quantity worth a look is tried."""

MOST_QUANTITY_CHOSEN = 10_000
"""Largest economic order quantity from which the search for the best one starts."""


def downtime_base_stock(law: LeadTimeDemand, holding: float, backorder: float) -> DowntimeStock:
    """Smallest S with P(X <= S) >= backorder/(backorder + holding).

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time, or the pipeline.
    holding : float
        Cost of one piece on hand per year, above 0.
    backorder : float
        Cost of one outstanding backorder per year, above 0: 8,760 times the cost of an hour of downtime.

    Returns
    -------
    DowntimeStock
        Least of holding times on hand plus backorder times expected backorders.

    Raises
    ------
    ValueError
        If a cost is not above 0.

    Source
    ------
    Zipkin, Foundations of Inventory Management, 2000, chapter 6.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> downtime_base_stock(poisson(0.3), 80, 4.38e6).stock
    4
    """
    stock = critical_stock(law, backorder, holding)
    short = law.expected_above(stock)
    cost = holding * (stock - law.mean + short) + backorder * short
    return DowntimeStock(stock, backorder / (backorder + holding), cost)


def erlang_loss(stock: int, pipeline: float) -> float:
    """Share of demands that find none of S pieces and are met by emergency supply.

    Parameters
    ----------
    stock : int
        S, 0 or more.
    pipeline : float
        Demand rate times mean lead time, not negative.

    Returns
    -------
    float
        Erlang's B; only the mean of the lead time counts.

    Raises
    ------
    ValueError
        If a parameter is out of range.

    Source
    ------
    Erlang 1917; insensitivity in stock: Karush 1957, Operations Research 5.

    Examples
    --------
    >>> round(erlang_loss(2, 1.0), 12)
    0.2
    """
    return float(_losses(whole("stock", stock), not_negative("pipeline", pipeline))[-1])


def emergency_base_stock(
    rate_per_year: float, pipeline: float, *, holding: float, emergency: float
) -> EmergencyStock:
    """Base stock of least cost where a missing piece is bought at once at a price.

    Parameters
    ----------
    rate_per_year : float
        Demands a year, above 0.
    pipeline : float
        Demand rate times mean lead time, above 0.
    holding : float
        Cost of one piece on hand per year, above 0.
    emergency : float
        Cost of one emergency buy with its downtime, not negative.

    Returns
    -------
    EmergencyStock
        Least of holding (S - m(1-B)) + rate emergency B.

    Raises
    ------
    ValueError
        If a parameter is out of range.

    Source
    ------
    Karush 1957; B is convex in S (Messerli 1972, Bell System Technical Journal 51), so the first rise ends
    the search.

    Examples
    --------
    >>> emergency_base_stock(2.0, 0.3, holding=80, emergency=5000).stock
    3
    """
    rate, mean = positive("rate_per_year", rate_per_year), positive("pipeline", pipeline)
    held, bought = positive("holding", holding), not_negative("emergency", emergency)
    loss, best = 1.0, EmergencyStock(0, 1.0, rate * bought)
    while True:
        stock = best.stock + 1
        loss = mean * loss / (stock + mean * loss)
        cost = held * (stock - mean * (1 - loss)) + rate * bought * loss
        if cost >= best.annual_cost:
            return best
        best = EmergencyStock(stock, loss, cost)


def least_cost(
    law: LeadTimeDemand,
    rate_per_year: float,
    order_quantity: int | None,
    cost: StockingCost,
    sizes: ArrayLike | None = None,
) -> LeastCost:
    """The cheapest reorder point, or none at all, by looking at every one.

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time.
    rate_per_year : float
        Pieces asked for in a year, not negative.
    order_quantity : int or None
        Q; None lets the order cost choose it as well.
    cost : StockingCost
        Yearly money.
    sizes : array_like, optional
        Law of the pieces per demand; single pieces if left out.

    Returns
    -------
    LeastCost
        Holding times mean stock, orders, and pieces missing when asked for. Of equal costs the smaller stock,
        and none rather than some.

    Raises
    ------
    ValueError
        If a parameter is out of range.

    Source
    ------
    Hadley & Whitin, Analysis of Inventory Systems, 1963, chapter 4, with a cost per shortage; the cost has no
    convexity to lean on, so every reorder point up to the end of the law is tried.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> least_cost(poisson(0.001), 0.05, 1, StockingCost(6000, 0, 40000)).stocked
    False
    """
    rate = not_negative("rate_per_year", rate_per_year)
    none = rate * (cost.order + cost.missing)
    if order_quantity is not None:
        point, some = _best_point(law, rate, order_quantity, cost, sizes)
        return _choice(none, some, point, order_quantity)
    return _best_quantity(law, rate, cost, sizes, none)


def _best_quantity(
    law: LeadTimeDemand, rate: float, cost: StockingCost, sizes: ArrayLike | None, none: float
) -> LeastCost:
    """Quantities up to where ordering and holding alone cost more than the best rule found."""
    if len(law) > LONGEST_QUANTITY_SEARCH:
        raise ValueError(
            f"`order_quantity` must be given where the lead-time demand may pass {LONGEST_QUANTITY_SEARCH:,}"
        )
    start = 1
    if rate > 0 and cost.order > 0:
        start = int(whole_order_quantity(cost.order, cost.holding_per_piece, rate).quantity)
    if start > MOST_QUANTITY_CHOSEN:
        raise ValueError(
            f"`order_quantity` must be given where an order is so dear that more than {MOST_QUANTITY_CHOSEN:,} pieces"
            " at once would pay"
        )
    point, some = _best_point(law, rate, start, cost, sizes)
    best = _choice(none, some, point, start)
    best_quantity, least = start, some
    for direction in (-1, 1):
        quantity = start + direction
        while quantity >= 1 and _cost_floor(law, rate, quantity, cost) < least:
            point, some = _best_point(law, rate, quantity, cost, sizes)
            if some < least or (some == least and quantity < best_quantity):
                best_quantity, least, best = quantity, some, _choice(none, some, point, quantity)
            quantity += direction
    return best


def _cost_floor(law: LeadTimeDemand, rate: float, quantity: int, cost: StockingCost) -> float:
    """No rule with this quantity costs less: on hand is at least the mean position less the mean demand."""
    on_hand = max(0.0, (quantity + 1) / 2 - law.mean)
    return cost.order * rate / quantity + cost.holding_per_piece * on_hand


def _best_point(
    law: LeadTimeDemand, rate: float, quantity: int, cost: StockingCost, sizes: ArrayLike | None
) -> tuple[int, float]:
    profile = ServiceProfile(law, quantity, sizes)
    costs = _costs(profile, rate, quantity, cost)[1:]
    point = int(np.argmin(costs))
    return point, float(costs[point])


def _costs(profile: ServiceProfile, rate: float, quantity: int, cost: StockingCost) -> FloatArray:
    holding = cost.holding_per_piece * profile.on_hand
    return np.asarray(holding + cost.order * rate / quantity + rate * cost.missing * profile.unfilled)


def _choice(none: float, some: float, point: int, quantity: int) -> LeastCost:
    if none <= some:
        return LeastCost(False, -1, 0, none, none, some)
    return LeastCost(True, point, point + quantity, some, none, some)


def _losses(stock: int, pipeline: float) -> FloatArray:
    losses = np.ones(stock + 1)
    for pieces in range(1, stock + 1):
        waiting = pipeline * losses[pieces - 1]
        losses[pieces] = waiting / (pieces + waiting)
    return losses
