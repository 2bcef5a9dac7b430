"""One item's answer: how many to keep for a demand, a lead time and a target, and what that achieves."""

from dataclasses import dataclass, replace

from numpy.typing import ArrayLike

from inventory.array_checks import FloatArray
from inventory.number_checks import not_negative, number, positive, whole
from inventory.stocking.demand_models import LARGEST_RATE_PER_YEAR, Demand
from inventory.stocking.explanation import explain
from inventory.stocking.lead_time_demand import (
    MOST_PIECES,
    TAIL_MASS,
    DistributionTooLongError,
    LeadTimeDemand,
)
from inventory.stocking.least_cost import LeastCost, StockingCost, least_cost
from inventory.stocking.service_levels import ServiceProfile
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget, StockingTarget

LONGEST_LEAD_TIME_DAYS = 3650.0
"""Lead times above ten years are refused. Source: the API contract."""

SHORTEST_LEAD_TIME_DAYS = 1e-9
"""A shorter lead time, a tenth of a millisecond, is taken as this: no answer shows the difference."""

LARGEST_ORDER_QUANTITY = 1_000_000
"""Order quantities above it are refused: no law is written out further."""

TARGET_TAIL_SHARE = 1e-3
"""The law is written out until what is left is this share of the miss that the target allows."""

COST_TAIL_MASS = 1e-15
"""Tail left out where a cost decides: an hour of downtime may cost a million times a year's holding."""


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """What to keep and what it achieves. Shares are between 0 and 1, pieces are expected values.

    `cycle_service_level` is P(lead-time demand <= reorder point), `fill_rate` the share of demand met from the
    shelf, `no_backorder` P(lead-time demand <= order-up-to), `expected_backorders` those at the order-up-to
    level, `expected_stockouts_per_year` the pieces asked for in a year that the shelf did not hold. A target
    without prices has no `annual_cost`; with them it is in the currency of the prices and not rounded.
    """

    stocked: bool
    reorder_point: int
    order_up_to: int
    expected_lead_time_demand: float
    lead_time_demand: FloatArray
    cycle_service_level: float
    fill_rate: float
    no_backorder: float
    expected_backorders: float
    expected_stockouts_per_year: float
    annual_cost: float | None
    explanation: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Rule:
    stocked: bool
    reorder_point: int
    order_up_to: int
    cost: LeastCost | None = None


def evaluate(
    demand: Demand,
    lead_time_days: float,
    lead_time_sd_days: float,
    order_quantity: int | None,
    target: StockingTarget,
) -> Evaluation:
    """Reorder point and order-up-to level for a target, and what they achieve.

    Parameters
    ----------
    demand : PoissonDemand, GammaPoissonDemand, GivenDemand or IntermittentDemand
        What is asked for.
    lead_time_days : float, in (0, 3650]
        Mean lead time.
    lead_time_sd_days : float, in [0, 3650]
        Its standard deviation; above 0 the lead time is gamma and orders do not cross.
    order_quantity : int
        Pieces ordered at once, 1 or more. With a `LeastCostTarget` None lets the order cost choose.
    target : ServiceLevelTarget or LeastCostTarget
        What the stock is for.

    Returns
    -------
    Evaluation
        `stocked` is False only where `no_backorder` is reached without a piece, or where holding one costs more
        than doing without.

    Raises
    ------
    ValueError
        If a parameter is out of range; the sentence names it in backticks.

    Source
    ------
    Formulas: the functions called. The meaning of each figure: the API contract.

    Examples
    --------
    >>> from inventory.stocking.demand_models import PoissonDemand
    >>> answer = evaluate(PoissonDemand(4.0), 45, 0, 1, ServiceLevelTarget("cycle_service_level", 0.98))
    >>> answer.reorder_point, answer.order_up_to
    (2, 3)
    """
    days = positive("lead_time_days", lead_time_days, most=LONGEST_LEAD_TIME_DAYS)
    days = max(days, SHORTEST_LEAD_TIME_DAYS)
    spread = not_negative("lead_time_sd_days", lead_time_sd_days)
    number("lead_time_sd_days", spread, most=LONGEST_LEAD_TIME_DAYS)
    quantity = _quantity(order_quantity, target)
    rate = number("rate_per_year", demand.yearly_pieces(days), most=LARGEST_RATE_PER_YEAR)
    law = _law(demand, days, spread, _tail(target))
    sizes = demand.sizes()
    if isinstance(target, LeastCostTarget):
        rule = _rule_of(least_cost(law, rate, quantity, _money(target), sizes))
    else:
        rule = _service_rule(law, quantity or 1, target, sizes)
    return _achieved(demand, (days, spread), law, rate, rule, target, sizes)


