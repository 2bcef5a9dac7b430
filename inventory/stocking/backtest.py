"""A back-test as a table: every rule at every promise, how sure the achieved service is, and how far to trust it."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray, demand_matrix, not_negative_array
from inventory.number_checks import fraction, whole
from inventory.stocking.forecast_rules import SIMPLE_RULES, Rule
from inventory.stocking.pooled_forecast import FADINGS, FIRST_PAST_ORIGIN, RecommendedRule
from inventory.stocking.replay import Calibration, Outcome, Replay, backtest, calibration, replay

Verdict = Literal["kept", "missed", "exceeded"]

RECOMMENDED = "recommended"
TARGETS = (0.9, 0.95, 0.99)

CONFIDENCE = 0.95
"""Of the interval of an achieved service."""

WIDE_POINTS = 2.0
"""Half an interval wider than this many points of service is called wide."""

MISSES_TO_TELL = 10
"""Fewer misses than this, and a promise cannot be told from its neighbours."""

FEWEST_ITEMS = 200
"""Fewer are never left where a record is thinned."""

SCORED_CHANCES = 10_000_000
"""Chances worked out for the scores; with more, every second, third, … item is scored."""

CHANCES_PER_ITEM = 256
"""Pieces up to which a law is usually scored."""


@dataclass(frozen=True, slots=True)
class Promise:
    """One rule at one promised cycle service.

    `low` and `high` bound what the rule achieves in the long run, as if no window knew of another. `kept`: the promise
    lies between them; `missed`: above, `exceeded`: below. Of the rules that did not miss, the one that left least over
    is best.
    """

    rule: str
    promised: float
    achieved: float
    low: float
    high: float
    verdict: Verdict
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
    explanation: tuple[str, ...]

    def of(self, rule: str) -> tuple[Promise, ...]:
        """What one rule promised and achieved."""
        return tuple(promise for promise in self.promises if promise.rule == rule)


def run_backtest(
    demand: ArrayLike,
    *,
    first_origin: int,
    exposure: int,
    step: int,
    targets: Sequence[float] = TARGETS,
    unit_costs: ArrayLike | None = None,
    with_scores: bool = True,
) -> BackTest:
    """Replay of a history by every simple rule and the recommended one.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Whole pieces asked for per period; items without demand stay in.
    first_origin : int
        Periods that the first prediction may use, 2 or more and no fewer than `exposure`.
    exposure : int
        Periods of lead time and review that each prediction is for.
    step : int
        Periods from one origin to the next.
    targets : sequence of float, in (0, 1)
        Promised cycle service levels.
    unit_costs : array_like, optional
        Price of one piece of each item, NaN where it is not known: the spend is then that of the priced items.
    with_scores : bool
        Whether the predicted laws are scored too, which takes longest.

    Returns
    -------
    BackTest
        Rule by rule, promise by promise, with sentences.

    Raises
    ------
    ValueError
        If a figure is out of range or the record too short; the sentence names it in backticks.

    Source
    ------
    Replay: `backtest`. Interval: Clopper & Pearson 1934, Biometrika 26.

    Examples
    --------
    >>> found = run_backtest([[0, 1, 0, 1] * 9] * 30, first_origin=24, exposure=3, step=3, with_scores=False)
    >>> found.items, found.origins, found.windows
    (30, (24, 27, 30, 33), 120)
    """
    record = demand_matrix("demand", demand)
    if (record != np.floor(record)).any():
        raise ValueError("`demand` must hold whole pieces")
    known = whole("first_origin", first_origin, least=max(2, whole("exposure", exposure, least=1)))
    setting = replay(record, first_origin=known, exposure=exposure, step=step)
    promised = [fraction("targets", target) for target in targets]
    rules: dict[str, Rule] = {**SIMPLE_RULES, RECOMMENDED: RecommendedRule()}
    prices, priced = _prices(unit_costs, len(record))
    outcomes = backtest(setting, rules, promised, unit_costs=prices)
    windows = len(record) * _apart(setting)
    promises = tuple(_judged(outcomes, windows=windows, priced_share=priced))
    every = _scored_every(setting, len(rules)) if with_scores else 1
    scored = (f"The scores stand on one item in {every}.",) if every > 1 else ()
    return BackTest(
        items=len(record),
        periods=record.shape[1],
        origins=tuple(setting.origins),
        exposure=exposure,
        windows=windows,
        promises=promises,
        calibrations=tuple(_scored(setting, rules)) if with_scores else (),
        explanation=(*_explained(setting, promises, windows), *scored),
    )


def thinning(demand: FloatArray, *, first_origin: int, exposure: int, step: int, most_work: int) -> int:
    """Every how many-th item can be replayed within so much work.

    Parameters
    ----------
    demand : ndarray, shape (items, periods)
        Pieces asked for per period.
    first_origin, exposure, step : int
        As in `run_backtest`.
    most_work : int
        Fits of one item, each about fifteen microseconds; a fit writes its laws out, which counts as two items for
        each piece of the largest demand.

    Returns
    -------
    int
        1 for all of them; so many that 200 items are left at least.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Source
    ------
    Own count: each origin looks back at every past origin that lies whole exposures before it, at each fading.

    Examples
    --------
    >>> record = np.zeros((5000, 240))
    >>> thinning(record, first_origin=24, exposure=3, step=3, most_work=1_500_000)
    2
    """
    record = demand_matrix("demand", demand)
    items, periods = record.shape
    origins = range(first_origin, periods - exposure + 1, step)
    past = {at for origin in origins for at in range(origin - exposure, FIRST_PAST_ORIGIN - 1, -exposure)}
    fits = max(1, len(past) * len(FADINGS) + len(origins))
    pieces = 2 * int(largest_windows(record, exposure).max(initial=0))
    allowed = max(most_work // fits - pieces, FEWEST_ITEMS)
    return -(-int(items) // allowed)


def largest_windows(demand: FloatArray, exposure: int) -> FloatArray:
    """Most pieces that each item asked for over one exposure.

    Parameters
    ----------
    demand : ndarray, shape (items, periods)
        Pieces asked for per period.
    exposure : int
        Periods.

    Returns
    -------
    ndarray, shape (items,)
        Largest sum of so many neighbouring periods; of all, where there are fewer.

    Raises
    ------
    ValueError
        If `demand` is no record.

    Source
    ------
    Definition.

    Examples
    --------
    >>> largest_windows(np.array([[1.0, 0, 2, 3, 0]]), 2).tolist()
    [5.0]
    """
    record = demand_matrix("demand", demand)
    span = min(exposure, record.shape[1])
    sums = np.cumsum(np.pad(record, ((0, 0), (1, 0))), axis=1)
    return np.asarray((sums[:, span:] - sums[:, :-span]).max(axis=1))


def binomial_interval(share_seen: float, trials: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Interval of a chance from the share of trials in which it came true.

    Parameters
    ----------
    share_seen : float, in [0, 1]
        Share that came true.
    trials : int
        Number of trials, 1 or more.
    confidence : float, in (0, 1)
        Of the interval.

    Returns
    -------
    tuple of float
        Low and high, between 0 and 1.

    Raises
    ------
    ValueError
        If a figure is out of range.

    Source
    ------
    Clopper & Pearson 1934, Biometrika 26.

    Examples
    --------
    >>> low, high = binomial_interval(0.9, 10)
    >>> round(low, 4), round(high, 4)
    (0.555, 0.9975)
    """
    count = whole("trials", trials, least=1)
    miss = (1 - fraction("confidence", confidence)) / 2
    hits = share_seen * count
    low = float(special.betaincinv(hits, count - hits + 1, miss)) if hits > 0 else 0.0
    high = float(special.betaincinv(hits + 1, count - hits, 1 - miss)) if hits < count else 1.0
    return low, high


