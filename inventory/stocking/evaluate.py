"""One item's answer: how many to keep for a demand, a lead time and a target, what that achieves, and why."""

from dataclasses import dataclass, replace

from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.number_checks import not_negative, number, positive, whole
from inventory.stocking.demand_models import (
    DAYS_PER_YEAR,
    LARGEST_RATE_PER_YEAR,
    Demand,
    GivenDemand,
    IntermittentDemand,
)
from inventory.stocking.lead_time_demand import (
    MOST_PIECES,
    TAIL_MASS,
    DistributionTooLongError,
    LeadTimeDemand,
)
from inventory.stocking.least_cost import (
    LeastCost,
    SpareValue,
    StockingCost,
    least_cost,
    none_unless_worth_it,
    spare_value,
)
from inventory.stocking.service_levels import ServiceProfile
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget, StockingTarget

LONGEST_LEAD_TIME_DAYS = 3650.0
"""Lead times above ten years are refused. Source: the API contract."""

SHORTEST_LEAD_TIME_DAYS = 1e-9
"""A shorter lead time, a tenth of a millisecond, is taken as this: no answer shows the difference."""

LARGEST_ORDER_QUANTITY = 1_000_000
"""Order quantities above it are refused: no distribution is written out further."""

TARGET_TAIL_SHARE = 1e-3
"""The distribution is written out until what is left is this share of the miss that the target allows."""

COST_TAIL_MASS = 1e-15
"""Tail left out where a cost decides: an hour of downtime may cost a million times a year's holding."""

RAREST_SHORTAGE_PER_YEAR = 1e-3
"""Rarer shortages are not put into years: the model is not that good."""


