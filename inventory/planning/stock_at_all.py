"""Whether to keep any, before how many: each way out with its reason."""

from inventory.models import HoldingReason, Importance, Lifecycle, TargetKind
from inventory.planning.case import Asked, Case
from inventory.planning.decision import REVIEW_DAYS, REVIEW_NONE_DAYS, Decision
from inventory.planning.facts import HOLD_NONE, HOLD_ONE
from inventory.planning.words import amount, figure, listed, money
from inventory.stocking.least_cost import LeastCost, StockingCost, least_cost

LIFECYCLE_WORDS = {
    Lifecycle.RUN_DOWN: "is being run down: use these up, buy none",
    Lifecycle.BLOCKED: "is blocked: buy none",
}


NEVER_ASKED = "Nothing was ever asked for and no position could ask: keep none."


def none_held(*sentences: str, buys_none: bool = False) -> Decision:
    return Decision(
        levels=HOLD_NONE,
        stock_at_all=sentences,
        review_after_days=REVIEW_NONE_DAYS,
        buys_none=buys_none,
    )


def without_numbers(case: Case) -> Decision | None:
    """Decided by what the part is, whatever is asked for."""
    if case.need.kept_as_id is not None:
        same = case.kept_as or f"item {case.need.kept_as_id}"
        words = f"The same part is kept as {same}; use these up first."
        return none_held(words, *_insurance_ends(case), buys_none=True)
    ends = LIFECYCLE_WORDS.get(Lifecycle(case.facts.lifecycle))
    if ends:
        return none_held(f"{case.facts.stock_number} {ends}.", *_insurance_ends(case), buys_none=True)
    return insured(case, none_held(NEVER_ASKED)) if case.need.demand is None else None


def is_insurance(case: Case) -> bool:
    return case.facts.holding_reason == HoldingReason.INSURANCE


def _insurance_ends(case: Case) -> tuple[str, ...]:
    """A person's decision to insure is never undone without a word."""
    if not is_insurance(case):
        return ()
    return ("A person decided to keep it as insurance: see first that nothing is left uninsured.",)


def insured(case: Case, decision: Decision) -> Decision:
    """At least one is kept where a person decided so, whatever the numbers say."""
    if not is_insurance(case) or (decision.levels is not None and decision.levels.stocked):
        return decision
    is_weighed = decision.levels is not None and case.need.demand is not None
    kept = case.today if case.today is not None and case.today.stocked else HOLD_ONE
    words = "It is kept as insurance by a person's decision, so at least one stays."
    first, *more = decision.stock_at_all
    return Decision(
        levels=HOLD_ONE if is_weighed else kept,
        stock_at_all=(words, f"By the numbers alone: {first}", *more),
        review_after_days=REVIEW_DAYS,
    )


def by_numbers(case: Case, asked: Asked, quantity: int) -> tuple[Decision | None, tuple[str, ...]]:
    """Decided to keep none, or None with the sentences that say why some is kept."""
    waits, words = _tolerable_wait(case)
    if waits:
        return none_held(*words), ()
    if case.target.kind == TargetKind.COST:
        return None, words
    cheaper, cost_words = _by_cost(case, asked, quantity)
    return (none_held(*words, *cost_words), ()) if cheaper else (None, (*words, *cost_words))


def _tolerable_wait(case: Case) -> tuple[bool, tuple[str, ...]]:
    tolerable, hours = case.target.tolerable_wait_hours, case.hours_to_expedite
    if tolerable is None:
        return False, ()
    put_up = f"A stop of {figure(tolerable)} hours is put up with for {case.target.importance} parts"
    if hours is None:
        return False, (f"{put_up}; enter hours_to_expedite to see whether an emergency buy is as quick.",)
    takes = f"an emergency buy takes {figure(hours)} hours ({case.expedite_basis})"
    if tolerable >= hours:
        return True, (f"{put_up}, and {takes}: keep none.",)
    return False, (f"{put_up}, but {takes}.",)


def _by_cost(case: Case, asked: Asked, quantity: int) -> tuple[bool, tuple[str, ...]]:
    if case.not_priced:
        return False, (f"Whether keeping pays was not weighed: enter {listed(case.not_priced)}.",)
    cost = cost_of(case, asked, quantity)
    both = costs_in_words(case, cost)
    if cost.stocked:
        return False, (f"Keeping pays: {both}.",)
    if case.need.importance == Importance.VITAL:
        return False, (f"Keeping none would be cheaper ({both}), but the part is vital: it is kept.",)
    return True, (f"Keeping none is cheaper: {both}.",)


def costs_in_words(case: Case, cost: LeastCost) -> str:
    some, none = (
        amount(money(value), case.facts.currency) for value in (cost.cost_of_some, cost.cost_of_none)
    )
    hours = figure(case.hours_to_expedite or 0)
    basis = f"an emergency buy takes {hours} hours, {case.expedite_basis}"
    return f"with a stock {some} a year for holding, orders and downtime, without {none} ({basis})"


def cost_of(case: Case, asked: Asked, quantity: int) -> LeastCost:
    """Least cost with and without a stock; the prices are known."""
    price, downtime, hours = case.facts.price, case.downtime_per_hour, case.hours_to_expedite
    assert price is not None
    assert downtime is not None
    assert hours is not None
    money_terms = StockingCost(
        holding_per_piece=float(price) * case.terms.holding_rate_per_year,
        order=float(case.order_cost or 0),
        missing=float(downtime) * hours / asked.pieces_per_job,
    )
    return least_cost(asked.law, asked.rate_per_year, quantity, money_terms, asked.sizes)
