"""The sentences under a stocking answer: what was assumed, what decided, what it comes to."""

from typing import TYPE_CHECKING

from inventory.stocking.least_cost import LeastCost
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget, StockingTarget

if TYPE_CHECKING:
    from inventory.stocking.demand_models import Demand
    from inventory.stocking.evaluate import Evaluation

MEASURES = {
    "cycle_service_level": "the chance that the demand over a lead time does not pass the reorder point",
    "fill_rate": "the share of demand met from the shelf",
    "no_backorder": "the chance that the demand over a lead time does not pass the order-up-to level",
}
"""What each service says in words."""


def explain(
    answer: "Evaluation",
    demand: "Demand",
    lead_time: tuple[float, float],
    rate: float,
    target: StockingTarget,
    cost: LeastCost | None,
) -> tuple[str, ...]:
    """Sentences in the order a storekeeper would ask.

    Parameters
    ----------
    answer : Evaluation
        The figures, without their explanation.
    demand : Demand
        The model they stand on.
    lead_time : tuple of float
        Mean and standard deviation [days].
    rate : float
        Pieces asked for in a year.
    target : StockingTarget
        What the stock is for.
    cost : LeastCost or None
        The comparison with holding none, where prices were given.

    Returns
    -------
    tuple of str
        Demand, lead time, decision, rule, what it comes to.

    Source
    ------
    Own wording.
    """
    return (
        demand.words(),
        _lead_time(answer, *lead_time),
        _decision(answer, target, cost),
        _rule(answer),
        _outcome(answer, rate),
    )


def _lead_time(answer: "Evaluation", days: float, spread: float) -> str:
    expected = f"{answer.expected_lead_time_demand:.3g} pieces are expected"
    none = _percent(float(answer.lead_time_demand[0]))
    if spread > 0:
        return (
            f"Over a lead time of {days:.4g} days that varies by {spread:.4g} days (gamma, orders do not cross)"
            f" {expected}; the chance of none is {none}."
        )
    return f"Over a lead time of {days:.4g} days {expected}; the chance of none is {none}."


def _decision(answer: "Evaluation", target: StockingTarget, cost: LeastCost | None) -> str:
    if isinstance(target, LeastCostTarget):
        return _cost_decision(answer, cost)
    return _service_decision(answer, target)


def _service_decision(answer: "Evaluation", target: ServiceLevelTarget) -> str:
    achieved = float(getattr(answer, target.kind))
    wanted = _percent(target.value)
    if not answer.stocked:
        return f"{MEASURES[target.kind].capitalize()} is {_percent(achieved)} without a piece: {wanted} was asked."
    return (
        f"The target is {target.kind} {wanted}, {MEASURES[target.kind]}: {_percent(achieved)} is the least that"
        " reaches it."
    )


def _cost_decision(answer: "Evaluation", cost: LeastCost | None) -> str:
    if cost is None:
        return "No prices were given."
    if answer.stocked:
        return (
            f"Keeping stock costs {cost.cost_of_some:,.2f} a year with downtime and orders, keeping none"
            f" {cost.cost_of_none:,.2f}."
        )
    return (
        f"Keeping none costs {cost.cost_of_none:,.2f} a year in downtime and orders, the cheapest stock"
        f" {cost.cost_of_some:,.2f}."
    )


def _rule(answer: "Evaluation") -> str:
    if not answer.stocked:
        return (
            "Hold none and order when one is asked for; look again when the demand or the lead time changes."
        )
    return (
        f"Order when on hand + on order - reserved has fallen to {answer.reorder_point},"
        f" up to {answer.order_up_to}."
    )


def _outcome(answer: "Evaluation", rate: float) -> str:
    short = answer.expected_stockouts_per_year
    if rate == 0:
        return "Nothing is expected to be asked for."
    filled = f"{_percent(answer.fill_rate)} of what is asked for is met from the shelf"
    if short >= 1:
        return f"{filled}; {short:.3g} pieces a year are not there when asked for."
    if short < ONCE_IN_YEARS_SHOWN:
        return f"{filled}; a piece is missing less than once in {1 / ONCE_IN_YEARS_SHOWN:,.0f} years."
    return f"{filled}; a piece is missing about once in {1 / short:.3g} years."


ONCE_IN_YEARS_SHOWN = 1e-3
"""Rarer shortages [a year] are not put into years: the model is not that good."""


def _percent(value: float) -> str:
    """Percent with the digits that matter near 100, never rounded up to it."""
    percent = 100 * value
    for digits in range(1, 9):
        text = f"{percent:.{digits}f}"
        if value >= 1 or not text.startswith("100"):
            return f"{float(text):g} %" if digits == 1 else f"{text} %"
    return "nearly 100 %"
