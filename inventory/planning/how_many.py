"""How many to keep and to order at once, for a part that is kept."""

from math import floor

from inventory.models import TargetKind
from inventory.planning.case import Asked, Case
from inventory.planning.decision import Decision, unanswered
from inventory.planning.facts import Levels
from inventory.planning.stock_at_all import by_numbers, cost_of, costs_in_words, none_held
from inventory.planning.terms import START_VALUE
from inventory.planning.words import amount, figure, levels_words, listed
from inventory.stocking.evaluate import evaluate
from inventory.stocking.least_cost import economic_order_quantity
from inventory.stocking.targets import LeastCostTarget, ServiceLevelTarget

MEASURES = {
    "cycle_service_level": "the chance that the demand over a lead time does not pass the reorder point",
    "fill_rate": "the share of demand met from the shelf",
    "no_backorder": "the chance that the demand over a lead time does not pass the order-up-to level",
}


def answered(case: Case, asked: Asked) -> Decision:
    """Levels for the target; ValueError where the figures cannot be worked out."""
    if asked.rate_per_year <= 0:
        return none_held("Nothing is expected to be asked for from the shelf: keep none.")
    quantity, quantity_words = order_quantity(case, asked)
    none, kept_because = by_numbers(case, asked, quantity)
    if none is not None:
        return none
    if case.target.kind == TargetKind.COST:
        return _least_cost(case, asked, quantity, kept_because, quantity_words)
    return _for_service(case, asked, quantity, kept_because, quantity_words)


def order_quantity(case: Case, asked: Asked) -> tuple[int, str]:
    """Whole pieces of least cost, no more than a year asks for, and the sentence that says so."""
    least = max(1, round(asked.pieces_per_job))
    small = "one piece" if least == 1 else f"what one job takes, about {least},"
    yearly = asked.rate_per_year + case.need.planned_per_year
    price, cost = case.facts.price, case.order_cost
    if price is None or not cost:
        missing = "unit_cost" if price is None else f"order_cost in {case.facts.currency}"
        return least, f"Orders are for {small} at a time: {missing} is not known."
    holding = float(price) * case.terms.holding_rate_per_year
    best = max(least, economic_order_quantity(float(cost), holding, yearly))
    quantity = max(least, min(best, floor(yearly)))
    capped = f" ({best} would be cheapest, but that is more than a year's demand)" if quantity < best else ""
    words = (
        f"An order costs {amount(cost, case.facts.currency)}, so {quantity} at a time are ordered{capped}."
    )
    return quantity, words


def _for_service(
    case: Case, asked: Asked, quantity: int, kept_because: tuple[str, ...], quantity_words: str
) -> Decision:
    lead_time, target = case.lead_time, case.target
    assert lead_time is not None
    wanted = ServiceLevelTarget(target.kind, target.value)  # type: ignore[arg-type]
    found = evaluate(asked.demand, lead_time.mean_days, lead_time.sd_days, quantity, wanted)
    levels = Levels(found.stocked, found.reorder_point, found.order_up_to)
    if not levels.stocked:
        return none_held(*kept_because, f"{_target_words(case)} It is reached without a piece: keep none.")
    return Decision(
        levels=levels,
        stock_at_all=kept_because,
        how_many=(_target_words(case), quantity_words, f"So {levels_words(levels)}."),
    )


def _target_words(case: Case) -> str:
    target = case.target
    name = target.kind.replace("_", " ")
    basis = f" ({START_VALUE})" if target.is_start_value else ""
    return (
        f"The target for parts of importance {target.importance} is a {name} of {figure(100 * target.value)} %"
        f"{basis}: {MEASURES[target.kind]}."
    )


def _least_cost(
    case: Case, asked: Asked, quantity: int, kept_because: tuple[str, ...], quantity_words: str
) -> Decision:
    if case.not_priced:
        return unanswered(
            f"The target is least cost, and cannot be worked out: enter {listed(case.not_priced)}."
        )
    lead_time, prices = case.lead_time, _prices(case, asked)
    assert lead_time is not None
    found = evaluate(asked.demand, lead_time.mean_days, lead_time.sd_days, quantity, prices)
    both = costs_in_words(case, cost_of(case, asked, quantity))
    if not found.stocked:
        return none_held(*kept_because, f"The target is least cost. Keeping none is cheaper: {both}.")
    levels = Levels(found.stocked, found.reorder_point, found.order_up_to)
    return Decision(
        levels=levels,
        stock_at_all=(*kept_because, f"The target is least cost. Keeping pays: {both}."),
        how_many=(quantity_words, f"So {levels_words(levels)}."),
    )


def _prices(case: Case, asked: Asked) -> LeastCostTarget:
    return LeastCostTarget(
        unit_cost=float(case.facts.price or 0),
        holding_rate_per_year=case.terms.holding_rate_per_year,
        downtime_cost_per_hour=float(case.downtime_per_hour or 0) / asked.pieces_per_job,
        hours_to_expedite=float(case.hours_to_expedite or 0),
        order_cost=float(case.order_cost or 0),
    )
