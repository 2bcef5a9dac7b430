"""What the lives show without a law: survival, cumulative hazard, renewals per position, and two samples compared."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import combinations
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lives import LONGEST_HOURS, Lives
from inventory.array_checks import FloatArray, flags, number_list
from inventory.number_checks import fraction

MOST_SPLITS = 200_000
"""Ways to share out two samples that are still counted one by one: ten against ten has 184,756."""
SAME_SCORE = 1e-9
# A table of units by times larger than this is summed in slices.
CELLS_AT_ONCE = 1 << 22


@dataclass(frozen=True, eq=False)
class SurvivalCurve:
    """Kaplan-Meier and Nelson-Aalen estimates, one row for each hour at which an end was seen.

    The interval of the survival is that of ln(-ln S), which stays between 0 and 1; it is NaN where the survival is 0.
    """

    hours: FloatArray
    at_risk: FloatArray
    ends: FloatArray
    survival: FloatArray
    survival_error: FloatArray
    survival_low: FloatArray
    survival_high: FloatArray
    cumulative_hazard: FloatArray
    cumulative_hazard_error: FloatArray

    def survival_at(self, hours: float) -> float:
        """Share that outlives an hour; 1 before the first end."""
        place = int(np.searchsorted(self.hours, hours, side="right"))
        return float(self.survival[place - 1]) if place else 1.0


@dataclass(frozen=True, eq=False)
class RenewalCurve:
    """Mean cumulative number of renewals per position, one row for each hour at which there was one."""

    hours: FloatArray
    at_risk: FloatArray
    renewals: FloatArray
    mean: FloatArray
    mean_error: FloatArray


@dataclass(frozen=True)
class Comparison:
    """Two samples of lives against the claim that they live alike.

    `surplus` is how many more ends the first sample had than its share; above 0 it lives shorter.
    """

    surplus: float
    statistic: float
    p_value: float
    method: str


def survival_curve(lives: Lives, *, confidence: float = 0.95) -> SurvivalCurve:
    """Share that outlives each hour, and the hazard run through by then.

    Parameters
    ----------
    lives : Lives
        Ends at a known hour or right-censored; weights count as equal lives. A life censored at the hour of an end is
        still at risk then.
    confidence : float
        Of the interval of the survival [-], between 0 and 1.

    Returns
    -------
    SurvivalCurve
        Empty where no end was seen.

    Raises
    ------
    ValueError
        If an end lies between two looks.

    Source
    ------
    Kaplan and Meier, Journal of the American Statistical Association 53, 1958, with Greenwood's error; Nelson,
    Technometrics 14, 1972, and Aalen 1978: sum of d/n, its variance sum of d/n^2; interval of ln(-ln S), Kalbfleisch and
    Prentice, The Statistical Analysis of Failure Time Data, 1980, sec. 1.3.

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> curve = survival_curve(right_censored([100, 200, 200, 300], observed=[1, 1, 0, 0]))
    >>> curve.survival.tolist(), curve.cumulative_hazard.round(4).tolist()
    ([0.75, 0.5], [0.25, 0.5833])
    """
    reach = float(special.ndtri((1 + fraction("confidence", confidence)) / 2))
    hours, at_risk, ends = _risk_table(lives)
    with np.errstate(divide="ignore", invalid="ignore"):
        survival = np.asarray(np.cumprod(1 - ends / at_risk), dtype=np.float64)
        relative = np.sqrt(np.cumsum(ends / (at_risk * (at_risk - ends))))
        error = np.where(survival > 0, survival * relative, 0.0)
        bend = np.exp(reach * relative / np.log(survival))
        low, high = survival ** (1 / bend), survival**bend
    known = (survival > 0) & (survival < 1)
    return SurvivalCurve(
        hours=hours,
        at_risk=at_risk,
        ends=ends,
        survival=survival,
        survival_error=error,
        survival_low=np.where(known, low, np.nan),
        survival_high=np.where(known, high, np.nan),
        cumulative_hazard=np.cumsum(ends / at_risk),
        cumulative_hazard_error=np.sqrt(np.cumsum(ends / at_risk**2)),
    )


def _risk_table(lives: Lives) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Hours of ends, how many were still under observation then, how many ended."""
    if not lives.is_right_censored_only:
        raise ValueError(
            "`lives` must end at a known hour or be right-censored: fit ends between two looks by a law."
        )
    seen = lives.is_observed
    hours, where = np.unique(lives.lower_hours[seen], return_inverse=True)
    ends = np.bincount(where, weights=lives.weights[seen], minlength=hours.size).astype(np.float64)
    return hours, _still_there(hours, lives.lower_hours, lives.weights), ends