def _prices(unit_costs: ArrayLike | None, items: int) -> tuple[FloatArray | None, float]:
    """Prices with 0 for what is not known, and the share of items that have one."""
    if unit_costs is None:
        return None, 0.0
    given = np.asarray(unit_costs, dtype=np.float64)
    prices = not_negative_array("unit_costs", np.nan_to_num(given, nan=0.0, posinf=np.inf))
    return prices, float((~np.isnan(given)).sum()) / items


def _apart(setting: Replay) -> int:
    """Origins whose windows do not overlap."""
    span = setting.origins[-1] - setting.origins[0]
    return min(len(setting.origins), span // setting.exposure + 1)


def _judged(outcomes: Sequence[Outcome], *, windows: int, priced_share: float) -> Iterator[Promise]:
    best: dict[float, tuple[float, str]] = {}
    judged = []
    for outcome in outcomes:
        low, high = binomial_interval(outcome.cycle_service_level, windows)
        verdict: Verdict = "kept"
        if outcome.target > high:
            verdict = "missed"
        elif outcome.target < low:
            verdict = "exceeded"
        judged.append((outcome, low, high, verdict))
        candidate = outcome.mean_leftover, outcome.rule
        if verdict != "missed" and candidate < best.get(outcome.target, (np.inf, "")):
            best[outcome.target] = candidate
    for outcome, low, high, verdict in judged:
        yield Promise(
            rule=outcome.rule,
            promised=outcome.target,
            achieved=outcome.cycle_service_level,
            low=low,
            high=high,
            verdict=verdict,
            is_best=best.get(outcome.target, (0.0, ""))[1] == outcome.rule,
            fill_rate=outcome.fill_rate,
            mean_leftover=outcome.mean_leftover,
            mean_spend=outcome.mean_spend / priced_share if priced_share else None,
            service_by_origin=outcome.service_by_origin,
        )


def _scored(setting: Replay, rules: Mapping[str, Rule]) -> list[Calibration]:
    part = setting.demand[:: _scored_every(setting, len(rules))]
    return calibration(Replay(part, setting.first_origin, setting.exposure, setting.step), rules)


def _scored_every(setting: Replay, rules: int) -> int:
    pieces = max(CHANCES_PER_ITEM, 2 * int(largest_windows(setting.demand, setting.exposure).max()))
    return -(-len(setting.demand) * len(setting.origins) * rules * pieces // SCORED_CHANCES)


def _explained(setting: Replay, promises: Sequence[Promise], windows: int) -> Iterator[str]:
    items, periods = setting.demand.shape
    yield (
        f"{_count(items, 'item')} over {_count(periods, 'period')}: every rule spoke at {_count(len(setting.origins), 'origin')},"
        f" each time for the next {_count(setting.exposure, 'period')} and with nothing later in sight;"
        f" {_count(windows, 'window')} that do not overlap."
    )
    for promise in promises:
        if promise.rule == RECOMMENDED:
            yield _held(promise)
            yield from _comparison(promise, promises)
            yield from _doubt(promise, windows)
    yield (
        "A promise is for all items together, not for each of them; the intervals take each window for itself, and"
        " where demand moves together the truth lies wider."
    )


def _count(many: int, word: str) -> str:
    return f"{many:,} {word}" if many == 1 else f"{many:,} {word}s"


def _held(promise: Promise) -> str:
    said = f"Promised {_points(promise.promised)}, the recommended rule achieved {_points(promise.achieved)}"
    span = f"({_points(promise.low)} to {_points(promise.high)})"
    worst, best = min(promise.service_by_origin), max(promise.service_by_origin)
    moved = f" Single origins ran from {_points(worst)} to {_points(best)}."
    if promise.verdict == "missed":
        return f"{said} {span}: it MISSED its promise; count on {_points(promise.achieved)}.{moved}"
    if promise.verdict == "exceeded":
        return f"{said} {span}: it kept its promise and holds a little more than it had to.{moved}"
    return f"{said} {span}: the promise held, within what chance explains.{moved}"


def _comparison(promise: Promise, promises: Sequence[Promise]) -> Iterator[str]:
    best = next((one for one in promises if one.is_best and one.promised == promise.promised), None)
    if best is None:
        yield f"No rule kept {_points(promise.promised)}."
    elif not promise.is_best:
        how = "did not miss, with" if promise.verdict == "missed" else "did not miss either, with less"
        yield (
            f"At {_points(promise.promised)} the rule {best.rule!r} {how} left over: {best.mean_leftover:.3g} pieces per"
            f" item and window against {promise.mean_leftover:.3g}."
        )


def _doubt(promise: Promise, windows: int) -> Iterator[str]:
    expected = windows * (1 - promise.promised)
    if expected < MISSES_TO_TELL:
        yield (
            f"At {_points(promise.promised)} only {expected:.2g} misses are to be expected in {windows:,} windows: this"
            " history is too short, or its items too few, to tell that promise from a weaker one."
        )
    elif (promise.high - promise.low) / 2 * 100 > WIDE_POINTS:
        half = (promise.high - promise.low) / 2 * 100
        yield f"With so few windows the service at {_points(promise.promised)} is known to {half:.1f} points only."


def _points(value: float) -> str:
    return f"{100 * value:.4g} %"