@dataclass(frozen=True, slots=True, eq=False)
class Evaluation:
    """What to keep and what it achieves. Shares are between 0 and 1, pieces are expected values.

    `stocked` is False only where `no_backorder` is reached without a piece, or where holding one costs more than doing without.
    `cycle_service_level` is P(lead-time demand <= reorder point), `fill_rate` the share of demand met from the shelf,
    `no_backorder` P(lead-time demand <= order-up-to), `expected_backorders` those at the order-up-to level,
    `expected_stockouts_per_year` the pieces requested in a year that are not on the shelf. A target without prices has no
    `annual_cost`; with them it is in the currency of the prices and not rounded.
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
    reasons: tuple[Fact, ...]


def evaluate(
    demand: Demand,
    lead_time_days: float,
    lead_time_sd_days: float,
    order_quantity: int | None,
    target: StockingTarget,
) -> Evaluation:
    """Reorder point and order-up-to level for a target.

    With a spread above 0 the lead time is gamma and orders do not cross. With a `LeastCostTarget` and no order quantity the
    order cost chooses it.
    """
    days = positive("lead_time_days", lead_time_days, most=LONGEST_LEAD_TIME_DAYS)
    days = max(days, SHORTEST_LEAD_TIME_DAYS)
    spread = not_negative("lead_time_sd_days", lead_time_sd_days, most=LONGEST_LEAD_TIME_DAYS)
    quantity = _quantity(order_quantity, target)
    rate = number("rate_per_year", demand.yearly_pieces(days), most=LARGEST_RATE_PER_YEAR)
    pieces = _over_lead_time(demand, days, spread, _tail(target))
    sizes = demand.sizes()
    if isinstance(target, LeastCostTarget):
        cost = least_cost(pieces, rate, quantity, _yearly_cost(target), sizes)
        decision: tuple[Fact, ...] = ()
        if sizes is None and cost.order_up_to - cost.reorder_point == 1:
            spare = spare_value(rate, days / DAYS_PER_YEAR, _yearly_cost(target))
            cost, decision = none_unless_worth_it(cost, spare), (_break_even(spare, target),)
        point, up_to = cost.reorder_point, cost.order_up_to
        answer = replace(_achieved(pieces, rate, point, up_to, sizes), annual_cost=cost.annual_cost)
        decision = (_cost_decision(cost), *decision)
    else:
        point, up_to = _service_levels(pieces, quantity or 1, target, sizes)
        answer = _achieved(pieces, rate, point, up_to, sizes)
        decision = (_service_decision(answer, target),)
    lead_time = _lead_time(pieces, days, spread)
    reasons = (
        demand.as_fact(),
        lead_time,
        *_what_it_rests_on(demand, days),
        *decision,
        _order_rule(answer),
        _outcome(answer, rate),
    )
    return replace(answer, reasons=reasons)


def _what_it_rests_on(demand: Demand, days: float) -> tuple[Fact, ...]:
    """For how long it holds where units age, and the distribution that a record of several pieces at once supports."""
    if isinstance(demand, GivenDemand) and demand.span is not None:
        return (demand.span(days),)
    if isinstance(demand, IntermittentDemand) and demand.sizes() is not None:
        return (demand.spread_fact(),)
    return ()


def _over_lead_time(demand: Demand, days: float, spread: float, tail_mass: float) -> LeadTimeDemand:
    try:
        return demand.over(days, spread, tail_mass)
    except DistributionTooLongError:
        raise ValueError(
            f"`lead_time_days` and its spread must keep the demand over a lead time within {MOST_PIECES:,} pieces"
        ) from None


def _quantity(order_quantity: int | None, target: StockingTarget) -> int | None:
    if order_quantity is None and isinstance(target, LeastCostTarget):
        return None
    return whole("order_quantity", order_quantity, least=1, most=LARGEST_ORDER_QUANTITY)


def _tail(target: StockingTarget) -> float:
    if isinstance(target, LeastCostTarget):
        return COST_TAIL_MASS
    return min(TAIL_MASS, (1.0 - target.value) * TARGET_TAIL_SHARE)


def _yearly_cost(target: LeastCostTarget) -> StockingCost:
    return StockingCost(
        holding_per_piece=target.unit_cost * target.holding_rate_per_year,
        order=target.order_cost,
        missing=target.downtime_cost_per_hour * target.hours_to_expedite,
    )


def _service_levels(
    pieces: LeadTimeDemand, quantity: int, target: ServiceLevelTarget, sizes: FloatArray | None
) -> tuple[int, int]:
    """Reorder point and order-up-to level; -1 and 0 where no piece is needed."""
    if target.kind == "no_backorder":
        stock = pieces.smallest_within(target.value)
        if stock == 0:
            return -1, 0
        point = max(stock - quantity, 0)
    elif target.kind == "fill_rate":
        point = ServiceProfile(pieces, quantity, sizes).smallest_for_fill_rate(target.value)
    else:
        point = pieces.smallest_within(target.value)
    return point, point + quantity


def _achieved(
    pieces: LeadTimeDemand, rate: float, point: int, up_to: int, sizes: FloatArray | None
) -> Evaluation:
    stocked, unfilled = up_to > 0, 1.0
    if stocked:
        unfilled = float(ServiceProfile(pieces, up_to - point, sizes, most=point).unfilled[point + 1])
    return Evaluation(
        stocked=stocked,
        reorder_point=point,
        order_up_to=up_to,
        expected_lead_time_demand=pieces.mean,
        lead_time_demand=pieces.pmf,
        cycle_service_level=pieces.chance_within(point),
        fill_rate=1.0 - unfilled,
        no_backorder=pieces.chance_within(up_to),
        expected_backorders=pieces.expected_above(up_to),
        expected_stockouts_per_year=rate * unfilled,
        annual_cost=None,
        reasons=(),
    )


def _lead_time(pieces: LeadTimeDemand, days: float, spread: float) -> Fact:
    values = {
        "lead_time_days": days,
        "expected_pieces": float(pieces.mean),
        "chance_of_none": float(pieces.pmf[0]),
    }
    if spread > 0:
        return fact("lead_time_varies", lead_time_sd_days=spread, **values)
    return fact("lead_time_fixed", **values)


def _cost_decision(cost: LeastCost) -> Fact:
    code = "stock_costs_less" if cost.stocked else "no_stock_costs_less"
    return fact(code, cost_with_stock=cost.cost_of_some, cost_without_stock=cost.cost_of_none)


def _break_even(spare: SpareValue, target: LeastCostTarget) -> Fact:
    return fact(
        "single_spare_break_even",
        share_away=spare.share_away,
        price_up_to=spare.holding_up_to / target.holding_rate_per_year,
        rate_from=spare.rate_from,
    )


def _service_decision(answer: Evaluation, target: ServiceLevelTarget) -> Fact:
    code = "service_reached" if answer.stocked else "service_reached_without_stock"
    return fact(code, service=target.kind, target=target.value, achieved=float(getattr(answer, target.kind)))


def _order_rule(answer: Evaluation) -> Fact:
    if not answer.stocked:
        return fact("keep_none")
    return fact("order_at_reorder_point", reorder_point=answer.reorder_point, order_up_to=answer.order_up_to)


def _outcome(answer: Evaluation, rate: float) -> Fact:
    short, filled = answer.expected_stockouts_per_year, answer.fill_rate
    if rate == 0:
        return fact("no_demand_expected")
    if short >= 1:
        return fact("shortages_each_year", fill_rate=filled, pieces_per_year=short)
    if short < RAREST_SHORTAGE_PER_YEAR:
        return fact(
            "shortage_very_rare", fill_rate=filled, once_in_more_than_years=1 / RAREST_SHORTAGE_PER_YEAR
        )
    return fact("shortage_once_in_years", fill_rate=filled, once_in_years=1 / short)
