"""Two-parameter Weibull fit of lifetimes by maximum likelihood, with intervals, a verdict and its reasons.

Source: Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 8 (likelihood, Wald intervals on
logarithms, profile-likelihood intervals).
"""

import math
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from scipy import special

from drives.reliability.few_failures import rate_upper_bound
from drives.reliability.lifetimes import Lifetimes
from drives.reliability.weibull_groups import FEW_FAILURES, fit_adjacent_groups
from drives.reliability.weibull_intervals import FARTHEST_LOG, Interval, ProfileIntervals
from drives.reliability.weibull_likelihood import WeibullLikelihood
from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.number_checks import fraction, positive

Verdict = Literal["wear_out", "random", "infant", "too_few"]
CONFIDENCE = 0.95
# Bounds closer than this, relative, are one hour: no shape below 1e9 tells them apart.
SAME_HOUR = 1e-12


@dataclass(frozen=True)
class WeibullFit:
    """Weibull distribution of some lifetimes; without an estimate its numbers are None and `reasons` says why.

    Intervals are by profile likelihood, the `wald` ones on the scale of logarithms; an open interval ends at 0 or
    infinity. `rate_upper_per_hour` is the one-sided upper bound of a constant rate. `verdict`: the interval of the shape
    lies above 1 (`wear_out`), below 1 (`infant`) or around 1 (`random`); `too_few` with fewer than three failures.
    """

    failures: float
    suspensions: float
    exposure_hours: float
    verdict: Verdict
    reasons: tuple[Fact, ...]
    rate_upper_per_hour: float | None = None
    shape: float | None = None
    scale_hours: float | None = None
    shape_interval: Interval | None = None
    scale_interval_hours: Interval | None = None
    shape_interval_wald: Interval | None = None
    scale_interval_wald_hours: Interval | None = None
    log_likelihood: float | None = None
    mean_life_hours: float | None = None
    confidence: float = CONFIDENCE

    @property
    def is_estimated(self) -> bool:
        return self.shape is not None


def mean_life_hours(shape: float, *, scale_hours: float) -> float:
    """scale Gamma(1 + 1/shape); infinite where it is beyond a double.

    >>> round(mean_life_hours(2, scale_hours=1000), 4)
    886.2269
    """
    log_mean = special.gammaln(1 + 1 / positive("shape", shape)) + math.log(
        positive("scale_hours", scale_hours)
    )
    return float(np.exp(log_mean)) if log_mean < 709 else math.inf


def fit_weibull(lifetimes: Lifetimes, *, confidence: float = CONFIDENCE) -> WeibullFit:
    """Weibull distribution that makes the lifetimes likeliest; their groups do not count.

    >>> from drives.reliability.lifetimes import right_censored
    >>> fit = fit_weibull(right_censored([700, 900, 1000, 1100, 1300, 1300], observed=[1, 1, 1, 1, 1, 0]))
    >>> round(fit.shape, 3), round(fit.scale_hours, 1), fit.verdict
    (4.927, 1165.9, 'wear_out')
    """
    fraction("confidence", confidence)
    obstacle = why_no_maximum(lifetimes)
    if obstacle:
        return _without_estimate(lifetimes, obstacle, confidence)
    likelihood = WeibullLikelihood.of(lifetimes)
    found = likelihood.maximum(_start(lifetimes, likelihood))
    if found is None:
        return _without_estimate(lifetimes, fact("likelihood_without_maximum"), confidence)
    a, shape = (float(value) for value in found.point)
    if abs(a / shape) > FARTHEST_LOG:
        return _without_estimate(lifetimes, fact("scale_not_estimable"), confidence)
    intervals = ProfileIntervals(likelihood, found, drop=_chi_square_half(confidence))
    shape_error, scale_error = intervals.errors
    by_shape, by_scale = intervals.of_shape(), intervals.of_scale_hours()
    scale = likelihood.unit_hours * math.exp(-a / shape)
    mean = mean_life_hours(shape, scale_hours=scale)
    verdict, reason = _judge(lifetimes.failures, shape=shape, interval=by_shape, confidence=confidence)
    return WeibullFit(
        **_counts(lifetimes, confidence),
        verdict=verdict,
        reasons=(reason, *_open_ends(by_shape, by_scale, mean)),
        shape=shape,
        scale_hours=scale,
        shape_interval=by_shape,
        scale_interval_hours=by_scale,
        shape_interval_wald=_wald(shape, shape_error, confidence),
        scale_interval_wald_hours=_wald(scale, scale_error, confidence),
        log_likelihood=found.derivatives.value,
        mean_life_hours=mean,
        confidence=confidence,
    )


