"""Two-parameter Weibull fit of lives by maximum likelihood, with intervals and a verdict in words."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

import numpy as np
from scipy import optimize, special

from drives.reliability.few import rate_upper
from drives.reliability.groups import FEW_FAILURES, solve
from drives.reliability.likelihood import WeibullLikelihood
from drives.reliability.lives import Lives
from inventory.array_checks import FloatArray
from inventory.number_checks import fraction, number, positive

Verdict = Literal["wear_out", "random", "infant", "too_few"]
Interval = tuple[float, float]

CONFIDENCE = 0.95
# Bounds closer than this, relative, are one hour: no shape below 1e9 tells them apart.
SAME_HOUR = 1e-12
# Shapes and scales beyond these, in logarithms from the estimate, are given as 0 or infinity.
FARTHEST_LOG = 600.0
NO_CLEAR_MAXIMUM = "The likelihood has no clear maximum: these lives fix no shape."
NO_SCALE = "The likeliest law has no trend that hours could scale: these lives fix no scale."


@dataclass(frozen=True)
class Fit:
    """A Weibull law for some lives, or the reason why there is none.

    Without an estimate every number of the law is None, and `rate_upper_per_hour` still says what the hours run allow:
    the one-sided upper bound of a constant rate. Intervals are by profile likelihood, the `wald` ones on the scale of
    logarithms; an interval that the lives do not close ends at 0 or infinity. `verdict` looks at the interval of the
    shape: above 1 `wear_out`, below 1 `infant`, around 1 `random`; fewer than three ends, or no estimate, `too_few`.
    """

    failures: float
    suspensions: float
    exposure_hours: float
    verdict: Verdict
    reason: str
    rate_upper_per_hour: float | None = None
    shape: float | None = None
    scale_hours: float | None = None
    shape_interval: Interval | None = None
    scale_interval_hours: Interval | None = None
    shape_interval_wald: Interval | None = None
    scale_interval_wald_hours: Interval | None = None
    log_shape_error: float | None = None
    log_scale_error: float | None = None
    log_likelihood: float | None = None
    mean_life_hours: float | None = None
    confidence: float = CONFIDENCE

    def __post_init__(self) -> None:
        if (self.shape is None) != (self.scale_hours is None):
            raise ValueError("`shape` and `scale_hours` must be given together.")
        if self.shape is None and self.verdict != "too_few":
            raise ValueError("`verdict` must be too_few where there is no estimate.")

    @property
    def is_estimated(self) -> bool:
        """There is a shape and a scale."""
        return self.shape is not None


def mean_life_hours(shape: float, *, scale_hours: float) -> float:
    """Mean of a Weibull law.

    Parameters
    ----------
    shape : float
        Shape [-], above 0.
    scale_hours : float
        Scale [h], above 0.

    Returns
    -------
    float
        Mean life [h]; infinite where it is beyond a double.

    Raises
    ------
    ValueError
        If a value is not above 0.

    Source
    ------
    scale Gamma(1 + 1/shape), textbook.

    Examples
    --------
    >>> round(mean_life_hours(2, scale_hours=1000), 4)
    886.2269
    """
    log_mean = special.gammaln(1 + 1 / positive("shape", shape)) + math.log(
        positive("scale_hours", scale_hours)
    )
    return float(np.exp(log_mean)) if log_mean < 709 else math.inf


def life_quantile_hours(share: float, *, shape: float, scale_hours: float) -> float:
    """Hours by which a share of the parts has ended: 0.1 gives the B10 life.

    Parameters
    ----------
    share : float
        Share that has ended [-], between 0 and 1.
    shape : float
        Shape [-], above 0.
    scale_hours : float
        Scale [h], above 0.

    Returns
    -------
    float
        Life [h].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    scale (-ln(1 - share))^(1/shape), textbook.

    Examples
    --------
    >>> round(life_quantile_hours(0.1, shape=2, scale_hours=1000), 2)
    324.59
    """
    ended = -math.log1p(-fraction("share", share))
    return positive("scale_hours", scale_hours) * float(ended ** (1 / positive("shape", shape)))


def fit_weibull(lives: Lives, *, confidence: float = CONFIDENCE) -> Fit:
    """Weibull law that makes the lives likeliest.

    Parameters
    ----------
    lives : Lives
        Ends at a known hour, between two looks, or not yet; weights count, groups do not.
    confidence : float
        Of the intervals [-], between 0 and 1.

    Returns
    -------
    Fit
        Shape, scale, intervals, log-likelihood, mean life, verdict and its reason. There is no estimate without an end
        that was seen, where one single life would explain everything, or where parts found ended were not the older ones.

    Raises
    ------
    ValueError
        If `confidence` is out of range.

    Source
    ------
    Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 8 (likelihood, Wald intervals on logarithms,
    profile-likelihood intervals).

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> fit = fit_weibull(right_censored([700, 900, 1000, 1100, 1300, 1300], observed=[1, 1, 1, 1, 1, 0]))
    >>> round(fit.shape, 3), round(fit.scale_hours, 1), fit.verdict
    (4.927, 1165.9, 'wear_out')
    """
    fraction("confidence", confidence)
    obstacle = why_no_maximum(lives)
    if obstacle:
        return _without_estimate(lives, obstacle, confidence)
    likelihood = WeibullLikelihood.of(lives)
    found = likelihood.maximum(_start(lives, likelihood))
    if found is None:
        return _without_estimate(lives, NO_CLEAR_MAXIMUM, confidence)
    slopes = found.slopes
    a, shape = (float(value) for value in found.place)
    if abs(a / shape) > FARTHEST_LOG:
        return _without_estimate(lives, NO_SCALE, confidence)
    scale = likelihood.unit_hours * math.exp(-a / shape)
    errors = _log_errors(a, shape, slopes.curvature)
    limits = _Profile(likelihood, a=a, shape=shape, top=slopes.value, drop=_chi_square_half(confidence))
    by_shape = limits.of_shape(errors[0])
    verdict, reason = _judge(lives.failures, shape=shape, interval=by_shape, confidence=confidence)
    return Fit(
        **_counts(lives, confidence),
        verdict=verdict,
        reason=reason,
        shape=shape,
        scale_hours=scale,
        shape_interval=by_shape,
        scale_interval_hours=limits.of_scale_hours(errors[1]),
        shape_interval_wald=_wald(shape, errors[0], confidence),
        scale_interval_wald_hours=_wald(scale, errors[1], confidence),
        log_shape_error=errors[0],
        log_scale_error=errors[1],
        log_likelihood=slopes.value,
        mean_life_hours=mean_life_hours(shape, scale_hours=scale),
        confidence=confidence,
    )


def fit_scale_hours(lives: Lives, *, shape: float) -> float | None:
    """Scale that makes the lives likeliest where the shape is known; shape 1 gives the mean of an exponential law.

    Parameters
    ----------
    lives : Lives
        As in `fit_weibull`.
    shape : float
        Shape [-], from 0.001 to 1000.

    Returns
    -------
    float or None
        Scale [h]; None where no end was seen or no life got past 0 hours unseen.

    Raises
    ------
    ValueError
        If the shape is out of range.

    Source
    ------
    (sum t^b / r)^(1/b) for known hours, Lawless, Statistical Models and Methods for Lifetime Data, 2nd ed. 2003,
    sec. 5.2; by Newton steps for ends between two looks.

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> round(fit_scale_hours(right_censored([100, 300, 500], observed=[1, 0, 1]), shape=1), 9)
    450.0
    """
    number("shape", shape, least=1e-3, most=1e3)
    if not lives.failures or not (lives.lower_hours > 0).any():
        return None
    likelihood = WeibullLikelihood.of(lives)
    middle = _middle_logs(lives, likelihood)
    start = math.log(lives.failures) - special.logsumexp(shape * middle, b=lives.weights)
    _, a = likelihood.highest_at_shape(shape, start=float(start))
    return likelihood.unit_hours * math.exp(-a / shape)


def why_no_maximum(lives: Lives) -> str | None:
    """Why the likelihood of a Weibull law has no finite maximum over these lives, if so.

    Parameters
    ----------
    lives : Lives
        As in `fit_weibull`.

    Returns
    -------
    str or None
        A sentence, or None where there is a maximum.

    Raises
    ------
    ValueError
        Never.

    Source
    ------
    The shape grows without bound where one life lies within all bounds; with ends found at the first look and running
    lives only, the slope at shape 0 says whether a shape above 0 is likelier (concavity, see `likelihood`).

    Examples
    --------
    >>> from drives.reliability.lives import right_censored
    >>> why_no_maximum(right_censored([100, 50], observed=[True, False]))
    'The only end seen came at the longest life, 100 h: any steepness of wear-out explains it, so no shape can be given.'
    """
    if not lives.failures:
        return "No end was seen: the hours run give a bound, not a law."
    seen = lives.is_observed
    oldest, earliest = float(lives.lower_hours.max()), float(lives.upper_hours.min())
    if oldest <= earliest * (1 + SAME_HOUR):
        return _tied(lives, earliest)
    barrier = lives.is_exact | (seen & (lives.lower_hours > 0))
    if barrier.any():
        return None
    telling = seen | (lives.lower_hours > 0)
    hours = np.log(
        np.where(seen, lives.upper_hours, lives.lower_hours), where=telling, out=np.zeros(len(lives))
    )
    share = lives.failures / float(lives.weights[telling].sum())
    hazard = -math.log1p(-share)
    pull = (1 - share) / share * np.dot(lives.weights * seen, hours) - np.dot(
        lives.weights * (telling & ~seen), hours
    )
    if hazard * pull > 0:
        return None
    return "The parts found ended were no older than those still running: no wear-out and no law to be had from that."


def _tied(lives: Lives, hours: float) -> str:
    if not lives.is_right_censored_only:
        return (
            f"One life of {hours:g} h for every part would explain all that was seen: the looks are too far apart to"
            " give a shape."
        )
    ends = int(np.count_nonzero(lives.is_observed))
    which = "The only end seen" if ends == 1 else f"All {ends} ends seen"
    return f"{which} came at the longest life, {hours:g} h: any steepness of wear-out explains it, so no shape can be given."


def _middle_logs(lives: Lives, likelihood: WeibullLikelihood) -> FloatArray:
    middle = np.where(lives.is_observed, (lives.lower_hours + lives.upper_hours) / 2, lives.lower_hours)
    with np.errstate(divide="ignore"):
        return np.asarray(np.log(middle / likelihood.unit_hours))


def _start(lives: Lives, likelihood: WeibullLikelihood) -> FloatArray:
    """The exact answer where all hours are known, else an exponential law through the middles."""
    if lives.is_right_censored_only:
        shape, scale, _ = solve(
            lives.lower_hours,
            observed=lives.is_observed,
            weights=lives.weights,
            starts=np.zeros(1, dtype=np.int64),
        )
        if np.isfinite(shape[0]):
            return np.array([-shape[0] * math.log(scale[0] / likelihood.unit_hours), shape[0]])
    rate = lives.failures / (lives.exposure_hours / likelihood.unit_hours)
    return np.array([math.log(rate), 1.0])


def _log_errors(a: float, shape: float, curvature: FloatArray) -> tuple[float, float]:
    """Standard errors of ln shape and ln scale, where ln scale = -a / shape."""
    covariance = np.linalg.inv(-curvature)
    by_scale = np.array([-1 / shape, a / shape**2])
    return math.sqrt(covariance[1, 1]) / shape, math.sqrt(float(by_scale @ covariance @ by_scale))


def _wald(value: float, log_error: float, confidence: float) -> Interval:
    reach = float(special.ndtri((1 + confidence) / 2)) * log_error
    if reach > FARTHEST_LOG:
        return 0.0, math.inf
    return value * math.exp(-reach), value * math.exp(reach)


def _chi_square_half(confidence: float) -> float:
    """Half the quantile of chi-square with one degree of freedom: the drop of log-likelihood at an interval's ends."""
    return float(special.ndtri((1 + confidence) / 2)) ** 2 / 2


