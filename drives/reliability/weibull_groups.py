"""Weibull fits of thousands of groups of right-censored lifetimes, by Newton steps on all groups in parallel.

Source: score of the profile likelihood, Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, sec. 5.2:
g(b) = sum t^b ln t / sum t^b - 1/b - mean of ln t over failures; scale = (sum t^b / r)^(1/b). Hours are divided by the
longest of their group, so that no power overflows.
"""

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from drives.reliability.lifetimes import Lifetimes
from inventory.array_checks import FloatArray, IntArray

# Relative step after which Newton's next step is below the last digit of a double: the error squares at each step.
LAST_STEP = 1e-8
MOST_STEPS = 200
# Failures nearer than this to the longest lifetime, relative, are equal to it: no shape below 1e9 tells them apart.
TIED = 1e-12
# Lifetimes worked on together; their working arrays stay in the processor's cache.
LIFETIMES_AT_ONCE = 1 << 16
# Zero hours have no logarithm; this far below the longest lifetime the power is 0, and the square still a double.
LOWEST_LOG = -1e100
FEW_FAILURES = 3
"""Below this many failures a shape is a guess: judgement."""


@dataclass(frozen=True, eq=False)
class WeibullGroupFits:
    """One Weibull fit per group, in the order of `groups`; NaN where there is no estimate."""

    groups: npt.NDArray[Any]
    shape: FloatArray
    scale_hours: FloatArray
    log_likelihood: FloatArray
    failures: FloatArray
    suspensions: FloatArray
    exposure_hours: FloatArray

    def __len__(self) -> int:
        return int(self.groups.size)

    @property
    def has_maximum(self) -> npt.NDArray[np.bool_]:
        """False without failures, or where all of them are tied with the longest lifetime."""
        return np.asarray(np.isfinite(self.shape))

    @property
    def is_too_few(self) -> npt.NDArray[np.bool_]:
        return np.asarray((self.failures < FEW_FAILURES) | ~self.has_maximum)


def fit_weibull_groups(lifetimes: Lifetimes) -> WeibullGroupFits:
    """Two-parameter Weibull fit of every group of exact or right-censored lifetimes, groups sorted.

    >>> from drives.reliability.lifetimes import right_censored
    >>> lifetimes = right_censored([10, 30, 20, 50], observed=[1, 1, 1, 0], groups=["a", "a", "b", "b"])
    >>> fits = fit_weibull_groups(lifetimes)
    >>> fits.groups.tolist(), fits.shape.round(4).tolist(), fits.scale_hours.round(2).tolist()
    (['a', 'b'], [2.184, 1.3953], [22.73, 59.63])
    """
    if lifetimes.groups is None:
        raise ValueError("`lifetimes` must have `groups`.")
    if not lifetimes.is_right_censored_only:
        raise ValueError("`lifetimes` must be exact or right-censored, not between two inspections.")
    names, hours, observed, weights, starts = _in_group_order(lifetimes)
    shape, scale, log_likelihood = np.full((3, names.size), np.nan)
    for first, last in _portions(starts, hours.size):
        begin, end = starts[first], starts[last] if last < names.size else hours.size
        part = slice(begin, end)
        shape[first:last], scale[first:last], log_likelihood[first:last] = fit_adjacent_groups(
            hours[part], observed=observed[part], weights=weights[part], starts=starts[first:last] - begin
        )
    return WeibullGroupFits(
        groups=names,
        shape=shape,
        scale_hours=scale,
        log_likelihood=log_likelihood,
        failures=_sums(weights * observed, starts),
        suspensions=_sums(weights * ~observed, starts),
        exposure_hours=_sums(weights * hours, starts),
    )


def _in_group_order(
    lifetimes: Lifetimes,
) -> tuple[npt.NDArray[Any], FloatArray, npt.NDArray[np.bool_], FloatArray, IntArray]:
    groups = lifetimes.groups
    assert groups is not None
    hours, observed, weights = lifetimes.lower_hours, lifetimes.is_observed, lifetimes.weights
    if groups.size and not bool(np.all(groups[1:] >= groups[:-1])):
        order = np.argsort(groups, kind="stable")
        groups, hours, observed, weights = groups[order], hours[order], observed[order], weights[order]
    begins = np.ones(groups.size, dtype=bool)
    begins[1:] = groups[1:] != groups[:-1]
    starts = np.flatnonzero(begins)
    return groups[starts], hours, observed, weights, starts


def _portions(starts: IntArray, size: int) -> list[tuple[int, int]]:
    """Runs of whole groups with about LIFETIMES_AT_ONCE lifetimes each."""
    if not starts.size:
        return []
    cuts = np.arange(0, size, LIFETIMES_AT_ONCE)
    firsts = np.unique(np.searchsorted(starts, cuts, side="right") - 1)
    return list(zip(firsts.tolist(), [*firsts[1:].tolist(), starts.size], strict=True))


def _sums(values: npt.NDArray[Any], starts: IntArray) -> FloatArray:
    return np.add.reduceat(values, starts) if starts.size else np.zeros(0)