def _still_there(hours: FloatArray, until: FloatArray, weights: FloatArray) -> FloatArray:
    order = np.argsort(until, kind="stable")
    left = np.concatenate((np.cumsum(weights[order][::-1])[::-1], [0.0]))
    return np.asarray(left[np.searchsorted(until[order], hours, side="left")])


def mean_renewals(positions: npt.ArrayLike, *, hours: npt.ArrayLike, renewed: npt.ArrayLike) -> RenewalCurve:
    """Mean cumulative number of renewals per position against its running hours.

    Parameters
    ----------
    positions : array_like
        Name or number of the position of each row.
    hours : array_like of float
        Hours that the position had run [h], 0 to 1e7.
    renewed : array_like of bool
        True for a renewal, False for the end of observation; a position is observed until its last row.

    Returns
    -------
    RenewalCurve
        Empty where there was no renewal; the error is that of the positions as a sample.

    Raises
    ------
    ValueError
        If sizes differ or a value is out of range.

    Source
    ------
    Nelson, Technometrics 37, 1995, and Recurrent Events Data Analysis, 2003: sum of renewals over positions still
    observed; error after Lawless and Nadeau, Technometrics 37, 1995 (from memory).

    Examples
    --------
    >>> curve = mean_renewals(["a", "a", "b", "b"], hours=[100, 500, 300, 400], renewed=[1, 0, 1, 0])
    >>> curve.hours.tolist(), curve.mean.tolist()
    ([100.0, 300.0], [0.5, 1.0])
    """
    run = number_list("hours", hours, most=LONGEST_HOURS)
    is_renewal = flags("renewed", renewed, size=run.size)
    names = np.asarray(positions)
    if names.shape != run.shape:
        raise ValueError(f"`positions` must be {run.size} names, one for each row.")
    found, owner = np.unique(names, return_inverse=True)
    until = np.zeros(found.size)
    np.maximum.at(until, owner, run)
    times, where = np.unique(run[is_renewal], return_inverse=True)
    renewals = np.bincount(where, minlength=times.size).astype(np.float64)
    at_risk = _still_there(times, until, np.ones(found.size))
    variance = _variance_over_positions(
        times, at_risk, renewals, where=where, owner=owner[is_renewal], until=until
    )
    return RenewalCurve(times, at_risk, renewals, np.cumsum(renewals / at_risk), np.sqrt(variance))


