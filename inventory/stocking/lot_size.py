"""How many to order at once, and how many to buy for one season."""

from dataclasses import dataclass
from math import ceil, exp, floor, pi, sqrt

import numpy as np
from scipy import special

from inventory.number_checks import positive
from inventory.stocking.lead_time_demand import LeadTimeDemand


@dataclass(frozen=True, slots=True)
class LotSize:
    """Order quantity, its cost per unit of time, and the share of the cycle spent short."""

    quantity: float
    cost: float
    backorder_fraction: float = 0.0


@dataclass(frozen=True, slots=True)
class SeasonBuy:
    """Quantity bought for one season and its expected cost of leftover and shortage."""

    quantity: float
    cost: float


def economic_order_quantity(order_cost: float, holding_cost: float, demand: float) -> LotSize:
    """Order quantity of least cost where nothing may run short.

    Parameters
    ----------
    order_cost : float
        Cost of placing one order, above 0.
    holding_cost : float
        Cost of one piece on hand per unit of time, above 0.
    demand : float
        Pieces per unit of time, above 0.

    Returns
    -------
    LotSize
        Quantity (not rounded) and cost of ordering and holding per unit of time.

    Raises
    ------
    ValueError
        If a parameter is not above 0.

    Source
    ------
    Harris 1913, Factory 10; worked case: Snyder & Shen, Fundamentals of Supply Chain Theory, 2nd ed., Example 3.1.

    Examples
    --------
    >>> round(economic_order_quantity(8, 0.225, 1300).quantity, 5)
    304.04678
    """
    fixed, holding, rate = _door(order_cost, holding_cost, demand)
    return LotSize(sqrt(2 * fixed * rate / holding), sqrt(2 * fixed * rate * holding))


def economic_order_quantity_with_backorders(
    order_cost: float, holding_cost: float, backorder_cost: float, demand: float
) -> LotSize:
    """Order quantity of least cost where demands may wait at a price.

    Parameters
    ----------
    order_cost, holding_cost, demand : float
        As for `economic_order_quantity`.
    backorder_cost : float
        Cost of one waiting piece per unit of time, above 0.

    Returns
    -------
    LotSize
        Quantity (not rounded), cost, and share of the quantity that is waited for.

    Raises
    ------
    ValueError
        If a parameter is not above 0.

    Source
    ------
    Snyder & Shen, 2nd ed., section 3.5 and Example 3.8.

    Examples
    --------
    >>> round(economic_order_quantity_with_backorders(8, 0.225, 5, 1300).quantity, 6)
    310.812555
    """
    fixed, holding, rate = _door(order_cost, holding_cost, demand)
    waiting = positive("backorder_cost", backorder_cost)
    quantity = sqrt(2 * fixed * rate * (holding + waiting) / (holding * waiting))
    cost = sqrt(2 * fixed * rate * holding * waiting / (holding + waiting))
    return LotSize(quantity, cost, holding / (holding + waiting))


def whole_order_quantity(order_cost: float, holding_cost: float, demand: float) -> LotSize:
    """Whole number of pieces of least cost where nothing may run short.

    Parameters
    ----------
    order_cost, holding_cost, demand : float
        As for `economic_order_quantity`.

    Returns
    -------
    LotSize
        At least one piece; of two equal costs the smaller quantity.

    Raises
    ------
    ValueError
        If a parameter is not above 0.

    Source
    ------
    The cost is convex in the quantity, so the best whole number is a neighbour of the root.

    Examples
    --------
    >>> whole_order_quantity(8, 0.225, 1300).quantity
    304
    """
    fixed, holding, rate = _door(order_cost, holding_cost, demand)
    root = sqrt(2 * fixed * rate / holding)
    return min(
        (LotSize(quantity, fixed * rate / quantity + holding * quantity / 2) for quantity in _near(root)),
        key=lambda lot: lot.cost,
    )