def _law(demand: Demand, days: float, spread: float, tail_mass: float) -> LeadTimeDemand:
    try:
        return demand.over(days, spread, tail_mass)
    except DistributionTooLongError:
        raise ValueError(
            f"`lead_time_days` and its spread must keep the demand over a lead time within {MOST_PIECES:,} pieces"
        ) from None


def _quantity(order_quantity: int | None, target: StockingTarget) -> int | None:
    if order_quantity is None and isinstance(target, LeastCostTarget):
        return None
    quantity = whole("order_quantity", order_quantity, least=1)
    return int(number("order_quantity", quantity, most=LARGEST_ORDER_QUANTITY))


def _tail(target: StockingTarget) -> float:
    if isinstance(target, LeastCostTarget):
        return COST_TAIL_MASS
    return min(TAIL_MASS, (1.0 - target.value) * TARGET_TAIL_SHARE)


def _money(target: LeastCostTarget) -> StockingCost:
    return StockingCost(
        holding_per_piece=target.unit_cost * target.holding_rate_per_year,
        order=target.order_cost,
        missing=target.downtime_cost_per_hour * target.hours_to_expedite,
    )


def _rule_of(cost: LeastCost) -> _Rule:
    return _Rule(cost.stocked, cost.reorder_point, cost.order_up_to, cost)


def _service_rule(
    law: LeadTimeDemand, quantity: int, target: ServiceLevelTarget, sizes: ArrayLike | None
) -> _Rule:
    if target.kind == "no_backorder":
        stock = law.smallest_within(target.value)
        if stock == 0:
            return _Rule(False, -1, 0)
        point = max(stock - quantity, 0)
    elif target.kind == "fill_rate":
        point = ServiceProfile(law, quantity, sizes).smallest_for_fill_rate(target.value)
    else:
        point = law.smallest_within(target.value)
    return _Rule(True, point, point + quantity)


def _achieved(
    demand: Demand,
    lead_time: tuple[float, float],
    law: LeadTimeDemand,
    rate: float,
    rule: _Rule,
    target: StockingTarget,
    sizes: ArrayLike | None,
) -> Evaluation:
    unfilled = 1.0
    if rule.stocked:
        quantity = rule.order_up_to - rule.reorder_point
        profile = ServiceProfile(law, quantity, sizes, most=rule.reorder_point)
        unfilled = float(profile.unfilled[rule.reorder_point + 1])
    answer = Evaluation(
        stocked=rule.stocked,
        reorder_point=rule.reorder_point,
        order_up_to=rule.order_up_to,
        expected_lead_time_demand=law.mean,
        lead_time_demand=law.pmf,
        cycle_service_level=law.chance_within(rule.reorder_point),
        fill_rate=1.0 - unfilled,
        no_backorder=law.chance_within(rule.order_up_to),
        expected_backorders=law.expected_above(rule.order_up_to),
        expected_stockouts_per_year=rate * unfilled,
        annual_cost=rule.cost.annual_cost if rule.cost else None,
        explanation=(),
    )
    return replace(answer, explanation=explain(answer, demand, lead_time, rate, target, rule.cost))
