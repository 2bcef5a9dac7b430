"""Survival of lifetimes without an assumed distribution, and two samples compared.

Source: Kaplan and Meier, Journal of the American Statistical Association 53, 1958, with Greenwood's error; Nelson,
Technometrics 14, 1972, and Aalen 1978: sum of d/n; interval of ln(-ln S) and log-rank test with the hypergeometric
variance (Mantel, Cancer Chemotherapy Reports 50, 1966): Kalbfleisch and Prentice, The Statistical Analysis of Failure Time
Data, 1980, sec. 1.3 and 1.4. Permutation of the log-rank scores (failed or not, less the cumulative hazard): Peto and Peto,
Journal of the Royal Statistical Society A 135, 1972.
"""

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from scipy import special

from drives.reliability.lifetimes import Lifetimes
from inventory.array_checks import FloatArray
from inventory.number_checks import fraction

MOST_SPLITS = 200_000
"""Ways to share out two samples that are still counted: ten against ten has 184,756."""
SAME_SCORE = 1e-9


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """Kaplan-Meier and Nelson-Aalen estimates, one row for each hour of a failure.

    The interval of the survival is that of ln(-ln S), which stays between 0 and 1; it is NaN where the survival is 0.
    """

    hours: FloatArray
    at_risk: FloatArray
    failures: FloatArray
    survival: FloatArray
    survival_error: FloatArray
    survival_low: FloatArray
    survival_high: FloatArray
    cumulative_hazard: FloatArray

    def survival_at(self, hours: float) -> float:
        place = int(np.searchsorted(self.hours, hours, side="right"))
        return float(self.survival[place - 1]) if place else 1.0


@dataclass(frozen=True)
class LifetimeComparison:
    """Two samples against the hypothesis of one survival.

    `surplus` is how many more failures the first sample had than its share: above 0 its parts last shorter. `p_value` is
    two-sided, `p_one_sided` the chance of a surplus at least as large on the same side. `ways` is how many ways to share out
    the lifetimes were counted.
    """

    surplus: float
    p_value: float
    p_one_sided: float
    method: Literal["log_rank", "exact_permutation"]
    ways: int | None = None


def survival_curve(lifetimes: Lifetimes, *, confidence: float = 0.95) -> SurvivalCurve:
    """Estimates for exact or right-censored lifetimes; empty without a failure. `confidence` is that of the interval of the
    survival. A lifetime censored at the hour of a failure is still at risk then.

    >>> from drives.reliability.lifetimes import right_censored
    >>> curve = survival_curve(right_censored([100, 200, 200, 300], observed=[1, 1, 0, 0]))
    >>> curve.survival.tolist(), curve.cumulative_hazard.round(4).tolist()
    ([0.75, 0.5], [0.25, 0.5833])
    """
    reach = float(special.ndtri((1 + fraction("confidence", confidence)) / 2))
    hours, at_risk, failures = _risk_table(lifetimes)
    with np.errstate(divide="ignore", invalid="ignore"):
        survival = np.asarray(np.cumprod(1 - failures / at_risk), dtype=np.float64)
        relative = np.sqrt(np.cumsum(failures / (at_risk * (at_risk - failures))))
        error = np.where(survival > 0, survival * relative, 0.0)
        bend = np.exp(reach * relative / np.log(survival))
        low, high = survival ** (1 / bend), survival**bend
    known = (survival > 0) & (survival < 1)
    return SurvivalCurve(
        hours=hours,
        at_risk=at_risk,
        failures=failures,
        survival=survival,
        survival_error=error,
        survival_low=np.where(known, low, np.nan),
        survival_high=np.where(known, high, np.nan),
        cumulative_hazard=np.cumsum(failures / at_risk),
    )


