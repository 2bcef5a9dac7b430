"""Whether to stock a part at all, and how many: levels with their reasons, or what has to be entered first."""

from dataclasses import KW_ONLY, dataclass
from math import floor
from typing import Any

from inventory.facts import Fact, fact
from inventory.models import HoldingReason, Importance, Lifecycle, TargetKind
from inventory.planning.policy_inputs import HOLD_NONE, HOLD_ONE, PolicyLevels, RecommendationInput
from inventory.planning.shelf_demand import ShelfDemand, money
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.evaluate import Evaluation, evaluate
from inventory.stocking.least_cost import (
    LeastCost,
    SpareValue,
    StockingCost,
    economic_order_quantity,
    is_tie,
    least_cost,
    spare_value,
)
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget

REVIEW_DAYS = 365
"""Levels are reviewed after a year: start value, no source."""

REVIEW_NONE_DAYS = 180
"""A part that is not kept is reviewed sooner: start value, no source."""

REVIEW_UNANSWERED_DAYS = 30
"""What could not be answered is reviewed within a month: start value, no source."""

ENDED = {Lifecycle.RUN_DOWN: "item_run_down", Lifecycle.BLOCKED: "item_blocked"}
"""Lifecycles in which nothing is bought, with the code that says so."""

FAR_FROM_BREAK_EVEN = 10.0
"""A spare that would still pay at a price so many times its own needs no break-even: own choice, no source."""

RARE_PER_YEAR = 1.0
"""A part that is requested less often is kept as insurance, and its break-even is always named: own choice, no source."""

HOURS_PER_DAY = 24.0

MOST_POSITIONS_TRIED = 100
"""Beyond the break-even; a tie that lasts longer is left without a number of positions."""

NONE_CHEAPER = ("none_cheaper", "least_cost_without_stock")
"""Comparisons after which none is kept."""


@dataclass(frozen=True, slots=True)
class StockingDecision:
    """`levels` is None where no answer can be given; then today's stay."""

    levels: PolicyLevels | None
    stock_at_all: tuple[Fact, ...]
    _: KW_ONLY
    how_many: tuple[Fact, ...] = ()
    review_after_days: int = REVIEW_DAYS
    buys_none: bool = False
    """The part ends or is kept under another number: not even a missing one is bought."""


def decide_levels(given: RecommendationInput, demand: ShelfDemand) -> StockingDecision:
    """Levels for the target; ValueError where the figures cannot be calculated."""
    return decide_without_numbers(given) or keep_insured(given, _decide_by_numbers(given, demand))


def cannot_decide(given: RecommendationInput, reason: Fact) -> StockingDecision:
    return decide_without_numbers(given) or keep_insured(given, _unanswered(reason))


def not_bought(given: RecommendationInput) -> Fact | None:
    """Why the part is not bought, whatever the demand."""
    if given.need.kept_as_id is not None:
        return fact("same_part_kept_as", stock_number=given.kept_as or f"item {given.need.kept_as_id}")
    kept_in = given.need.kept_in
    if kept_in is not None:
        return fact("kept_in_storeroom", storeroom=kept_in.code, minutes=kept_in.minutes)
    code = ENDED.get(Lifecycle(given.item.lifecycle))
    return fact(code, stock_number=given.item.stock_number) if code else None


def decide_without_numbers(given: RecommendationInput) -> StockingDecision | None:
    reason = not_bought(given)
    if reason:
        # A person's decision to insure is never undone silently.
        ends = _is_insurance(given) and reason.code != "kept_in_storeroom"
        insurance = (fact("insurance_ends"),) if ends else ()
        return _keep_none(reason, *insurance, buys_none=True)
    return keep_insured(given, _keep_none(fact("no_unplanned_demand"))) if given.need.demand is None else None


def keep_insured(given: RecommendationInput, decision: StockingDecision) -> StockingDecision:
    """At least one is kept where a person decided so, whatever the numbers say."""
    if not _is_insurance(given) or (decision.levels is not None and decision.levels.stocked):
        return decision
    is_calculated = decision.levels is not None and given.need.demand is not None
    kept = (
        given.today
        if given.today is not None and given.today.stocked
        else HOLD_ONE.of_jobs(given.links_per_job)
    )
    first, *more = decision.stock_at_all
    reasons = (fact("kept_as_insurance"), fact("by_numbers_alone", finding=first), *more)
    return StockingDecision(HOLD_ONE.of_jobs(given.links_per_job) if is_calculated else kept, reasons)


def _is_insurance(given: RecommendationInput) -> bool:
    return given.item.holding_reason == HoldingReason.INSURANCE


def _keep_none(*reasons: Fact, buys_none: bool = False) -> StockingDecision:
    return StockingDecision(HOLD_NONE, reasons, review_after_days=REVIEW_NONE_DAYS, buys_none=buys_none)


def _unanswered(reason: Fact) -> StockingDecision:
    reasons = (reason, fact("levels_stay_until_then"))
    return StockingDecision(None, reasons, review_after_days=REVIEW_UNANSWERED_DAYS)