def _variance_over_positions(
    times: FloatArray,
    at_risk: FloatArray,
    renewals: FloatArray,
    *,
    where: npt.NDArray[Any],
    owner: npt.NDArray[Any],
    until: FloatArray,
) -> FloatArray:
    """Sum over positions of the square of what each adds to the mean beyond its share."""
    total = np.zeros(times.size)
    share = renewals / at_risk**2
    for first in range(0, until.size, max(1, CELLS_AT_ONCE // max(1, times.size))):
        last = min(until.size, first + max(1, CELLS_AT_ONCE // max(1, times.size)))
        own = (owner >= first) & (owner < last)
        added = np.zeros((last - first, times.size))
        np.add.at(added, (owner[own] - first, where[own]), 1 / at_risk[where[own]])
        added -= share * (times <= until[first:last, None])
        total += np.sum(np.cumsum(added, axis=1) ** 2, axis=0)
    return total


def log_rank(first: Lives, second: Lives) -> Comparison:
    """Two samples compared by the ends that each had against its share of those at risk.

    Parameters
    ----------
    first, second : Lives
        Ends at a known hour or right-censored; weights count as equal lives.

    Returns
    -------
    Comparison
        Chi-square with one degree of freedom and its two-sided p; p is 1 where no end tells them apart.

    Raises
    ------
    ValueError
        If an end lies between two looks.

    Source
    ------
    Mantel, Cancer Chemotherapy Reports 50, 1966; Kalbfleisch and Prentice, The Statistical Analysis of Failure Time Data,
    1980, sec. 1.4, with the hypergeometric variance.

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> short, long = right_censored([1, 2, 3], observed=[1] * 3), right_censored([7, 8, 9], observed=[1] * 3)
    >>> found = log_rank(short, long)
    >>> round(found.statistic, 3), round(found.p_value, 3)
    (5.052, 0.025)
    """
    both = _together(first, second)
    hours, at_risk, ends = _risk_table(both)
    of_first = _still_there(hours, first.lower_hours, first.weights)
    share = of_first / at_risk
    surplus = first.failures - float(np.dot(ends, share))
    several = at_risk > 1
    spread = (ends * share * (1 - share) * (at_risk - ends))[several] / (at_risk - 1)[several]
    variance = float(spread.sum())
    if variance <= 0:
        return Comparison(surplus, 0.0, 1.0, "log-rank")
    statistic = surplus**2 / variance
    return Comparison(surplus, statistic, float(special.erfc(math.sqrt(statistic / 2))), "log-rank")


def permutation_test(first: Lives, second: Lives) -> Comparison:
    """Two small samples compared exactly: over all ways in which the same lives could have fallen to them.

    Parameters
    ----------
    first, second : Lives
        Ends at a known hour or right-censored, at least one life each, without weights, and no more than 200,000 ways to
        share them out (ten against ten). What ended the observation must have nothing to do with the sample.

    Returns
    -------
    Comparison
        `statistic` is the surplus; p is the share of ways with a surplus at least as large either way.

    Raises
    ------
    ValueError
        If an end lies between two looks, a sample is empty, has weights, or there are too many ways.

    Source
    ------
    Permutation of the log-rank scores (seen or not, less the cumulative hazard run through), Peto and Peto, Journal of
    the Royal Statistical Society A 135, 1972. Their sum is the surplus of `log_rank`.

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> short = right_censored([100, 220, 390], observed=[True] * 3)
    >>> long = right_censored([600, 700, 800, 900], observed=[False] * 4)
    >>> round(permutation_test(short, long).p_value, 4)
    0.0286
    """
    both = _together(first, second)
    if not len(first) or not len(second):
        raise ValueError("`first` and `second` must hold at least one life each.")
    if (both.weights != 1).any():
        raise ValueError("`first` and `second` must have no weights: give each life a row.")
    ways = math.comb(len(both), len(first))
    if ways > MOST_SPLITS:
        raise ValueError(
            f"`first` and `second` must have at most {MOST_SPLITS} ways to be shared out, not {ways}: use `log_rank`."
        )
    curve = survival_curve(both)
    run_through = np.concatenate(([0.0], curve.cumulative_hazard))
    scores: FloatArray = (
        both.is_observed - run_through[np.searchsorted(curve.hours, both.lower_hours, side="right")]
    )
    surplus = float(scores[: len(first)].sum())
    sums = np.fromiter(
        (sum(chosen) for chosen in combinations(scores.tolist(), len(first))), float, count=ways
    )
    # The scores of all lives add up to zero, so that either side of a split has the same surplus.
    p_value = float(np.mean(np.abs(sums) >= abs(surplus) - SAME_SCORE))
    return Comparison(surplus, surplus, p_value, f"exact permutation, {ways} ways")


def _together(first: Lives, second: Lives) -> Lives:
    return Lives(
        np.concatenate((first.lower_hours, second.lower_hours)),
        np.concatenate((first.upper_hours, second.upper_hours)),
        np.concatenate((first.weights, second.weights)),
    )