def whole_order_quantity_with_backorders(
    order_cost: float, holding_cost: float, backorder_cost: float, demand: float
) -> LotSize:
    """Whole number of pieces of least cost where demands may wait at a price.

    Parameters
    ----------
    order_cost, holding_cost, backorder_cost, demand : float
        As for `economic_order_quantity_with_backorders`.

    Returns
    -------
    LotSize
        At least one piece; the share waited for is left at its best value.

    Raises
    ------
    ValueError
        If a parameter is not above 0.

    Source
    ------
    Snyder & Shen, 2nd ed., section 3.5.

    Examples
    --------
    >>> whole_order_quantity_with_backorders(8, 0.225, 5, 1300).quantity
    311
    """
    best = economic_order_quantity_with_backorders(order_cost, holding_cost, backorder_cost, demand)
    holding = holding_cost * backorder_cost / (holding_cost + backorder_cost)
    return min(
        (
            LotSize(
                quantity, order_cost * demand / quantity + holding * quantity / 2, best.backorder_fraction
            )
            for quantity in _near(best.quantity)
        ),
        key=lambda lot: lot.cost,
    )


def newsvendor(law: LeadTimeDemand, overage: float, underage: float) -> SeasonBuy:
    """Smallest quantity with P(demand <= quantity) >= underage/(overage + underage).

    Parameters
    ----------
    law : LeadTimeDemand
        Demand of the season.
    overage, underage : float
        Cost of one piece left over, and of one piece short, above 0.

    Returns
    -------
    SeasonBuy
        Whole pieces.

    Raises
    ------
    ValueError
        If a cost is not above 0.

    Source
    ------
    Arrow, Harris & Marschak 1951, Econometrica 19.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> newsvendor(poisson(20), 1, 4).quantity
    24
    """
    over, under = positive("overage", overage), positive("underage", underage)
    quantity = critical_stock(law, under, over)
    short = law.expected_above(quantity)
    return SeasonBuy(quantity, over * (quantity - law.mean + short) + under * short)


def normal_newsvendor(mean: float, sd: float, overage: float, underage: float) -> SeasonBuy:
    """Quantity of least expected cost for normal demand.

    Parameters
    ----------
    mean : float
        Expected demand, above 0.
    sd : float
        Standard deviation, above 0.
    overage, underage : float
        Cost of one unit left over, and of one unit short, above 0.

    Returns
    -------
    SeasonBuy
        Not rounded.

    Raises
    ------
    ValueError
        If a parameter is not above 0.

    Source
    ------
    Snyder & Shen, 2nd ed., Example 4.3.

    Examples
    --------
    >>> round(normal_newsvendor(50, 8, 0.18, 0.7).quantity, 6)
    56.603956
    """
    centre, spread = positive("mean", mean), positive("sd", sd)
    over, under = positive("overage", overage), positive("underage", underage)
    z = float(special.ndtri(under / (over + under)))
    density = exp(-z * z / 2) / sqrt(2 * pi)
    return SeasonBuy(centre + z * spread, (over + under) * spread * density)


def critical_stock(law: LeadTimeDemand, short_cost: float, held_cost: float) -> int:
    """Smallest x with P(demand > x) <= held/(short + held): the ratio is never formed near 1.

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the time that matters.
    short_cost, held_cost : float
        Cost of one piece short and of one piece held, above 0.

    Returns
    -------
    int
        The base stock of least cost.

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
    >>> critical_stock(poisson(0.3), 4.38e6, 80)
    4
    """
    short, held = positive("short_cost", short_cost), positive("held_cost", held_cost)
    above = 1.0 - law.chances_within()
    return int(np.argmax(above <= held / (short + held) * (1 + RATIO_SLACK)))


RATIO_SLACK = 1e-12
"""Relative rounding allowed where a chance is compared with a ratio of costs."""


def _near(root: float) -> list[int]:
    return sorted({max(1, floor(root)), max(1, ceil(root))})


def _door(order_cost: float, holding_cost: float, demand: float) -> tuple[float, float, float]:
    return (
        positive("order_cost", order_cost),
        positive("holding_cost", holding_cost),
        positive("demand", demand),
    )