def _decide_by_numbers(given: RecommendationInput, demand: ShelfDemand) -> StockingDecision:
    if demand.rate_per_year <= 0:
        return _keep_none(fact("no_demand_for_stock"))
    is_tolerable, wait = _tolerable_wait(given)
    if is_tolerable:
        return _keep_none(*wait, *break_even(given, demand))
    quantity, how = order_quantity(given, demand)
    is_by_cost = given.target.kind == TargetKind.COST
    if given.missing_costs:
        if is_by_cost:
            return _unanswered(fact("least_cost_not_known", missing=given.missing_costs))
        missing = fact("costs_not_compared", missing=given.missing_costs)
        reasons = (*wait, missing, *break_even(given, demand))
        return _for_service(given, demand, quantity, reasons, how)
    costs = _compare(given, demand, quantity)
    verdict = _verdict(given, costs)
    reasons = (*wait, _cost_fact(verdict, given, costs), *break_even(given, demand))
    if verdict == "costs_alike":
        return _as_today(given, reasons)
    if verdict in NONE_CHEAPER:
        return _keep_none(*reasons)
    return (_for_least_cost if is_by_cost else _for_service)(given, demand, quantity, reasons, how)


def _tolerable_wait(given: RecommendationInput) -> tuple[bool, tuple[Fact, ...]]:
    tolerable, hours = given.target.tolerable_wait_hours, given.hours_to_expedite
    if tolerable is None:
        return False, ()
    wait = {"importance": given.target.importance, "tolerable_wait_hours": tolerable}
    if hours is None:
        return False, (fact("tolerable_wait_not_compared", **wait),)
    code = "expedited_in_tolerable_wait" if tolerable >= hours else "expedited_after_tolerable_wait"
    return tolerable >= hours, (fact(code, **wait, **_expedite(given)),)


def _expedite(given: RecommendationInput) -> dict[str, Any]:
    return {"hours_to_expedite": given.hours_to_expedite, "basis": given.expedite_basis}


def _compare(given: RecommendationInput, demand: ShelfDemand, quantity: int) -> LeastCost | SpareValue:
    """Least cost with and without stock, all costs known; of single pieces by the loss model."""
    cost = _yearly_cost(given, demand)
    if demand.sizes is not None or quantity > 1:
        return least_cost(demand.law, demand.rate_per_year, quantity, cost, demand.sizes)
    return spare_value(demand.rate_per_year, demand.days / DAYS_PER_YEAR, cost)


def break_even(given: RecommendationInput, demand: ShelfDemand) -> tuple[Fact, ...]:
    """From when a single spare pays; nothing where a cost is not known, or where it is no insurance and beyond question."""
    if given.price is None or given.downtime_per_hour is None or demand.sizes is not None:
        return ()
    if order_quantity(given, demand)[0] > 1:
        return ()
    cost = _yearly_cost(given, demand)
    spare = spare_value(demand.rate_per_year, demand.days / DAYS_PER_YEAR, cost)
    is_rare = demand.rate_per_year < RARE_PER_YEAR
    is_far = spare.holding_up_to > FAR_FROM_BREAK_EVEN * cost.holding_per_piece
    if is_far and not is_rare and not _is_insurance(given):
        return ()
    found = _break_even(given, demand, spare, cost)
    if given.hours_to_expedite is not None:
        return (found,)
    return fact("without_spare_waits_for_order", days=demand.days), found


def _verdict(given: RecommendationInput, costs: LeastCost | SpareValue) -> str:
    some, none = costs.cost_of_some, costs.cost_of_none
    is_by_cost = given.target.kind == TargetKind.COST
    is_vital = given.need.importance == Importance.VITAL and not is_by_cost
    if is_tie(some, none, given.need.tie_share) and not is_vital:
        return "costs_alike"
    if some < none:
        return "least_cost_with_stock" if is_by_cost else "stock_cheaper"
    if is_vital:
        return "none_cheaper_but_vital"
    return "least_cost_without_stock" if is_by_cost else "none_cheaper"


def _as_today(given: RecommendationInput, reasons: tuple[Fact, ...]) -> StockingDecision:
    """A tie decides nothing: what is kept stays, and nothing is bought for it."""
    if given.today is None or not given.today.stocked:
        return _keep_none(*reasons)
    return StockingDecision(given.today, reasons)


def _break_even(
    given: RecommendationInput, demand: ShelfDemand, spare: SpareValue, cost: StockingCost
) -> Fact:
    """From which price, rate and number of positions a single spare pays."""
    positions, rate = given.need.positions, spare.rate_from
    values = {
        "share_away": spare.share_away,
        "days_away": demand.days,
        "price_up_to": str(
            money(spare.holding_up_to / given.terms.holding_rate_per_year / given.links_per_job)
        ),
        "currency": given.item.currency,
    }
    if rate is None:
        return fact("spare_never_pays", **values)
    values |= {"rate_from": rate, "rate_per_year": demand.rate_per_year}
    positions_from = _positions_from(given, demand, rate, cost) if positions else None
    if positions_from is None:
        return fact("spare_pays_from_rate", **values)
    return fact("spare_pays_from_positions", **values, positions=positions, positions_from=positions_from)


