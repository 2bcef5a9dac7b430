"""The reorder point and order quantity of least yearly cost, or keeping none, where a missing piece costs downtime."""

from dataclasses import dataclass
from math import ceil, floor, sqrt

import numpy as np

from inventory.array_checks import FloatArray
from inventory.number_checks import not_negative, positive
from inventory.stocking.demand_settings import SHIPPED
from inventory.stocking.lead_time_demand import LeadTimeDemand
from inventory.stocking.service_levels import ServiceProfile

LONGEST_QUANTITY_SEARCH = 5_000
"""Longest distribution [pieces] for which every order quantity worth a look is tried."""

MOST_QUANTITY_CHOSEN = 10_000
"""Largest economic order quantity from which the search for the best one starts."""


@dataclass(frozen=True, slots=True)
class StockingCost:
    """Yearly money of one item: holding a piece, placing an order, one piece missing when it is requested."""

    holding_per_piece: float
    order: float
    missing: float

    def __post_init__(self) -> None:
        positive("holding_per_piece", self.holding_per_piece)
        not_negative("order", self.order)
        not_negative("missing", self.missing)


@dataclass(frozen=True, slots=True)
class LeastCost:
    """The cheapest levels. Not stocked: reorder point -1, order up to 0, every piece bought when it is requested."""

    stocked: bool
    reorder_point: int
    order_up_to: int
    annual_cost: float
    cost_of_none: float
    cost_of_some: float
    """Least cost with at least one piece kept."""


def least_cost(
    demand: LeadTimeDemand,
    rate_per_year: float,
    order_quantity: int | None,
    cost: StockingCost,
    sizes: FloatArray | None = None,
) -> LeastCost:
    """Holding times mean stock, orders, and missing pieces; of equal costs the smaller stock, and none rather than some.

    Without an order quantity the order cost chooses it too. The cost need not be convex, so every reorder point up to the end
    of the distribution is tried. Source: Hadley & Whitin, Analysis of Inventory Systems, 1963, chapter 4, with a cost per
    shortage.
    """
    none = rate_per_year * (cost.order + cost.missing)
    if order_quantity is not None:
        point, some = _best_point(demand, rate_per_year, order_quantity, cost, sizes)
        return _choice(none, some, point, order_quantity)
    return _best_quantity(demand, rate_per_year, cost, sizes, none)


def economic_order_quantity(order_cost: float, holding_cost: float, demand: float) -> int:
    """Whole pieces of least cost; holding cost per piece and demand are for one unit of time, nothing runs short.

    The cost is convex in the quantity, so the best whole number is a neighbour of the root. Source: Harris 1913, Factory 10.

    >>> economic_order_quantity(8, 0.225, 1300)
    304
    """
    fixed, holding = positive("order_cost", order_cost), positive("holding_cost", holding_cost)
    rate = positive("demand", demand)
    root = sqrt(2 * fixed * rate / holding)
    near = (max(1, floor(root)), max(1, ceil(root)))
    return min(near, key=lambda quantity: fixed * rate / quantity + holding * quantity / 2)


def erlang_losses(most: int, pipeline: float) -> FloatArray:
    """Share of demands that find none of 0, 1, … `most` pieces while `pipeline` = rate times mean time away are away on average.

    Only the mean of that time counts. Source: Erlang 1917; in stock: Karush 1957, Operations Research 5.
    """
    losses = [1.0]
    for pieces in range(1, most + 1):
        losses.append(pipeline * losses[-1] / (pieces + pipeline * losses[-1]))
    return np.array(losses)


def erlang_loss(stock: int, pipeline: float) -> float:
    return float(erlang_losses(stock, pipeline)[-1])


@dataclass(frozen=True, slots=True)
class SpareValue:
    """Yearly cost with the best number of spares and without any, and from where on the first one pays."""

    cost_of_some: float
    cost_of_none: float
    share_away: float
    """Of the demands, those that find a single spare away, still to be replaced."""
    holding_up_to: float
    """Yearly holding cost of a piece below which one pays."""
    rate_from: float | None
    """Demands a year above which one pays; None where it is away too long to pay at any rate."""


