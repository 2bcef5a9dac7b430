"""What a person is advised to keep of one part in one storeroom, every figure with its reason."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np

from inventory.facts import Fact, fact
from inventory.models import Recommendation, TargetKind
from inventory.planning.inputs_hash import basis_of, inputs_hash, named_inputs
from inventory.planning.policy_inputs import HOLD_NONE, PolicyLevels, RecommendationInput, levels_fact
from inventory.planning.shelf_demand import (
    AchievedService,
    ShelfDemand,
    achieved_service,
    cannot_be_calculated,
    money,
    service_in_the_long_run,
    shelf_demand,
)
from inventory.planning.stocking_decision import StockingDecision, cannot_decide, decide_levels

UNSEEN = 1e-6
"""Chances that add up to less are left out of a chart."""
MOST_BARS = 1_000
PLAIN = frozenset({str, int, float, bool, type(None)})


@dataclass(frozen=True)
class _Result:
    decision: StockingDecision
    levels: PolicyLevels
    demand: ShelfDemand | None = None
    service: AchievedService | None = None
    service_today: AchievedService | None = None
    service_later: AchievedService | None = None


def recommend(given: RecommendationInput) -> Recommendation:
    """A draft; what is not known is None, never 0. Equal inputs give equal advice, to the last digit."""
    try:
        # What is kept under another number, or in another storeroom, is counted there.
        demand = shelf_demand(given) if given.need.is_kept_here else None
        result = _with_figures(given, demand)
    except (ValueError, OverflowError) as error:
        result = _without_figures(given, cannot_be_calculated(error))
    return _draft(given, result)


def _with_figures(given: RecommendationInput, demand: ShelfDemand | None) -> _Result:
    if demand is None:
        return _without_figures(given, fact("enter_lead_time_first", stock_number=given.item.stock_number))
    decision = decide_levels(given, demand)
    levels = _levels(given, decision)
    today = None if given.today is None else achieved_service(given, demand, given.today)
    later = service_in_the_long_run(given, demand, levels)
    return _Result(decision, levels, demand, achieved_service(given, demand, levels), today, later)


def _without_figures(given: RecommendationInput, reason: Fact) -> _Result:
    decision = cannot_decide(given, reason)
    return _Result(decision, _levels(given, decision))


def _levels(given: RecommendationInput, decision: StockingDecision) -> PolicyLevels:
    return decision.levels or given.today or HOLD_NONE


def _draft(given: RecommendationInput, found: _Result) -> Recommendation:
    need, lead_time, service, levels = given.need, given.lead_time, found.service, found.levels
    is_cost, named = given.target.kind == TargetKind.COST, named_inputs(given)
    basis = basis_of(given, named)
    return Recommendation(
        item_id=need.item_id,
        storeroom_id=need.storeroom_id,
        is_answered=found.decision.levels is not None,
        **levels.as_json(),
        changed=levels != (given.today or HOLD_NONE),
        importance=need.importance,
        model=need.model,
        target_kind=given.target.kind,
        target_value=None if is_cost else given.target.value,
        rate_per_year=need.rate_per_year * need.mean_pieces,
        planned_per_year=need.planned_per_year * need.mean_pieces,
        lead_time_days=lead_time.mean_days if lead_time else None,
        lead_time_sd_days=lead_time.sd_days if lead_time else None,
        expected_lead_time_demand=found.demand.law.mean * given.links_per_job if found.demand else None,
        fill_rate=service.fill_rate if service else None,
        expected_stockouts_per_year=service.expected_stockouts_per_year if service else None,
        holding_cost_per_year=service.holding_cost_per_year if service else None,
        currency=given.item.currency,
        today=_today(given, found),
        explanation=_plain(_explanation(given, found)),
        evidence=_plain(_evidence(given, found) | {"inputs": named, "basis": basis}),
        review_after_days=found.decision.review_after_days,
        inputs_hash=inputs_hash(basis, given.today),
    )


def _today(given: RecommendationInput, found: _Result) -> dict[str, Any]:
    if given.today is None:
        return {}
    return found.service_today.as_json(given.today) if found.service_today else given.today.as_json()


def _explanation(given: RecommendationInput, found: _Result) -> tuple[Fact, ...]:
    """In the order in which a manager would ask."""
    service = None if found.decision.buys_none else found.service
    return (
        *given.need.explanation,
        *_kept_for(given),
        *_lead_time(given),
        *(found.demand.facts if found.demand else ()),
        *found.decision.stock_at_all,
        *found.decision.how_many,
        *(_outcome(given, found.levels, service) if service else ()),
        *(
            (_service(found.service_later, "expected_service_in_the_long_run"),)
            if found.service_later
            else ()
        ),
        *_against_today(given, found.levels, service, found.service_today),
        *given.need.cover_explanation,
    )


def _kept_for(given: RecommendationInput) -> Iterable[Fact]:
    """The storerooms that share this stock, and why they do."""
    for near in given.need.keeps_for:
        way = {"storeroom": near.code, "minutes": near.minutes}
        if near.stops_per_year:
            costs = {
                "fetching_cost": str(money(near.fetching_cost)),
                "holding_cost": str(money(near.holding_cost or 0.0)),
            }
            yield fact("kept_for_storeroom", **way, **costs, currency=given.item.currency)
        else:
            yield fact("kept_for_storeroom_without_demand", **way)


def _lead_time(given: RecommendationInput) -> tuple[Fact, ...]:
    lead_time = given.lead_time
    if lead_time is None:
        return ()
    if not lead_time.sd_days:
        return fact("lead_time_without_spread", mean_days=lead_time.mean_days), *lead_time.reasons
    days = {"mean_days": lead_time.mean_days, "sd_days": lead_time.sd_days}
    return fact("lead_time_with_spread", **days), *lead_time.reasons


def _outcome(given: RecommendationInput, levels: PolicyLevels, service: AchievedService) -> tuple[Fact, ...]:
    facts = [_service(service, "expected_service" if levels.stocked else "bought_when_needed")]
    held, tied_up = service.holding_cost_per_year, service.tied_up
    if held is None:
        facts.append(fact("tied_up_not_known", stock_number=given.item.stock_number))
    elif tied_up:
        costs = {"tied_up": str(tied_up), "holding_cost_per_year": str(held)}
        facts.append(fact("expected_cost", **costs, currency=given.item.currency))
    if given.terms.are_start_values and held:
        facts.append(fact("holding_rate_default", rate_per_year=given.terms.holding_rate_per_year))
    if given.need.planned_per_year > 0:
        planned = given.need.planned_per_year * given.need.mean_pieces
        facts.append(fact("planned_in_addition", planned_per_year=planned))
    return tuple(facts)


def _service(service: AchievedService, code: str) -> Fact:
    return fact(code, shortages_per_year=service.shortages_per_year, fill_rate=service.fill_rate)


def _against_today(
    given: RecommendationInput,
    levels: PolicyLevels,
    service: AchievedService | None,
    service_today: AchievedService | None,
) -> tuple[Fact, ...]:
    today = given.today
    if today is None:
        return (fact("no_levels_today"),)
    if today == levels:
        return (fact("same_levels_today"),)
    other = fact("other_levels_today", levels=levels_fact(today))
    if service is None or service_today is None:
        return (other,)
    facts = (other, _service(service_today, "service_today" if today.stocked else "bought_when_needed_today"))
    before, after = service_today.tied_up, service.tied_up
    if before is None or after is None or before == after:
        return facts
    code = "change_ties_up" if after > before else "change_frees"
    return (*facts, fact(code, amount=str(abs(after - before)), currency=given.item.currency))


def _law(demand: ShelfDemand) -> list[float]:
    """Chances of 0, 1, 2, … pieces in a lead time, of chain of so many jobs, as far as a chart can show them."""
    seen = int(np.searchsorted(demand.law.chances_within(), 1.0 - UNSEEN)) + 1
    return [float(chance) for chance in demand.law.pmf[: min(seen, MOST_BARS)]]


def _evidence(given: RecommendationInput, found: _Result) -> dict[str, Any]:
    lead_time, service = given.lead_time, found.service
    return {
        **given.need.evidence,
        "chain": given.need.chain.as_json() if given.need.chain else None,
        "member_ids": sorted({*given.need.member_ids, given.need.item_id}),
        "kept_as_id": given.need.kept_as_id,
        "kept_in": given.need.kept_in.as_json() if given.need.kept_in else None,
        "keeps_for": [one.as_json() for one in given.need.keeps_for],
        "lead_time": {"basis": lead_time.basis, "reasons": lead_time.reasons} if lead_time else None,
        "lead_time_law": _law(found.demand) if found.demand else None,
        "figures": service.as_json(found.levels) if service else None,
    }


def _plain(value: Any) -> Any:
    """As it reads back from JSON."""
    if type(value) in PLAIN:
        return value
    if isinstance(value, Fact):
        return value.as_json()
    if isinstance(value, (tuple, list)):
        return [_plain(one) for one in value]
    if isinstance(value, dict):
        return {str(name): _plain(one) for name, one in value.items()}
    return value