def fit_adjacent_groups(
    hours: FloatArray, *, observed: npt.NDArray[np.bool_], weights: FloatArray, starts: IntArray
) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Shape, scale and log-likelihood of groups whose rows are adjacent; `starts` are the places of their first
    lifetimes, and the first is 0. NaN where there is no finite maximum. The numbers are those of `Lifetimes`, checked.
    """
    sizes = np.diff(np.append(starts, hours.size))
    longest = np.maximum.reduceat(hours, starts)
    with np.errstate(divide="ignore", invalid="ignore"):
        logs = np.log(hours) - np.repeat(np.log(longest), sizes)
    logs = np.where(hours > 0, np.maximum(logs, LOWEST_LOG), LOWEST_LOG)
    counted = weights * observed
    failures = np.add.reduceat(counted, starts)
    with np.errstate(divide="ignore", invalid="ignore"):
        mean_log = np.add.reduceat(counted * logs, starts) / failures
        variance = np.add.reduceat(counted * logs**2, starts) / failures - mean_log**2
    shape, total = np.full((2, starts.size), np.nan)
    solvable = np.flatnonzero((failures > 0) & (mean_log < -TIED))
    if solvable.size:
        shape[solvable], total[solvable] = _climb(
            _rows(logs, weights, starts=starts, sizes=sizes, chosen=solvable),
            mean_log=mean_log[solvable],
            guess=_first_guess(mean_log[solvable], variance[solvable]),
        )
    with np.errstate(divide="ignore", invalid="ignore"):
        scale = longest * (total / failures) ** (1 / shape)
        log_likelihood = failures * (np.log(shape) - np.log(longest) + (shape - 1) * mean_log - 1)
        log_likelihood -= failures * np.log(total / failures)
    return shape, scale, log_likelihood


@dataclass(frozen=True, eq=False)
class _Rows:
    """Lifetimes of the groups that still move."""

    logs: FloatArray
    weights: FloatArray
    starts: IntArray
    sizes: IntArray


def _rows(
    logs: FloatArray, weights: FloatArray, *, starts: IntArray, sizes: IntArray, chosen: IntArray
) -> _Rows:
    if chosen.size == starts.size:
        return _Rows(logs, weights, starts, sizes)
    keep = np.zeros(starts.size, dtype=bool)
    keep[chosen] = True
    rows = np.repeat(keep, sizes)
    kept = sizes[chosen]
    return _Rows(logs[rows], weights[rows], np.concatenate(([0], np.cumsum(kept)[:-1])), kept)


def _first_guess(mean_log: FloatArray, variance: FloatArray) -> FloatArray:
    """By the spread of the logarithms of failures, pi/sqrt(6)/b without censoring; for one failure, by its distance."""
    spread = np.sqrt(np.maximum(variance, 0))
    return np.where(spread > 1e-6 * -mean_log, 1.2825 / np.maximum(spread, 1e-300), 1 / -mean_log)


def _moments(rows: _Rows, shape: FloatArray) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Sums of t^b, t^b ln t and t^b (ln t)^2 per group."""
    powers = np.repeat(shape, rows.sizes)
    powers *= rows.logs
    np.exp(powers, out=powers)
    powers *= rows.weights
    total = np.add.reduceat(powers, rows.starts)
    powers *= rows.logs
    first = np.add.reduceat(powers, rows.starts)
    powers *= rows.logs
    return total, first, np.add.reduceat(powers, rows.starts)


def _climb(rows: _Rows, *, mean_log: FloatArray, guess: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Root of the profile score in every group, and the sum of t^b there.

    The score times b, as a function of ln b, is close to a straight line; its sign keeps a bracket, so that a step
    that leaves it is replaced by a step inside.
    """
    shape, total = guess.copy(), np.empty(guess.size)
    low, high = np.zeros(guess.size), np.full(guess.size, np.inf)
    moving = np.arange(guess.size)
    for _ in range(MOST_STEPS):
        b = shape[moving]
        power, first, second = _moments(rows, b)
        mean = first / power
        distance = b * (mean - mean_log[moving])
        score, slope = distance - 1, distance + b**2 * (second / power - mean**2)
        low[moving] = np.where(score < 0, b, low[moving])
        high[moving] = np.where(score > 0, b, high[moving])
        step = np.exp(np.clip(-score / slope, -2, 2))
        following = b * step
        inside = (following > low[moving]) & (following < high[moving])
        ends = np.abs(step - 1) < LAST_STEP
        middle = np.where(
            np.isinf(high[moving]),
            4 * b,
            np.sqrt(np.maximum(low[moving], b / 64) * np.minimum(high[moving], 64 * b)),
        )
        shape[moving] = np.where(inside | ends, following, middle)
        # The sum at the shape after the step, to first order; that is exact at the last step.
        total[moving] = power + first * (shape[moving] - b)
        if ends.all():
            break
        if ends.mean() > 0.3:
            rows = _rows(
                rows.logs, rows.weights, starts=rows.starts, sizes=rows.sizes, chosen=np.flatnonzero(~ends)
            )
            moving = moving[~ends]
    return shape, total