def spare_value(rate_per_year: float, years_away: float, cost: StockingCost) -> SpareValue:
    """Spares replaced one for one, which protect nobody while they are away: who finds none buys in an emergency.

    A piece is paid for from its order on, so holding counts for those that are away too. With the loss of Erlang, one pays where
    rate missing / (1 + rate years_away) is more than its holding: rate times missing alone says so too early.

    >>> spare_value(0.2, 1.5, StockingCost(6600, 0, 40_000)).cost_of_some > 0.2 * 40_000
    True
    """
    pipeline, orders = rate_per_year * years_away, rate_per_year * cost.order

    def cost_of(spares: int) -> float:
        missing = rate_per_year * cost.missing * erlang_loss(spares, pipeline)
        return cost.holding_per_piece * spares + orders + missing

    spares = 1
    while cost_of(spares + 1) < cost_of(spares):
        spares += 1
    left = cost.missing - cost.holding_per_piece * years_away
    return SpareValue(
        cost_of_some=cost_of(spares),
        cost_of_none=orders + rate_per_year * cost.missing,
        share_away=erlang_loss(1, pipeline),
        holding_up_to=rate_per_year * cost.missing / (1 + pipeline),
        rate_from=cost.holding_per_piece / left if left > 0 else None,
    )


def is_tie(one: float, other: float, share: float = SHIPPED.tie_share) -> bool:
    """Yearly costs closer than their rates are known."""
    return abs(one - other) <= share * max(one, other)


def none_unless_worth_it(best: LeastCost, spare: SpareValue) -> LeastCost:
    """Keeps none where a single spare would be away too often to pay, or costs as much as none."""
    none, some = spare.cost_of_none, spare.cost_of_some
    if not best.stocked or (some < none and not is_tie(some, none)):
        return best
    return LeastCost(False, -1, 0, none, none, some)


def _best_quantity(
    demand: LeadTimeDemand, rate: float, cost: StockingCost, sizes: FloatArray | None, none: float
) -> LeastCost:
    """Quantities up to where ordering and holding alone cost more than the best levels found."""
    if len(demand) > LONGEST_QUANTITY_SEARCH:
        raise ValueError(
            f"`order_quantity` must be given where the lead-time demand may pass {LONGEST_QUANTITY_SEARCH:,}"
        )
    start = 1
    if rate > 0 and cost.order > 0:
        start = economic_order_quantity(cost.order, cost.holding_per_piece, rate)
    if start > MOST_QUANTITY_CHOSEN:
        raise ValueError(
            f"`order_quantity` must be given where an order costs so much that more than {MOST_QUANTITY_CHOSEN:,} pieces"
            " at once would pay"
        )
    point, some = _best_point(demand, rate, start, cost, sizes)
    best = _choice(none, some, point, start)
    best_quantity, least = start, some
    for direction in (-1, 1):
        quantity = start + direction
        while quantity >= 1 and _cost_floor(demand, rate, quantity, cost) < least:
            point, some = _best_point(demand, rate, quantity, cost, sizes)
            if some < least or (some == least and quantity < best_quantity):
                best_quantity, least, best = quantity, some, _choice(none, some, point, quantity)
            quantity += direction
    return best


def _cost_floor(demand: LeadTimeDemand, rate: float, quantity: int, cost: StockingCost) -> float:
    """No levels with this quantity cost less: on hand is at least the mean position less the mean demand."""
    on_hand = max(0.0, (quantity + 1) / 2 - demand.mean)
    return cost.order * rate / quantity + cost.holding_per_piece * on_hand


def _best_point(
    demand: LeadTimeDemand, rate: float, quantity: int, cost: StockingCost, sizes: FloatArray | None
) -> tuple[int, float]:
    profile = ServiceProfile(demand, quantity, sizes)
    holding = cost.holding_per_piece * profile.on_hand
    costs = (holding + cost.order * rate / quantity + rate * cost.missing * profile.unfilled)[1:]
    point = int(np.argmin(costs))
    return point, float(costs[point])


def _choice(none: float, some: float, point: int, quantity: int) -> LeastCost:
    if none <= some:
        return LeastCost(False, -1, 0, none, none, some)
    return LeastCost(True, point, point + quantity, some, none, some)
