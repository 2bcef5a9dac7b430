"""What a stocking rule does: one-for-one, order quantity at a reorder point, review at intervals.

Each measure has its own name and none stands for another:

- `cycle_service_level`: P(X <= r), no shortage between an order and its arrival;
- `fill_rate`: share of the pieces asked for that the shelf gives at once;
- `ready_rate` (no backorder): share of time in which nobody waits.

X is the demand over a lead time, r the reorder point, S the order-up-to level, Q the order quantity.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike
from scipy import fft

from inventory.array_checks import FloatArray
from inventory.number_checks import fraction, not_negative, positive, whole
from inventory.stocking.lead_time_demand import LeadTimeDemand, allowed_above, from_pmf


@dataclass(frozen=True, slots=True)
class Service:
    """What a rule achieves in the long run; pieces, shares between 0 and 1.

    `on_hand` and `expected_backorders` are averages over time.
    """

    reorder_point: int
    order_up_to: int
    cycle_service_level: float
    fill_rate: float
    ready_rate: float
    expected_backorders: float
    on_hand: float


def fill_rate_at(law: LeadTimeDemand, stock: int, sizes: ArrayLike | None = None) -> float:
    """Share of the pieces asked for that a base stock gives at once.

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time.
    stock : int
        Base stock (order-up-to level); below 1 nothing is given.
    sizes : array_like, optional
        P(size = 0), P(size = 1), … of the pieces per demand; single pieces if left out.

    Returns
    -------
    float
        P(X <= S-1) for single pieces, else E[min((S-X)+, Z)]/E[Z] with size Z.

    Raises
    ------
    ValueError
        If `sizes` is no law.

    Source
    ------
    Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed. 2004, chapter 2; sizes: Axsäter, Inventory
    Control, 2nd ed. 2006, chapter 5.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> round(fill_rate_at(poisson(0.5), 3), 6)
    0.985612
    """
    return 0.0 if stock < 1 else reorder_point_order_quantity(law, stock - 1, 1, sizes).fill_rate


def one_for_one(law: LeadTimeDemand, stock: int, sizes: ArrayLike | None = None) -> Service:
    """Every piece that leaves is ordered again at once (S-1, S).

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time, or the pipeline.
    stock : int
        Base stock S, 0 or more.
    sizes : array_like, optional
        Law of the pieces per demand; single pieces if left out.

    Returns
    -------
    Service
        With reorder point S - 1.

    Raises
    ------
    ValueError
        If `stock` is no whole number or negative.

    Source
    ------
    Palm 1938; Sherbrooke 2004, chapter 2. On hand is S - mean + expected backorders.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> round(one_for_one(poisson(0.5), 3).on_hand, 6)
    2.501939
    """
    return reorder_point_order_quantity(law, whole("stock", stock) - 1, 1, sizes)


def reorder_point_order_quantity(
    law: LeadTimeDemand, reorder_point: int, order_quantity: int, sizes: ArrayLike | None = None
) -> Service:
    """Order Q when on hand + on order - reserved has fallen to r.

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time.
    reorder_point : int
        r, -1 or more.
    order_quantity : int
        Q, 1 or more.
    sizes : array_like, optional
        Law of the pieces per demand; single pieces if left out. Orders are then whole multiples of Q.

    Returns
    -------
    Service
        The position is uniform on r+1 … r+Q, and the one-for-one measures are averaged over it.

    Raises
    ------
    ValueError
        If a level is out of range.

    Source
    ------
    Hadley & Whitin, Analysis of Inventory Systems, 1963, chapter 4; worked case: Snyder & Shen, Fundamentals
    of Supply Chain Theory, 2nd ed., Example 5.8.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> round(reorder_point_order_quantity(poisson(3.0), 3, 5).fill_rate, 7)
    0.8666328
    """
    point = whole("reorder_point", reorder_point, least=-1)
    quantity = whole("order_quantity", order_quantity, least=1)
    return ServiceProfile(law, quantity, sizes, most=point).at(point)


def periodic_review(law_at_start: LeadTimeDemand, law_at_end: LeadTimeDemand, stock: int) -> Service:
    """Raise the position to S at each review; measured just after and just before a delivery.

    Parameters
    ----------
    law_at_start, law_at_end : LeadTimeDemand
        Demand over the lead time, and over the lead time and one review interval.
    stock : int
        Order-up-to level S, 0 or more.

    Returns
    -------
    Service
        Cycle service level just before a delivery, P(demand over lead time and interval <= S). The fill rate
        is 1 less the growth of the backorders over the cycle divided by its demand; backorders, stock and ready
        rate are the means of the two ends.

    Raises
    ------
    ValueError
        If `stock` is out of range or the second law is not the larger.

    Source
    ------
    Hadley & Whitin 1963, chapter 5; Silver, Pyke & Thomas, Inventory and Production Management in Supply
    Chains, 4th ed. 2017, chapter 6.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> round(periodic_review(poisson(1.0), poisson(2.0), 5).cycle_service_level, 6)
    0.983436
    """
    level = whole("stock", stock)
    interval_demand = positive("law_at_end", law_at_end.mean - law_at_start.mean)
    ends = (law_at_start, law_at_end)
    before, after = (law.expected_above(level) for law in ends)
    short = (before + after) / 2
    return Service(
        reorder_point=level - 1,
        order_up_to=level,
        cycle_service_level=law_at_end.chance_within(level),
        fill_rate=1 - (after - before) / interval_demand,
        ready_rate=sum(law.chance_within(level) for law in ends) / 2,
        expected_backorders=short,
        on_hand=level - (law_at_start.mean + law_at_end.mean) / 2 + short,
    )


def smallest_reorder_point_for_fill_rate(
    law: LeadTimeDemand, order_quantity: int, target: float, sizes: ArrayLike | None = None
) -> int:
    """Smallest r >= 0 whose fill rate reaches the target.

    Parameters
    ----------
    law : LeadTimeDemand
        Demand over the lead time.
    order_quantity : int
        Q, 1 or more.
    target : float, in (0, 1)
        Share of the pieces asked for that the shelf gives at once.
    sizes : array_like, optional
        Law of the pieces per demand; single pieces if left out.

    Returns
    -------
    int
        Reorder point.

    Raises
    ------
    ValueError
        If a parameter is out of range.

    Source
    ------
    As for `reorder_point_order_quantity`.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> smallest_reorder_point_for_fill_rate(poisson(0.5), 1, 0.95)
    2
    """
    return ServiceProfile(law, order_quantity, sizes).smallest_for_fill_rate(fraction("target", target))


def holding_and_backorder_cost(service: Service, holding: float, backorder: float) -> float:
    """Yearly cost of the pieces on hand and of the pieces waited for.

    Parameters
    ----------
    service : Service
        Averages over time.
    holding, backorder : float
        Cost of one piece on hand, and of one outstanding backorder, per year.

    Returns
    -------
    float
        holding times on hand plus backorder times expected backorders.

    Raises
    ------
    ValueError
        If a cost is negative.

    Source
    ------
    Zipkin, Foundations of Inventory Management, 2000, chapter 6.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> round(holding_and_backorder_cost(one_for_one(poisson(0.3), 2), 80, 20000), 4)
    213.9487
    """
    return (
        not_negative("holding", holding) * service.on_hand
        + not_negative("backorder", backorder) * service.expected_backorders
    )


class ServiceProfile:
    """Measures of (r, Q) for every reorder point from -1 up, at the cost of one.

    The position is uniform on r+1 … r+Q, so each measure is a mean over a window of base stocks.
    """

    def __init__(
        self,
        law: LeadTimeDemand,
        order_quantity: int,
        sizes: ArrayLike | None = None,
        most: int | None = None,
    ) -> None:
        self.law, self.quantity = law, whole("order_quantity", order_quantity, least=1)
        reach = len(law) + (0 if sizes is None else int(np.size(sizes)))
        self.most = reach if most is None else most
        self.top = self.most + self.quantity
        above = law.chances_above(self.top)
        unfilled = _unfilled_single(above) if sizes is None else _unfilled(above, sizes)
        self.unfilled = np.clip(self._window(unfilled), 0.0, 1.0)
        self.waiting = self._window(above)
        self.short = self._window(law.expected_above_each(self.top))
        levels = np.arange(self.most + 2) + (self.quantity - 1) / 2
        self.on_hand = np.maximum(levels - law.mean + self.short, 0.0)

    def _window(self, by_level: FloatArray) -> FloatArray:
        """Means over `quantity` base stocks; the first is that of reorder point -1."""
        if self.quantity == 1:
            return by_level
        sums = np.cumsum(by_level[::-1])[::-1]
        later = np.append(sums[self.quantity :], 0.0)
        return np.asarray((sums[: len(later)] - later) / self.quantity)

    def smallest_for_fill_rate(self, target: float) -> int:
        """Smallest r >= 0 whose fill rate reaches the target."""
        return int(np.argmax(self.unfilled[1:] <= allowed_above(target)))

    def at(self, point: int) -> Service:
        place = point + 1
        return Service(
            reorder_point=point,
            order_up_to=point + self.quantity,
            cycle_service_level=self.law.chance_within(point),
            fill_rate=1.0 - float(self.unfilled[place]),
            ready_rate=1.0 - float(self.waiting[place]),
            expected_backorders=float(self.short[place]),
            on_hand=float(self.on_hand[place]),
        )


def _unfilled_single(above: FloatArray) -> FloatArray:
    """Share of single pieces not given at once, for base stocks 0, 1, …"""
    return np.append(1.0, above[:-1])


def _unfilled(above: FloatArray, sizes: ArrayLike) -> FloatArray:
    """As above for demands of several pieces: E[min(on hand, Z)] sums P(on hand >= k) P(Z >= k) over k."""
    size = from_pmf(sizes)
    served = _convolved(1.0 - above, size.chances_above(len(size) - 1))[: len(above) - 1]
    return np.append(1.0, np.clip(1.0 - served / positive("sizes", size.mean), 0.0, 1.0))


def _convolved(left: FloatArray, right: FloatArray) -> FloatArray:
    if len(left) * len(right) <= DIRECT_PRODUCTS:
        return np.asarray(np.convolve(left, right))
    length = len(left) + len(right) - 1
    return np.asarray(fft.irfft(fft.rfft(left, length) * fft.rfft(right, length), length))


DIRECT_PRODUCTS = 20_000_000
"""Products up to which a sum of two demands is formed term by term; beyond, by Fourier transform."""