def _risk_table(lifetimes: Lifetimes) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hours of failures, how many were at risk then, how many failed."""
    if not lifetimes.is_right_censored_only:
        raise ValueError("`lifetimes` must be exact or right-censored, not between two inspections.")
    failed = lifetimes.is_observed
    hours, where = np.unique(lifetimes.lower_hours[failed], return_inverse=True)
    failures = np.bincount(where, weights=lifetimes.weights[failed], minlength=hours.size).astype(np.float64)
    return hours, _at_risk(hours, lifetimes.lower_hours, lifetimes.weights), failures


def _at_risk(hours: FloatArray, until: FloatArray, weights: FloatArray) -> FloatArray:
    order = np.argsort(until, kind="stable")
    left = np.concatenate((np.cumsum(weights[order][::-1])[::-1], [0.0]))
    return np.asarray(left[np.searchsorted(until[order], hours, side="left")])


def log_rank(first: Lifetimes, second: Lifetimes) -> LifetimeComparison:
    """Log-rank test, p by chi-square with one degree of freedom; 1 where no failure distinguishes the samples.

    >>> from drives.reliability.lifetimes import right_censored
    >>> short, long = right_censored([1, 2, 3], observed=[1] * 3), right_censored([7, 8, 9], observed=[1] * 3)
    >>> round(log_rank(short, long).p_value, 3)
    0.025
    """
    both = _together(first, second)
    hours, at_risk, failures = _risk_table(both)
    of_first = _at_risk(hours, first.lower_hours, first.weights)
    share = of_first / at_risk
    surplus = first.failures - float(np.dot(failures, share))
    several = at_risk > 1
    spread = (failures * share * (1 - share) * (at_risk - failures))[several] / (at_risk - 1)[several]
    variance = float(spread.sum())
    if variance <= 0:
        return LifetimeComparison(surplus, 1.0, 1.0, "log_rank")
    p_value = float(special.erfc(math.sqrt(surplus**2 / variance / 2)))
    return LifetimeComparison(surplus, p_value, p_value / 2, "log_rank")


def permutation_test(first: Lifetimes, second: Lifetimes) -> LifetimeComparison:
    """Exact test of two small samples, over all ways to share out the same lifetimes, at most `MOST_SPLITS`.

    What ended the observation must have nothing to do with the sample. The surplus is that of `log_rank`.

    >>> from drives.reliability.lifetimes import right_censored
    >>> short = right_censored([100, 220, 390], observed=[True] * 3)
    >>> long = right_censored([600, 700, 800, 900], observed=[False] * 4)
    >>> found = permutation_test(short, long)
    >>> round(found.p_value, 4), round(found.p_one_sided, 4)
    (0.0286, 0.0286)
    """
    both = _together(first, second)
    if not len(first) or not len(second):
        raise ValueError("`first` and `second` must hold at least one lifetime each.")
    if (both.weights != 1).any():
        raise ValueError("`first` and `second` must have no weights: give each lifetime a row.")
    ways = math.comb(len(both), len(first))
    if ways > MOST_SPLITS:
        raise ValueError(
            f"`first` and `second` must have at most {MOST_SPLITS} ways to be shared out, not {ways}: use `log_rank`."
        )
    curve = survival_curve(both)
    hazard = np.concatenate(([0.0], curve.cumulative_hazard))
    scores: FloatArray = (
        both.is_observed - hazard[np.searchsorted(curve.hours, both.lower_hours, side="right")]
    )
    surplus = float(scores[: len(first)].sum())
    # The scores of all lifetimes add up to zero, so that either side of a split has the same surplus.
    far = abs(surplus) - SAME_SCORE
    above, below = _ways_beyond(far, scores, len(first))
    p_value = (above + below) / ways if far > 0 else 1.0
    is_as_far = (above if surplus > 0 else below) / ways
    return LifetimeComparison(surplus, p_value, is_as_far, "exact_permutation", ways)


def _ways_beyond(far: float, scores: FloatArray, size: int) -> tuple[int, int]:
    """Of all ways to choose so many of the scores, those with a sum from `far` up, and those from `-far` down.

    Each way is a choice of either half: the sums of one are looked up among those of the other.
    """
    first, second = (_sums_by_size(half, size) for half in np.array_split(scores, 2))
    above = below = 0
    for chosen, sums in enumerate(first):
        others = np.sort(second[size - chosen])
        if sums.size and others.size:
            above += int((others.size - np.searchsorted(others, far - sums)).sum())
            below += int(np.searchsorted(others, -far - sums, side="right").sum())
    return above, below


def _sums_by_size(scores: FloatArray, most: int) -> list[FloatArray]:
    """By the number of scores that are chosen, the sum of each choice."""
    found = [np.zeros(1)] + [np.empty(0)] * most
    for score in scores:
        more = (np.concatenate((found[size], found[size - 1] + score)) for size in range(1, most + 1))
        found = [found[0], *more]
    return found


def _together(first: Lifetimes, second: Lifetimes) -> Lifetimes:
    return Lifetimes(
        np.concatenate((first.lower_hours, second.lower_hours)),
        np.concatenate((first.upper_hours, second.upper_hours)),
        np.concatenate((first.weights, second.weights)),
    )
