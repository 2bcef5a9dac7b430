"""Parts of one kind lend each other their history: gamma-Poisson pooling of many pools with few failures each.

Exposure is in any one unit of time, and rates come per that unit.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from inventory.array_checks import FloatArray, number_list
from inventory.number_checks import fraction, positive

MOST_EXPOSURE, MOST_FAILURES = 1e12, 1e6
FEWEST_POOLS = 3
# Prior shapes that are searched, in logarithms: a prior worth a millionth to a million failures.
LOG_ALPHAS = np.linspace(math.log(1e-6), math.log(1e6), 84)
# A pool is named as unlike the others at this level, shared over all pools looked at. The prior is taken as known, so
# that among like pools about one family in a hundred still names one.
UNLIKE = 0.002
SUSPECTS = 3
# 5 % of chi-square with one degree of freedom, for a rate that goes with exposure, from this many pools on.
CHI_SQUARE_LIMIT, FEWEST_TESTED = 3.841458820694124, 6
# Pools whose exposures differ less than this, relative, have run alike.
SAME_RUN = 1e-6
GRID = 241
# Odds below this, in logarithms against the best cell, add nothing.
NO_ODDS = -40.0


@dataclass(frozen=True, eq=False)
class Family:
    """Prior of the rates of a family of pools, or why there is none.

    With `is_identified`, rates are Gamma(`alpha`, `beta`), the prior worth `alpha` failures in `beta` of exposure. Without,
    the pools differ no more than chance makes them (`rates` then is the common rate for all), or nothing failed at all
    (`rates` is None). `excess_p_value` tests the claim of one common rate. `cautions` name what should not be pooled.
    """

    is_identified: bool
    reason: str
    common_rate: float
    rates: FloatArray | None
    alpha: float | None = None
    beta: float | None = None
    log_likelihood: float | None = None
    excess_p_value: float | None = None
    cautions: tuple[str, ...] = ()

    @property
    def is_alike(self) -> bool:
        """Nothing speaks against pooling."""
        return not self.cautions


@dataclass(frozen=True, eq=False)
class FullBayes:
    """Means and standard deviations after the data, with a prior on the prior."""

    alpha_mean: float
    alpha_sd: float
    beta_mean: float
    beta_sd: float
    rate_means: FloatArray
    rate_sds: FloatArray


def fit_family(failures: npt.ArrayLike, *, exposure: npt.ArrayLike) -> Family:
    """Prior of a family by the likelihood of its counts, each pool's rate drawn towards it.

    Parameters
    ----------
    failures : array_like of float
        Ends seen in each pool [-], 0 to 1e6, whole.
    exposure : array_like of float
        Exposure of each pool, above 0 to 1e12.

    Returns
    -------
    Family
        Alpha, beta, log-likelihood and shrunk rates (alpha + x) / (beta + t); or the reason why the prior is not
        identified; and cautions where a pool is unlike the others, or rates go with exposure.

    Raises
    ------
    ValueError
        If sizes differ or a value is out of range.

    Source
    ------
    Negative binomial marginal likelihood, Gaver and O'Muircheartaigh, Technometrics 29, 1987; overdispersion by the sign
    of the score, Dean, Journal of the American Statistical Association 87, 1992, and by the likelihood ratio, whose law is
    half a chi-square with one degree of freedom, Self and Liang, ibid. 82, 1987 (from memory). Exposure: likelihood ratio in a
    negative binomial regression, Lawless, Canadian Journal of Statistics 15, 1987.

    Examples
    --------
    >>> family = fit_family([0, 0, 1, 9, 0, 4], exposure=[10, 20, 10, 10, 15, 10])
    >>> round(family.alpha, 3), round(family.beta, 3), family.rates.round(3).tolist()
    (0.295, 1.284, [0.026, 0.014, 0.115, 0.824, 0.018, 0.381])
    """
    x, t = _counts(failures, exposure)
    common = float(x.sum() / t.sum()) if x.size else 0.0
    obstacle = _why_no_prior(x, t, common)
    best = None if obstacle else _best_prior(x, t)
    if best is None:
        reason = obstacle or _no_excess(common)
        return Family(False, reason, common, np.full(x.size, common) if common > 0 else None)
    alpha, beta = best
    height = log_likelihood(x, exposure=t, alpha=alpha, beta=beta)
    ratio = max(0.0, 2 * (height - _poisson_log_likelihood(x, t, common)))
    p_value = 0.5 * special.erfc(math.sqrt(ratio / 2))
    return Family(
        is_identified=True,
        reason=(
            f"Rates of the {x.size} pools differ beyond chance (p = {p_value:.2g}): the prior is worth {alpha:.3g} failures"
            f" in {beta:.3g} of exposure."
        ),
        common_rate=common,
        rates=(alpha + x) / (beta + t),
        alpha=alpha,
        beta=beta,
        log_likelihood=height,
        excess_p_value=float(p_value),
        cautions=(*_unlike(x, t, alpha, beta), *_rates_go_with_exposure(x, t, alpha, beta)),
    )


def log_likelihood(failures: npt.ArrayLike, *, exposure: npt.ArrayLike, alpha: float, beta: float) -> float:
    """Log-likelihood of counts whose rates are drawn from a gamma law.

    Parameters
    ----------
    failures, exposure : array_like of float
        As in `fit_family`.
    alpha, beta : float
        Of the gamma law, above 0.

    Returns
    -------
    float
        Sum over the pools.

    Raises
    ------
    ValueError
        If sizes differ or a value is out of range.

    Source
    ------
    Negative binomial law with size alpha and probability beta / (beta + t).

    Examples
    --------
    >>> round(log_likelihood([0], exposure=[1], alpha=1, beta=1), 6)
    -0.693147
    """
    x, t = _counts(failures, exposure)
    a, b = positive("alpha", alpha), positive("beta", beta)
    return float(_log_terms(x, t, a, b).sum())


def demand_chances(
    failures: float, *, exposure: float, horizon: float, alpha: float, beta: float, tail: float = 1e-12
) -> FloatArray:
    """Distribution of a pool's failures over a horizon, its own history and the family's prior both counted.

    Parameters
    ----------
    failures : float
        Ends seen in the pool [-], 0 or more.
    exposure, horizon : float
        Exposure seen and to come, 0 or more, one unit of time.
    alpha, beta : float
        Prior of the family, above 0.
    tail : float
        Chance that may be left out beyond the last number, between 0 and 1.

    Returns
    -------
    ndarray of float
        Chance of 0, 1, 2, … failures.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Negative binomial law with size alpha + x and probability (beta + t) / (beta + t + L).

    Examples
    --------
    >>> demand_chances(0, exposure=3, horizon=2, alpha=1, beta=1)[:3].round(6).tolist()
    [0.666667, 0.222222, 0.074074]
    """
    x = float(number_list("failures", [failures], most=MOST_FAILURES)[0])
    t, ahead = (
        float(number_list(name, [value], most=MOST_EXPOSURE)[0]) for name, value in _named(exposure, horizon)
    )
    size, known = positive("alpha", alpha) + x, positive("beta", beta) + t
    share = known / (known + ahead)
    if ahead <= 0:
        return np.ones(1)
    most = 8
    while special.betainc(most + 1.0, size, 1 - share) > fraction("tail", tail):
        most *= 2
    count = np.arange(most + 1.0)
    logs = special.gammaln(size + count) - special.gammaln(size) - special.gammaln(count + 1)
    return np.asarray(np.exp(logs + size * math.log(share) + count * math.log1p(-share)))


def rate_interval(
    failures: float, *, exposure: float, alpha: float, beta: float, confidence: float = 0.95
) -> tuple[float, float]:
    """Interval of a pool's rate, its own history and the family's prior both counted.

    Parameters
    ----------
    failures, exposure : float
        Of the pool, 0 or more.
    alpha, beta : float
        Prior of the family, above 0.
    confidence : float
        Of the interval [-], between 0 and 1.

    Returns
    -------
    tuple of float
        Lower and upper end.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Gamma(alpha + x, beta + t), equal tails.

    Examples
    --------
    >>> [round(end, 4) for end in rate_interval(0, exposure=3, alpha=1, beta=1)]
    [0.0063, 0.9222]
    """
    x = float(number_list("failures", [failures], most=MOST_FAILURES)[0])
    t = float(number_list("exposure", [exposure], most=MOST_EXPOSURE)[0])
    size, known = positive("alpha", alpha) + x, positive("beta", beta) + t
    tail = (1 - fraction("confidence", confidence)) / 2
    low, high = (float(special.gammaincinv(size, share)) / known for share in (tail, 1 - tail))
    return low, high


def full_bayes(
    failures: npt.ArrayLike,
    *,
    exposure: npt.ArrayLike,
    alpha_rate: float = 1.0,
    beta_shape: float = 0.1,
    beta_rate: float = 1.0,
) -> FullBayes:
    """The family with a prior on alpha and beta: slower, and milder where pools are few.

    Parameters
    ----------
    failures, exposure : array_like of float
        As in `fit_family`. The prior of beta is in the unit of exposure.
    alpha_rate : float
        Alpha is exponential with this rate, above 0.
    beta_shape, beta_rate : float
        Beta is gamma with these, above 0.

    Returns
    -------
    FullBayes
        Means and standard deviations of alpha, beta and the rate of each pool.

    Raises
    ------
    ValueError
        If sizes differ, there is no pool, or a value is out of range.

    Source
    ------
    Pumps of the BUGS examples, vol. 1, after George, Makov and Smith, Scandinavian Journal of Statistics 20, 1993; sum
    over a grid of logarithms, which for so smooth a function is exact to many digits.

    Examples
    --------
    >>> found = full_bayes([0, 0, 1, 9, 0, 4], exposure=[10, 20, 10, 10, 15, 10])
    >>> round(found.alpha_mean, 2), round(found.beta_mean, 2)
    (0.25, 0.67)
    """
    x, t = _counts(failures, exposure)
    if not x.size:
        raise ValueError("`failures` must hold at least one pool.")
    priors = (
        positive("alpha_rate", alpha_rate),
        positive("beta_shape", beta_shape),
        positive("beta_rate", beta_rate),
    )
    span = (-30.0, 12.0), (-30.0 / min(1.0, beta_shape) / 3, math.log(1e3 * max(1.0, beta_shape) / beta_rate))
    for _ in range(3):
        span = _likely_span(x, t, span, priors)
    a, b, weights = _grid(x, t, span, priors)
    alpha, beta = _moments(weights, a[:, None] + 0 * b), _moments(weights, b + 0 * a[:, None])
    rates = [_rate_moments(weights, a[:, None] + ends, b + run) for ends, run in zip(x, t, strict=True)]
    means, sds = (np.array(column) for column in zip(*rates, strict=True))
    return FullBayes(*alpha, *beta, means, sds)


def _named(exposure: float, horizon: float) -> tuple[tuple[str, float], tuple[str, float]]:
    return ("exposure", exposure), ("horizon", horizon)


def _counts(failures: npt.ArrayLike, exposure: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    x = number_list("failures", failures, most=MOST_FAILURES)
    t = number_list("exposure", exposure, most=MOST_EXPOSURE)
    if x.size != t.size:
        raise ValueError(f"`exposure` must be {x.size} numbers, one for each pool, not {t.size}.")
    if (x % 1 > 0).any():
        raise ValueError("`failures` must be whole numbers.")
    if (t <= 0).any():
        raise ValueError(
            f"`exposure[{int(np.argmax(t <= 0))}]` must be more than 0: leave out a pool that never ran."
        )
    return x, t


def _why_no_prior(x: FloatArray, t: FloatArray, common: float) -> str | None:
    if x.size < FEWEST_POOLS:
        return f"{x.size} pools are too few for a prior: {FEWEST_POOLS} are needed."
    if not x.any():
        return "Nothing failed in any pool: the hours run give a bound, not a prior."
    # The score of overdispersion: negative where the counts vary less than chance alone makes them.
    if np.sum((x - common * t) ** 2 - x) <= 0:
        return _no_excess(common)
    return None


def _no_excess(common: float) -> str:
    return f"The pools differ no more than chance makes them: one common rate, {common:.3g}, serves all."


def _log_terms(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> FloatArray:
    logs = special.gammaln(alpha + x) - special.gammaln(alpha) - special.gammaln(x + 1)
    return np.asarray(logs - alpha * np.log1p(t / beta) - x * np.log1p(beta / t))


def _poisson_log_likelihood(x: FloatArray, t: FloatArray, rate: float) -> float:
    return float(np.sum(special.xlogy(x, rate * t) - rate * t - special.gammaln(x + 1)))


def _best_beta(x: FloatArray, t: FloatArray, alpha: float) -> float:
    """Likeliest beta for an alpha: the sum of (alpha t - beta x) / (beta + t) is zero."""

    def slope(log_beta: float) -> float:
        beta = math.exp(log_beta)
        return float(np.sum((alpha * t - beta * x) / (beta + t)))

    # A pool alone would be met at alpha t / x; the family's beta lies among these.
    guess = math.log(alpha * t.sum() / x.sum())
    low, high = guess - 1, guess + 1
    while slope(low) < 0:
        low -= guess - low + 1
    while slope(high) > 0:
        high += high - guess + 1
    root: float = optimize.brentq(slope, low, high, xtol=1e-14, rtol=1e-15)
    return math.exp(root)


def _best_prior(x: FloatArray, t: FloatArray) -> tuple[float, float] | None:
    """Highest of the maxima of the likelihood along alpha, each with its best beta."""

    def slope(log_alpha: float) -> float:
        alpha = math.exp(log_alpha)
        beta = _best_beta(x, t, alpha)
        return float(np.sum(special.psi(alpha + x) - special.psi(alpha) - np.log1p(t / beta)))

    slopes = np.array([slope(place) for place in LOG_ALPHAS])
    turns = np.flatnonzero((slopes[:-1] > 0) & (slopes[1:] <= 0))
    peaks = []
    for turn in turns:
        alpha = math.exp(
            optimize.brentq(slope, LOG_ALPHAS[turn], LOG_ALPHAS[turn + 1], xtol=1e-13, rtol=1e-14)
        )
        beta = _best_beta(x, t, alpha)
        peaks.append((float(_log_terms(x, t, alpha, beta).sum()), alpha, beta))
    return max(peaks)[1:] if peaks else None


def _unlike(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> tuple[str, ...]:
    """Pools that the others do not foretell; only the most surprising are looked at, each without its own weight."""
    found = []
    for place in np.argsort(_surprise(x, t, alpha, beta))[:SUSPECTS]:
        rest = np.arange(x.size) != place
        p_value = _surprise_by(x[rest], t[rest], x[place : place + 1], t[place : place + 1])
        if p_value is not None and p_value < UNLIKE / x.size:
            rate = x[place] / t[place]
            found.append(
                f"Pool {place} ({x[place]:g} in {t[place]:g}, rate {rate:.3g}) is unlike the others (p = {p_value:.2g}):"
                " do not pool what is not alike."
            )
    return tuple(found)


def _surprise(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> FloatArray:
    """Two-sided chance of each count under the prior."""
    share = beta / (beta + t)
    at_most = special.betainc(alpha, x + 1, share)
    at_least = np.where(x > 0, special.betainc(np.maximum(x, 1), alpha, 1 - share), 1.0)
    return np.asarray(np.minimum(1.0, 2 * np.minimum(at_most, at_least)))


def _surprise_by(x: FloatArray, t: FloatArray, own: FloatArray, run: FloatArray) -> float | None:
    if not x.any():
        # The others' hours without a failure, as a posterior after Jeffreys' prior of a rate.
        return float(_surprise(own, run, 0.5, float(t.sum()))[0])
    common = float(x.sum() / t.sum())
    best = None if _why_no_prior(x, t, common) else _best_prior(x, t)
    if best is None:
        return float(_surprise(own, run, float(x.sum()) + 0.5, float(t.sum()))[0])
    return float(_surprise(own, run, *best)[0])


def _rates_go_with_exposure(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> tuple[str, ...]:
    """Likelihood ratio of rates that go with a power of the exposure."""
    if x.size < FEWEST_TESTED:
        return ()
    runs = np.log(t) - np.mean(np.log(t))
    if np.ptp(runs) < SAME_RUN:
        return ()

    def minus(point: FloatArray) -> float:
        log_alpha, log_beta, power = np.clip(point, -30.0, 30.0)
        met = t * np.exp(np.clip(power * runs, -50.0, 50.0))
        return -float(_log_terms(x, met, math.exp(log_alpha), math.exp(log_beta)).sum())

    start = np.array([math.log(alpha), math.log(beta), 0.0])
    found = optimize.minimize(minus, start, method="Nelder-Mead", options={"xatol": 1e-4, "fatol": 1e-6})
    ratio = 2 * (minus(start) - float(found.fun))
    if ratio < CHI_SQUARE_LIMIT:
        return ()
    way = "fall" if found.x[2] < 0 else "rise"
    p_value = special.erfc(math.sqrt(ratio / 2))
    return (f"Rates {way} with exposure (p = {p_value:.2g}): pools that run much and little are not alike.",)


Span = tuple[tuple[float, float], tuple[float, float]]


def _log_odds(
    x: FloatArray, t: FloatArray, log_a: FloatArray, log_b: FloatArray, priors: tuple[float, float, float]
) -> FloatArray:
    a, b = np.exp(log_a)[:, None], np.exp(log_b)
    alpha_rate, beta_shape, beta_rate = priors
    # Along logarithms, each prior gains a factor of its own variable.
    total = log_a[:, None] - alpha_rate * a + beta_shape * log_b - beta_rate * b
    for ends, run in zip(x, t, strict=True):
        logs = special.gammaln(a + ends) - special.gammaln(a)
        total = total + logs - a * np.log1p(run / b) - ends * np.log(b + run)
    return np.asarray(total)


def _likely_span(x: FloatArray, t: FloatArray, span: Span, priors: tuple[float, float, float]) -> Span:
    axes = [np.linspace(low, high, GRID) for low, high in span]
    odds = _log_odds(x, t, axes[0], axes[1], priors)
    likely = odds > odds.max() + NO_ODDS
    found = []
    for axis, other in ((0, 1), (1, 0)):
        places = np.flatnonzero(likely.any(axis=other))
        low, high = max(places[0] - 1, 0), min(places[-1] + 1, GRID - 1)
        found.append((float(axes[axis][low]), float(axes[axis][high])))
    return found[0], found[1]


def _grid(
    x: FloatArray, t: FloatArray, span: Span, priors: tuple[float, float, float]
) -> tuple[FloatArray, FloatArray, FloatArray]:
    log_a, log_b = (np.linspace(low, high, GRID) for low, high in span)
    odds = _log_odds(x, t, log_a, log_b, priors)
    weights = np.exp(odds - odds.max())
    return np.exp(log_a), np.exp(log_b), np.asarray(weights / weights.sum())


def _moments(weights: FloatArray, values: FloatArray) -> tuple[float, float]:
    mean = float(np.sum(weights * values))
    return mean, math.sqrt(max(0.0, float(np.sum(weights * (values - mean) ** 2))))


def _rate_moments(weights: FloatArray, size: FloatArray, known: FloatArray) -> tuple[float, float]:
    """Mean and spread of a gamma law whose two numbers are uncertain."""
    mean, spread = _moments(weights, size / known)
    return mean, math.sqrt(spread**2 + float(np.sum(weights * size / known**2)))
