"""From a demand as numbers to what a person is advised to keep, every figure with its reason."""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import Any

import numpy as np

from inventory.models import TargetKind
from inventory.planning.case import Asked, Case, asked_of
from inventory.planning.decision import Decision, unanswered
from inventory.planning.facts import HOLD_NONE, Emergency, ItemFacts, LeadTime, Levels
from inventory.planning.figures import Figures, figures_of
from inventory.planning.how_many import answered
from inventory.planning.inputs import basis_of, inputs_hash, named_inputs
from inventory.planning.need import Need
from inventory.planning.stock_at_all import insured, without_numbers
from inventory.planning.terms import Targets, Terms
from inventory.planning.wording import against_today, lead_time_words, outcome

UNSEEN = 1e-6
"""Chances together below it are not kept for a picture."""
MOST_BARS = 1_000


@dataclass(frozen=True, kw_only=True)
class Advice:
    """All that a recommendation's row holds; what is not known is None, never 0."""

    item_id: int
    storeroom_id: int
    is_answered: bool
    stocked: bool
    reorder_point: int
    order_up_to: int
    changed: bool
    importance: str
    model: str
    target_kind: str
    target_value: float | None
    rate_per_year: float
    planned_per_year: float
    lead_time_days: float | None
    lead_time_sd_days: float | None
    expected_lead_time_demand: float | None
    fill_rate: float | None
    expected_stockouts_per_year: float | None
    holding_cost_per_year: Decimal | None
    currency: str
    today: dict[str, Any] = field(default_factory=dict)
    explanation: tuple[str, ...] = ()
    evidence: dict[str, Any] = field(default_factory=dict)
    review_after_days: int
    inputs_hash: str

    @property
    def levels(self) -> Levels:
        return Levels(self.stocked, self.reorder_point, self.order_up_to)


@dataclass(frozen=True)
class _WorkedOut:
    decision: Decision
    levels: Levels
    asked: Asked | None = None
    figures: Figures | None = None
    figures_today: Figures | None = None


def recommend(
    need: Need,
    *,
    lead_time: LeadTime | None,
    terms: Terms,
    targets: Targets,
    facts: ItemFacts,
    today: Levels | None = None,
    emergency: Emergency | None = None,
    kept_as: str = "",
) -> Advice:
    """What to keep of one item in one storeroom; equal inputs give equal advice, to the last digit."""
    return advise(
        Case(
            need=need,
            lead_time=lead_time,
            terms=terms,
            target=targets.of(need.importance),
            facts=facts,
            today=today,
            emergency=emergency,
            kept_as=kept_as,
        )
    )


def advise(case: Case) -> Advice:
    try:
        # The pieces of a number that goes on as another one are counted there.
        worked_out = _with_figures(case, None if case.need.kept_as_id is not None else asked_of(case))
    except (ValueError, OverflowError) as error:
        worked_out = _without_figures(case, f"It cannot be worked out: {str(error).replace('`', '')}.")
    return _advice(case, worked_out)


def _with_figures(case: Case, asked: Asked | None) -> _WorkedOut:
    if asked is None:
        stock_number = case.facts.stock_number
        missing = f"It is not answerable: enter lead_time_days of {stock_number}, or its orders and receipts."
        return _without_figures(case, missing)
    decision = without_numbers(case) or insured(case, answered(case, asked))
    levels = _levels(case, decision)
    figures_today = None if case.today is None else figures_of(case, asked, case.today)
    return _WorkedOut(decision, levels, asked, figures_of(case, asked, levels), figures_today)


def _without_figures(case: Case, why_not: str) -> _WorkedOut:
    decision = without_numbers(case) or insured(case, unanswered(why_not))
    return _WorkedOut(decision, _levels(case, decision))


def _levels(case: Case, decision: Decision) -> Levels:
    return decision.levels or case.today or HOLD_NONE


def _advice(case: Case, found: _WorkedOut) -> Advice:
    need, lead_time, figures, levels = case.need, case.lead_time, found.figures, found.levels
    is_cost = case.target.kind == TargetKind.COST
    return Advice(
        item_id=need.item_id,
        storeroom_id=need.storeroom_id,
        is_answered=found.decision.levels is not None,
        stocked=levels.stocked,
        reorder_point=levels.reorder_point,
        order_up_to=levels.order_up_to,
        changed=levels != (case.today or HOLD_NONE),
        importance=need.importance,
        model=need.model,
        target_kind=case.target.kind,
        target_value=None if is_cost else case.target.value,
        rate_per_year=need.rate_per_year,
        planned_per_year=need.planned_per_year,
        lead_time_days=lead_time.mean_days if lead_time else None,
        lead_time_sd_days=lead_time.sd_days if lead_time else None,
        expected_lead_time_demand=found.asked.law.mean if found.asked else None,
        fill_rate=figures.fill_rate if figures else None,
        expected_stockouts_per_year=figures.expected_stockouts_per_year if figures else None,
        holding_cost_per_year=figures.holding_cost_per_year if figures else None,
        currency=case.facts.currency,
        today=_today(case, found),
        explanation=_explanation(case, found),
        evidence=_evidence(case, found),
        review_after_days=found.decision.review_after_days,
        inputs_hash=inputs_hash(basis_of(case), case.today),
    )


def _today(case: Case, found: _WorkedOut) -> dict[str, Any]:
    if case.today is None:
        return {}
    return found.figures_today.as_json(case.today) if found.figures_today else case.today.as_json()


def _explanation(case: Case, found: _WorkedOut) -> tuple[str, ...]:
    """In the order in which a manager would ask."""
    figures = None if found.decision.buys_none else found.figures
    return (
        *case.need.explanation,
        *lead_time_words(case),
        *(found.asked.sentences if found.asked else ()),
        *found.decision.stock_at_all,
        *found.decision.how_many,
        *outcome(case, found.levels, figures),
        *against_today(case, found.levels, figures, found.figures_today),
        *case.need.cover_explanation,
    )


def _law(asked: Asked) -> list[float]:
    """Chances of 0, 1, 2, … pieces in a lead time, as far as they can be seen in a picture."""
    within = asked.law.chances_within()
    seen = int(np.searchsorted(within, 1.0 - UNSEEN)) + 1
    return [float(chance) for chance in asked.law.pmf[: min(seen, MOST_BARS)]]


def _evidence(case: Case, found: _WorkedOut) -> dict[str, Any]:
    lead_time, figures = case.lead_time, found.figures
    return {
        **case.need.evidence,
        "member_ids": sorted({*case.need.member_ids, case.need.item_id}),
        "kept_as_id": case.need.kept_as_id,
        "lead_time": {"basis": lead_time.basis, "sentence": lead_time.sentence} if lead_time else None,
        "lead_time_law": _law(found.asked) if found.asked else None,
        "figures": figures.as_json(found.levels) if figures else None,
        "inputs": named_inputs(case),
        "basis": basis_of(case),
    }
