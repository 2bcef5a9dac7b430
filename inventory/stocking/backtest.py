"""A back-test as a table: every rule at every promised service, how sure the achieved one is, and how far to trust it."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray, demand_matrix, not_negative_array
from inventory.facts import Fact, fact
from inventory.number_checks import fraction, whole
from inventory.progress import Progress, stretches, unreported
from inventory.stocking.forecast_rules import SIMPLE_RULES, ForecastRule
from inventory.stocking.pooled_forecast import DISCOUNTS, FIRST_PAST_ORIGIN, RecommendedRule
from inventory.stocking.predictions import window_sums
from inventory.stocking.replay import Calibration, Replay, RuleOutcome

PromiseVerdict = Literal["kept", "missed", "exceeded"]

RESULT_CODES: dict[PromiseVerdict, str] = {
    "kept": "promise_kept",
    "missed": "promise_missed",
    "exceeded": "promise_exceeded",
}

RECOMMENDED = "recommended"
TARGETS = (0.9, 0.95, 0.99)

CONFIDENCE = 0.95
"""Of the interval of an achieved service."""

WIDE_INTERVAL = 0.02
"""Half an interval wider than this share of service is called wide."""

MISSES_TO_TELL = 10
"""With fewer misses than this, a promise cannot be distinguished from its neighbours."""

FEWEST_ITEMS = 200
"""Fewer are never left where a record is thinned."""

SCORED_CHANCES = 10_000_000
"""Chances worked out for the scores; with more, every second, third, … item is scored."""

CHANCES_PER_ITEM = 256
"""Pieces up to which predicted chances are usually scored."""


@dataclass(frozen=True, slots=True)
class Promise:
    """One rule at one promised cycle service level.

    `low` and `high` bound what the rule achieves in the long run, as if windows were independent. `kept`: the promise lies
    between them; `missed`: above, `exceeded`: below. Of the rules that did not miss, the one that left least over is best.
    """

    rule: str
    promised: float
    achieved: float
    low: float
    high: float
    verdict: PromiseVerdict
    is_best: bool
    fill_rate: float
    mean_leftover: float
    mean_spend: float | None
    service_by_origin: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BackTest:
    """Every rule at every promise over one history; `windows` counts windows that do not overlap."""

    items: int
    periods: int
    origins: tuple[int, ...]
    exposure: int
    windows: int
    promises: tuple[Promise, ...]
    calibrations: tuple[Calibration, ...]
    reasons: tuple[Fact, ...]


def run_backtest(
    demand: ArrayLike,
    *,
    first_origin: int,
    exposure: int,
    step: int,
    targets: Sequence[float] = TARGETS,
    unit_costs: ArrayLike | None = None,
    with_scores: bool = True,
    progress: Progress = unreported,
) -> BackTest:
    """Replay of a history by every simple rule and the recommended one.

    `demand` holds whole pieces, items by periods; items without demand stay in. The first prediction uses `first_origin`
    periods, each is for the next `exposure` periods, the next one is made `step` periods later. A unit cost of NaN is not known:
    the spend is then that of the priced items.
    """
    record = demand_matrix("demand", demand)
    if (record != np.floor(record)).any():
        raise ValueError("`demand` must hold whole pieces")
    periods = whole("exposure", exposure, least=1)
    known = whole("first_origin", first_origin, least=max(2, periods))
    replay = Replay(record, known, periods, whole("step", step, least=1))
    promised = [fraction("targets", target) for target in targets]
    prices, priced = _prices(unit_costs, len(record))
    rules: dict[str, ForecastRule] = {**SIMPLE_RULES, RECOMMENDED: RecommendedRule()}
    windows = len(record) * _windows_apart(replay)
    replayed, scoring = stretches(progress, 2, 1)
    outcomes = replay.outcomes(rules, promised, prices, progress=replayed)
    promises = _judged(outcomes, windows=windows, priced_share=priced)
    every = _scored_every(replay, len(rules))
    scored = replace(replay, demand=record[::every]).calibrations(rules, scoring) if with_scores else []
    reasons = [*_reasons(replay, promises, windows)]
    if with_scores and every > 1:
        reasons.append(fact("scores_of_part_of_items", every=every))
    return BackTest(
        items=len(record),
        periods=record.shape[1],
        origins=tuple(replay.origins),
        exposure=periods,
        windows=windows,
        promises=tuple(promises),
        calibrations=tuple(scored),
        reasons=tuple(reasons),
    )


def thinning(demand: FloatArray, *, first_origin: int, exposure: int, step: int, most_work: int) -> int:
    """Every how many-th item can be replayed within so much work, 200 items at least.

    Work counts fits of one item, each about fifteen microseconds: each origin looks back at every past origin that lies whole
    exposures before it, at each discount. A fit writes its chances out, which counts as two items for each piece of the largest
    demand.
    """
    items, periods = demand.shape
    origins = range(first_origin, periods - exposure + 1, step)
    past = {at for origin in origins for at in range(origin - exposure, FIRST_PAST_ORIGIN - 1, -exposure)}
    fits = max(1, len(past) * len(DISCOUNTS) + len(origins))
    pieces = 2 * int(largest_windows(demand, exposure).max(initial=0))
    allowed = max(most_work // fits - pieces, FEWEST_ITEMS)
    return -(-int(items) // allowed)


def largest_windows(demand: FloatArray, exposure: int) -> FloatArray:
    """Largest demand of each item over one exposure; over all periods, where there are fewer."""
    return np.asarray(window_sums(demand, min(exposure, demand.shape[1])).max(axis=1))


def binomial_interval(share_seen: float, trials: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of a chance from the share of trials in which it came true. Source: Clopper & Pearson 1934, Biometrika 26."""
    miss = (1 - confidence) / 2
    hits = share_seen * trials
    low = float(special.betaincinv(hits, trials - hits + 1, miss)) if hits > 0 else 0.0
    high = float(special.betaincinv(hits + 1, trials - hits, 1 - miss)) if hits < trials else 1.0
    return low, high