def why_no_maximum(lifetimes: Lifetimes) -> Fact | None:
    """Why the likelihood has no finite maximum, if so.

    The shape grows without bound where one lifetime lies within all bounds. With only left-censored failures and units
    that still run, the slope at shape 0 says whether a shape above 0 is likelier (concavity, see `weibull_likelihood`).
    """
    if not lifetimes.failures:
        return fact("no_failures_observed")
    failed = lifetimes.is_observed
    oldest, earliest = float(lifetimes.lower_hours.max()), float(lifetimes.upper_hours.min())
    if oldest <= earliest * (1 + SAME_HOUR):
        if not lifetimes.is_right_censored_only:
            return fact("inspections_too_far_apart", hours=earliest)
        return fact("failures_only_at_longest_life", failures=int(np.count_nonzero(failed)), hours=earliest)
    if (lifetimes.is_exact | (failed & (lifetimes.lower_hours > 0))).any():
        return None
    informative = failed | (lifetimes.lower_hours > 0)
    bounds = np.where(failed, lifetimes.upper_hours, lifetimes.lower_hours)
    logs = np.log(bounds, where=informative, out=np.zeros(len(lifetimes)))
    share = lifetimes.failures / float(lifetimes.weights[informative].sum())
    hazard = -math.log1p(-share)
    pull = (1 - share) / share * np.dot(lifetimes.weights * failed, logs)
    pull -= np.dot(lifetimes.weights * (informative & ~failed), logs)
    return None if hazard * pull > 0 else fact("failed_parts_no_older_than_running")


def _start(lifetimes: Lifetimes, likelihood: WeibullLikelihood) -> FloatArray:
    """The exact answer where all hours are known, else an exponential distribution through the middles."""
    if lifetimes.is_right_censored_only:
        shape, scale, _ = fit_adjacent_groups(
            lifetimes.lower_hours,
            observed=lifetimes.is_observed,
            weights=lifetimes.weights,
            starts=np.zeros(1, dtype=np.int64),
        )
        if np.isfinite(shape[0]):
            return np.array([-shape[0] * math.log(scale[0] / likelihood.unit_hours), shape[0]])
    rate = lifetimes.failures / (lifetimes.exposure_hours / likelihood.unit_hours)
    return np.array([math.log(rate), 1.0])


def _wald(value: float, log_error: float, confidence: float) -> Interval:
    reach = float(special.ndtri((1 + confidence) / 2)) * log_error
    if reach > FARTHEST_LOG:
        return 0.0, math.inf
    return value * math.exp(-reach), value * math.exp(reach)


def _chi_square_half(confidence: float) -> float:
    """Half the quantile of chi-square with one degree of freedom: the drop of log-likelihood at an interval's ends."""
    return float(special.ndtri((1 + confidence) / 2)) ** 2 / 2


def _counts(lifetimes: Lifetimes, confidence: float) -> dict[str, Any]:
    failures, exposure = lifetimes.failures, lifetimes.exposure_hours
    return {
        "failures": failures,
        "suspensions": lifetimes.suspensions,
        "exposure_hours": exposure,
        "rate_upper_per_hour": rate_upper_bound(failures, exposure_hours=exposure, confidence=confidence)
        if exposure > 0
        else None,
    }


def _without_estimate(lifetimes: Lifetimes, obstacle: Fact, confidence: float) -> WeibullFit:
    counts = _counts(lifetimes, confidence)
    bound = counts["rate_upper_per_hour"]
    more = (
        ()
        if bound is None
        else (fact("mean_life_at_least", hours=1 / bound, confidence_percent=100 * confidence),)
    )
    return WeibullFit(**counts, verdict="too_few", reasons=(obstacle, *more), confidence=confidence)


def _judge(failures: float, *, shape: float, interval: Interval, confidence: float) -> tuple[Verdict, Fact]:
    low, high = interval
    values = {
        "shape": shape,
        "shape_low": low,
        "shape_high": _finite(high),
        "confidence_percent": 100 * confidence,
    }
    if failures < FEW_FAILURES:
        return "too_few", fact("too_few_failures_for_shape", failures=failures, **values)
    if low > 1:
        return "wear_out", fact("parts_wear_out", **values)
    if high < 1:
        return "infant", fact("parts_fail_early", **values)
    return "random", fact("parts_fail_at_random", **values)


def _open_ends(shape: Interval, scale_hours: Interval, mean_hours: float) -> tuple[Fact, ...]:
    codes = {"shape_without_upper_bound": shape[1], "scale_without_upper_bound": scale_hours[1]}
    codes["mean_life_beyond_numbers"] = mean_hours
    return tuple(fact(code) for code, value in codes.items() if math.isinf(value))


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None