class _Profile:
    """Ends of the profile-likelihood intervals around one maximum."""

    def __init__(
        self, likelihood: WeibullLikelihood, *, a: float, shape: float, top: float, drop: float
    ) -> None:
        self.likelihood, self.a, self.shape, self.top, self.drop = likelihood, a, shape, top, drop

    def of_shape(self, log_error: float) -> Interval:
        log_scale = -self.a / self.shape

        def excess(offset: float) -> float:
            shape = self.shape * math.exp(offset)
            return self.top - self.likelihood.highest_at_shape(shape, start=-shape * log_scale)[0] - self.drop

        low, high = (_crossing(excess, side * log_error) for side in (-1, 1))
        return self.shape * _exp(low), self.shape * _exp(high)

    def of_scale_hours(self, log_error: float) -> Interval:
        log_scale = -self.a / self.shape
        warm = self.shape

        def excess(offset: float) -> float:
            nonlocal warm
            height, warm = self.likelihood.highest_at_scale(log_scale + offset, starts=(warm, self.shape))
            return self.top - height - self.drop

        ends = []
        for side in (-1, 1):
            warm = self.shape
            ends.append(_crossing(excess, side * log_error))
        scale = self.likelihood.unit_hours * math.exp(log_scale)
        return scale * _exp(ends[0]), scale * _exp(ends[1])


