"""Weibull fits of groups of right-censored lifetimes, by Newton steps on all groups in parallel.

Source: score of the profile likelihood, Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003, sec. 5.2:
g(b) = sum t^b ln t / sum t^b - 1/b - mean of ln t over failures; scale = (sum t^b / r)^(1/b). Hours are divided by the
longest of their group, so that no power overflows.
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from inventory.array_checks import FloatArray, IntArray

# Relative step after which Newton's next step is below the last digit of a double: the error squares at each step.
LAST_STEP = 1e-8
MOST_STEPS = 200
# Failures nearer than this to the longest lifetime, relative, are equal to it: no shape below 1e9 tells them apart.
TIED = 1e-12
# Zero hours have no logarithm; this far below the longest lifetime the power is 0, and the square still a double.
LOWEST_LOG = -1e100
FEW_FAILURES = 3
"""Below this many failures a shape is a guess: judgement."""


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