def _positions_from(
    given: RecommendationInput, demand: ShelfDemand, rate_from: float, cost: StockingCost
) -> int | None:
    """The fewest positions like these with which stock costs less, and not about as much."""
    each, years = demand.rate_per_year / given.need.positions, demand.days / DAYS_PER_YEAR
    first = floor(rate_from / each) + 1
    for count in range(first, first + MOST_POSITIONS_TRIED):
        value = spare_value(count * each, years, cost)
        if not is_tie(value.cost_of_some, value.cost_of_none, given.need.tie_share):
            return count
    return None


def _cost_fact(code: str, given: RecommendationInput, cost: LeastCost | SpareValue) -> Fact:
    return fact(
        code,
        cost_with_stock=str(money(cost.cost_of_some)),
        cost_without_stock=str(money(cost.cost_of_none)),
        currency=given.item.currency,
        **_expedite(given),
    )


def _yearly_cost(given: RecommendationInput, demand: ShelfDemand) -> StockingCost:
    """Where no emergency delivery is known, a missing piece waits for an ordinary one, as in the budget."""
    price, downtime, hours = given.price, given.downtime_per_hour, given.hours_to_expedite
    assert price is not None
    assert downtime is not None
    if hours is None:
        hours = demand.days * HOURS_PER_DAY
    return StockingCost(
        holding_per_piece=float(price) * given.terms.holding_rate_per_year,
        order=float(given.order_cost or 0),
        missing=float(downtime) * hours / demand.pieces_per_job,
    )


def order_quantity(given: RecommendationInput, demand: ShelfDemand) -> tuple[int, Fact]:
    """Whole pieces of least cost, no more than a year's demand; of chain whole jobs, which the reason gives in links."""
    least, links = max(1, round(demand.pieces_per_job)), given.links_per_job
    price, cost, currency = given.price, given.order_cost, given.item.currency
    if price is None or not cost:
        missing = (
            fact("enter_unit_cost", stock_number=given.item.stock_number)
            if price is None
            else fact("enter_order_cost", currency=currency)
        )
        if least * links == 1:
            return least, fact("ordered_one_by_one", missing=missing)
        return least, fact("ordered_by_the_job", quantity=least * links, missing=missing)
    yearly = demand.rate_per_year + given.need.planned_per_year
    holding = float(price) * given.terms.holding_rate_per_year
    cheapest = max(least, economic_order_quantity(float(cost), holding, yearly))
    quantity = max(least, min(cheapest, floor(yearly)))
    values = {"order_cost": str(cost), "currency": currency, "quantity": quantity * links}
    if quantity < cheapest:
        return quantity, fact("order_quantity_of_a_year", **values, cheapest_quantity=cheapest * links)
    return quantity, fact("order_quantity_of_least_cost", **values)


def _for_service(
    given: RecommendationInput, demand: ShelfDemand, quantity: int, reasons: tuple[Fact, ...], how: Fact
) -> StockingDecision:
    target = given.target
    found = _evaluate(given, demand, quantity, ServiceLevelTarget(target.kind, target.value))  # type: ignore[arg-type]
    promise = fact(
        "service_target_default" if target.is_start_value else "service_target",
        importance=target.importance,
        kind=target.kind,
        target=target.value,
    )
    if not found.stocked:
        return _keep_none(*reasons, promise, fact("target_met_without_stock"))
    return _stocked(given, found, reasons, (promise, how))


def _for_least_cost(
    given: RecommendationInput, demand: ShelfDemand, quantity: int, reasons: tuple[Fact, ...], how: Fact
) -> StockingDecision:
    costs = LeastCostTarget(
        unit_cost=float(given.price or 0),
        holding_rate_per_year=given.terms.holding_rate_per_year,
        downtime_cost_per_hour=float(given.downtime_per_hour or 0) / demand.pieces_per_job,
        hours_to_expedite=float(given.hours_to_expedite or 0),
        order_cost=float(given.order_cost or 0),
    )
    return _stocked(given, _evaluate(given, demand, quantity, costs), reasons, (how,))


def _evaluate(
    given: RecommendationInput,
    demand: ShelfDemand,
    quantity: int,
    target: ServiceLevelTarget | LeastCostTarget,
) -> Evaluation:
    assert given.lead_time is not None
    return evaluate(demand.demand, given.lead_time.mean_days, given.lead_time.sd_days, quantity, target)


def _stocked(
    given: RecommendationInput, found: Evaluation, reasons: tuple[Fact, ...], how_many: tuple[Fact, ...]
) -> StockingDecision:
    levels = PolicyLevels(found.stocked, found.reorder_point, found.order_up_to).of_jobs(given.links_per_job)
    recommended = fact(
        "levels_recommended", reorder_point=levels.reorder_point, order_up_to=levels.order_up_to
    )
    return StockingDecision(levels, reasons, how_many=(*how_many, recommended))