def verdict_of(promised: float, low: float, high: float) -> PromiseVerdict:
    """Of a promise against the interval of what was achieved."""
    if promised > high:
        return "missed"
    return "exceeded" if promised < low else "kept"


def _prices(unit_costs: ArrayLike | None, items: int) -> tuple[FloatArray | None, float]:
    """Prices with 0 for what is not known, and the share of items that have one."""
    if unit_costs is None:
        return None, 0.0
    given = np.asarray(unit_costs, dtype=np.float64)
    if given.shape != (items,):
        raise ValueError(f"`unit_costs` must hold an entry per item, {items}")
    prices = not_negative_array("unit_costs", np.nan_to_num(given, nan=0.0, posinf=np.inf))
    return prices, float((~np.isnan(given)).sum()) / items


def _windows_apart(replay: Replay) -> int:
    """Origins whose windows do not overlap."""
    span = replay.origins[-1] - replay.origins[0]
    return min(len(replay.origins), span // replay.exposure + 1)


def _judged(outcomes: Sequence[RuleOutcome], *, windows: int, priced_share: float) -> list[Promise]:
    promises = [_promise(outcome, windows, priced_share) for outcome in outcomes]
    best: dict[float, Promise] = {}
    for one in promises:
        so_far = best.get(one.promised)
        if one.verdict != "missed" and (so_far is None or _leftover(one) < _leftover(so_far)):
            best[one.promised] = one
    return [replace(one, is_best=best.get(one.promised) is one) for one in promises]


def _leftover(promise: Promise) -> tuple[float, str]:
    return promise.mean_leftover, promise.rule


def _promise(outcome: RuleOutcome, windows: int, priced_share: float) -> Promise:
    low, high = binomial_interval(outcome.cycle_service_level, windows)
    return Promise(
        rule=outcome.rule,
        promised=outcome.target,
        achieved=outcome.cycle_service_level,
        low=low,
        high=high,
        verdict=verdict_of(outcome.target, low, high),
        is_best=False,
        fill_rate=outcome.fill_rate,
        mean_leftover=outcome.mean_leftover,
        mean_spend=outcome.mean_spend / priced_share if priced_share else None,
        service_by_origin=outcome.service_by_origin,
    )


def _scored_every(replay: Replay, rules: int) -> int:
    pieces = max(CHANCES_PER_ITEM, 2 * int(largest_windows(replay.demand, replay.exposure).max()))
    return -(-len(replay.demand) * len(replay.origins) * rules * pieces // SCORED_CHANCES)


def _reasons(replay: Replay, promises: Sequence[Promise], windows: int) -> Iterator[Fact]:
    items, periods = replay.demand.shape
    yield fact(
        "backtest_scope",
        items=items,
        periods=periods,
        origins=len(replay.origins),
        exposure_periods=replay.exposure,
        windows=windows,
    )
    for promise in promises:
        if promise.rule == RECOMMENDED:
            yield _result(promise)
            yield from _comparison(promise, promises)
            yield from _doubt(promise, windows)
    yield fact("promise_for_all_items")


def _result(promise: Promise) -> Fact:
    return fact(
        RESULT_CODES[promise.verdict],
        promised=promise.promised,
        achieved=promise.achieved,
        low=promise.low,
        high=promise.high,
        worst_origin=min(promise.service_by_origin),
        best_origin=max(promise.service_by_origin),
    )


def _comparison(promise: Promise, promises: Sequence[Promise]) -> Iterator[Fact]:
    best = next((one for one in promises if one.is_best and one.promised == promise.promised), None)
    if best is None:
        yield fact("no_rule_kept_promise", promised=promise.promised)
    elif not promise.is_best:
        yield fact(
            "other_rule_kept_promise" if promise.verdict == "missed" else "other_rule_left_less",
            promised=promise.promised,
            rule=best.rule,
            mean_leftover=best.mean_leftover,
            recommended_leftover=promise.mean_leftover,
        )


def _doubt(promise: Promise, windows: int) -> Iterator[Fact]:
    expected = windows * (1 - promise.promised)
    half = (promise.high - promise.low) / 2
    if expected < MISSES_TO_TELL:
        yield fact(
            "too_few_misses_expected",
            promised=promise.promised,
            expected_misses=expected,
            windows=windows,
        )
    elif half > WIDE_INTERVAL:
        yield fact("achieved_service_uncertain", promised=promise.promised, half_interval_points=100 * half)