def _exp(offset: float) -> float:
    return math.exp(offset) if abs(offset) < FARTHEST_LOG else (0.0 if offset < 0 else math.inf)


def _crossing(excess: Callable[[float], float], step: float) -> float:
    """Where the drop from the maximum is that of the interval; infinite where it never is."""
    # Each height is climbed to once: where the top is flat to the last digit, a second climb may end elsewhere.
    drop_at = cache(excess)
    near, far = 0.0, 2 * step
    if drop_at(near) >= 0:
        return near
    while drop_at(far) < 0:
        near, far = far, 2 * far
        if abs(far) > FARTHEST_LOG:
            return math.copysign(math.inf, step)
    root: float = optimize.brentq(drop_at, near, far, xtol=1e-13, rtol=1e-13)
    return root


def _counts(lives: Lives, confidence: float) -> dict[str, Any]:
    exposure = lives.exposure_hours
    bound = (
        rate_upper(lives.failures, exposure_hours=exposure, confidence=confidence) if exposure > 0 else None
    )
    return {
        "failures": lives.failures,
        "suspensions": lives.suspensions,
        "exposure_hours": exposure,
        "rate_upper_per_hour": bound,
    }


def _without_estimate(lives: Lives, obstacle: str, confidence: float) -> Fit:
    counts = _counts(lives, confidence)
    bound = counts["rate_upper_per_hour"]
    if bound is not None:
        obstacle += f" If they end by chance alone, their mean life is at least {1 / bound:.0f} h ({100 * confidence:g} % sure)."
    return Fit(**counts, verdict="too_few", reason=obstacle, confidence=confidence)


def _judge(failures: float, *, shape: float, interval: Interval, confidence: float) -> tuple[Verdict, str]:
    low, high = interval
    span = f"its {100 * confidence:g} % interval, {low:.3g} to {high:.3g},"
    if failures < FEW_FAILURES:
        return (
            "too_few",
            f"Only {failures:g} seen to end: the shape {shape:.3g} is a guess, {span} says little.",
        )
    if low > 1:
        return "wear_out", f"They wear out: the shape is {shape:.3g} and {span} lies above 1."
    if high < 1:
        return "infant", f"They fail when young: the shape is {shape:.3g} and {span} lies below 1."
    return (
        "random",
        f"No trend with age can be told: the shape is {shape:.3g} and {span} holds 1, failure by chance.",
    )
