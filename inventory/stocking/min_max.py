"""The best (s, S): at a review, order up to S once the position has fallen to s or below."""

from dataclasses import dataclass

import numpy as np

from inventory.array_checks import FloatArray
from inventory.number_checks import not_negative, positive
from inventory.stocking.lead_time_demand import LeadTimeDemand


@dataclass(frozen=True, slots=True)
class MinMax:
    """Order when the position at a review is `order_at` or less, up to `order_up_to`; cost per period."""

    order_at: int
    order_up_to: int
    cost: float


def best_min_max(
    demand: LeadTimeDemand,
    *,
    holding_cost: float,
    backorder_cost: float,
    order_cost: float,
    exposure: LeadTimeDemand | None = None,
) -> MinMax:
    """The (s, S) of least cost per period, exactly.

    Parameters
    ----------
    demand : LeadTimeDemand
        Demand of one period, not always zero.
    holding_cost, backorder_cost : float
        Cost of one piece on hand, and of one waiting, at the end of a period, above 0.
    order_cost : float
        Cost of one order, not negative.
    exposure : LeadTimeDemand, optional
        Demand over the lead time and the period in which costs are counted; one period without a lead time.

    Returns
    -------
    MinMax
        Of equal costs the one first met from below.

    Raises
    ------
    ValueError
        If a cost is out of range or there is no demand.

    Source
    ------
    Zheng & Federgruen 1991, Operations Research 39; worked case: Snyder & Shen, Fundamentals of Supply Chain
    Theory, 2nd ed., Example 4.7.

    Examples
    --------
    >>> from inventory.stocking.lead_time_demand import poisson
    >>> best = best_min_max(poisson(6), holding_cost=1, backorder_cost=4, order_cost=5)
    >>> best.order_at, best.order_up_to, round(best.cost, 6)
    (4, 10, 8.034112)
    """
    positive("demand", demand.mean)
    holding, backorder = positive("holding_cost", holding_cost), positive("backorder_cost", backorder_cost)
    fixed = not_negative("order_cost", order_cost)
    search = _Search(demand, exposure or demand, holding, backorder, fixed)
    return search.best()


class _Search:
    """Zheng and Federgruen's search over the costs G(y) and the renewal masses of one-period demands."""

    def __init__(
        self, demand: LeadTimeDemand, exposure: LeadTimeDemand, holding: float, backorder: float, fixed: float
    ) -> None:
        self.pmf, self.fixed = demand.pmf, fixed
        self.exposure, self.holding, self.backorder = exposure, holding, backorder
        self.short = exposure.expected_above_each(len(exposure) + 1)
        self.renewal = np.array([1 / (1 - demand.pmf[0])])

    def position_cost(self, position: int) -> float:
        """Expected cost of a period whose position after ordering is this one; it may be negative."""
        if position < 0:
            short = self.exposure.mean - position
        else:
            short = float(self.short[position]) if position < len(self.short) else 0.0
        return self.holding * (position - self.exposure.mean + short) + self.backorder * short

    def masses(self, count: int) -> FloatArray:
        """Expected periods spent 0, 1, … count-1 pieces below the order-up-to level."""
        while len(self.renewal) < count:
            reach = min(len(self.renewal), len(self.pmf) - 1)
            known = self.renewal[::-1][:reach]
            step = float(np.dot(self.pmf[1 : reach + 1], known)) / (1 - self.pmf[0])
            self.renewal = np.append(self.renewal, step)
        return self.renewal[:count]

    def cost(self, order_at: int, order_up_to: int) -> float:
        span = self.masses(order_up_to - order_at)
        costs = [self.position_cost(order_up_to - below) for below in range(len(span))]
        return (self.fixed + float(np.dot(span, costs))) / float(span.sum())

    def best(self) -> MinMax:
        lowest = self._cheapest_position()
        order_at, up_to = lowest - 1, lowest
        while self.cost(order_at, up_to) > self.position_cost(order_at):
            order_at -= 1
        best = MinMax(order_at, up_to, self.cost(order_at, up_to))
        candidate = up_to + 1
        while self.position_cost(candidate) <= best.cost:
            if self.cost(best.order_at, candidate) < best.cost:
                order_at = best.order_at
                while self.cost(order_at, candidate) <= self.position_cost(order_at + 1):
                    order_at += 1
                best = self._settled(order_at, candidate)
            candidate += 1
        return best

    def _settled(self, order_at: int, up_to: int) -> MinMax:
        """The best s for this S is near; its neighbours are looked at too."""
        near = range(order_at - 1, min(order_at + 2, up_to))
        choice = min(near, key=lambda point: self.cost(point, up_to))
        return MinMax(choice, up_to, self.cost(choice, up_to))

    def _cheapest_position(self) -> int:
        position = 0
        while self.position_cost(position + 1) < self.position_cost(position):
            position += 1
        while self.position_cost(position - 1) <= self.position_cost(position):
            position -= 1
        return position
