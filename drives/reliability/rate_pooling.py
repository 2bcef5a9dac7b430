"""Failure rates of groups with few failures each, pooled: rates drawn from a gamma distribution, failures Poisson.

Exposure is in any one unit of time, and rates are per that unit.

Source: negative binomial marginal likelihood, Gaver and O'Muircheartaigh, Technometrics 29, 1987; overdispersion by the sign
of the score, Dean, Journal of the American Statistical Association 87, 1992. Rates against exposure: likelihood ratio in a
negative binomial regression, Lawless, Canadian Journal of Statistics 15, 1987.
"""

import math
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import optimize, special

from inventory.array_checks import FloatArray, number_list
from inventory.facts import Fact, fact
from inventory.number_checks import number, positive

MOST_EXPOSURE, MOST_FAILURES = 1e12, 1e6
# Two rates show no spread that a prior could be fitted to: judgement.
FEWEST_GROUPS = 3
# Prior shapes that are searched, in logarithms: a prior worth a millionth to a million failures.
LOG_ALPHAS = np.linspace(math.log(1e-6), math.log(1e6), 84)
# A group is named as unlike the others at this fraction, shared over all groups compared. The prior is taken as known, so
# that among groups that are alike about one pool in a hundred still names one.
UNLIKE = 0.002
# Groups looked at, those with the least likely counts: judgement.
SUSPECTS = 3
# 5 % of chi-square with one degree of freedom, for rates that depend on exposure, from this many groups on (judgement).
CHI_SQUARE_LIMIT, FEWEST_TESTED = 3.841458820694124, 6
# Groups whose exposures differ less than this, relative, have run alike.
SAME_EXPOSURE = 1e-6
# Chance that may be left out beyond the last number of a demand.
TAIL = 1e-12


@dataclass(frozen=True)
class PooledRates:
    """Rates are Gamma(`alpha`, `beta`), worth `alpha` failures in `beta` of exposure.

    Both are None where the groups differ no more than chance makes them, or are fewer than three: `common_rate` serves all.
    `cautions` name what speaks against pooling.
    """

    common_rate: float
    alpha: float | None = None
    beta: float | None = None
    cautions: tuple[Fact, ...] = ()


def pool_rates(failures: npt.ArrayLike, *, exposure: npt.ArrayLike) -> PooledRates:
    """Gamma distribution that makes the failures of the groups likeliest; whole failures, and exposures above 0.

    >>> pooled = pool_rates([0, 0, 1, 9, 0, 4], exposure=[10, 20, 10, 10, 15, 10])
    >>> round(pooled.alpha, 3), round(pooled.beta, 3)
    (0.295, 1.284)
    """
    x, t = _counts(failures, exposure)
    common = float(x.sum() / t.sum()) if x.size else 0.0
    best = _best_prior(x, t)
    if best is None:
        return PooledRates(common)
    return PooledRates(common, *best, cautions=(*_unlike(x, t, *best), *_exposure_trend(x, t, *best)))


def demand_distribution(
    failures: float, *, exposure: float, horizon: float, alpha: float, beta: float
) -> FloatArray:
    """Chance of 0, 1, 2, … failures of a group over a horizon, from its own history and the prior of its pool.

    Source: negative binomial with size alpha + x and probability (beta + t) / (beta + t + L).

    >>> demand_distribution(0, exposure=3, horizon=2, alpha=1, beta=1)[:3].round(6).tolist()
    [0.666667, 0.222222, 0.074074]
    """
    size = positive("alpha", alpha) + number("failures", failures, least=0, most=MOST_FAILURES)
    known = positive("beta", beta) + number("exposure", exposure, least=0, most=MOST_EXPOSURE)
    ahead = number("horizon", horizon, least=0, most=MOST_EXPOSURE)
    if ahead <= 0:
        return np.ones(1)
    share = known / (known + ahead)
    most = 8
    while special.betainc(most + 1.0, size, 1 - share) > TAIL:
        most *= 2
    count = np.arange(most + 1.0)
    logs = special.gammaln(size + count) - special.gammaln(size) - special.gammaln(count + 1)
    return np.asarray(np.exp(logs + size * math.log(share) + count * math.log1p(-share)))


def _counts(failures: npt.ArrayLike, exposure: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    x = number_list("failures", failures, most=MOST_FAILURES)
    t = number_list("exposure", exposure, most=MOST_EXPOSURE)
    if x.size != t.size:
        raise ValueError(f"`exposure` must be {x.size} numbers, one for each group, not {t.size}.")
    if (x % 1 > 0).any():
        raise ValueError("`failures` must be whole numbers.")
    if (t <= 0).any():
        raise ValueError(f"`exposure[{int(np.argmax(t <= 0))}]` must be more than 0.")
    return x, t


def _log_terms(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> FloatArray:
    logs = special.gammaln(alpha + x) - special.gammaln(alpha) - special.gammaln(x + 1)
    return np.asarray(logs - alpha * np.log1p(t / beta) - x * np.log1p(beta / t))


def _best_beta(x: FloatArray, t: FloatArray, alpha: float) -> float:
    """Likeliest beta for an alpha: the sum of (alpha t - beta x) / (beta + t) is zero."""

    def slope(log_beta: float) -> float:
        beta = math.exp(log_beta)
        return float(np.sum((alpha * t - beta * x) / (beta + t)))

    # A group alone would be met at alpha t / x; the beta of the pool lies among these.
    guess = math.log(alpha * t.sum() / x.sum())
    low, high = guess - 1, guess + 1
    while slope(low) < 0:
        low -= guess - low + 1
    while slope(high) > 0:
        high += high - guess + 1
    root: float = optimize.brentq(slope, low, high, xtol=1e-14, rtol=1e-15)
    return math.exp(root)


def _best_prior(x: FloatArray, t: FloatArray) -> tuple[float, float] | None:
    """Highest of the maxima of the likelihood along alpha, each with its best beta; None where it has none."""
    if not _differ_beyond_chance(x, t):
        return None

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


def _differ_beyond_chance(x: FloatArray, t: FloatArray) -> bool:
    """The score of overdispersion: not above 0 where the counts vary no more than chance alone makes them."""
    if x.size < FEWEST_GROUPS or not x.any():
        return False
    return bool(np.sum((x - x.sum() / t.sum() * t) ** 2 - x) > 0)


def _unlike(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> tuple[Fact, ...]:
    """Groups that the others do not predict; only the most surprising are tested, each without its own weight."""
    found = []
    for place in np.argsort(_surprise(x, t, alpha, beta))[:SUSPECTS].tolist():
        rest = np.arange(x.size) != place
        p_value = _surprise_by(x[rest], t[rest], x[[place]], t[[place]])
        if p_value < UNLIKE / x.size:
            values = {"failures": float(x[place]), "exposure": float(t[place]), "p_value": p_value}
            found.append(fact("group_unlike_others", group=place, rate=float(x[place] / t[place]), **values))
    return tuple(found)


def _surprise(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> FloatArray:
    """Two-sided chance of each count under the prior."""
    share = beta / (beta + t)
    at_most = special.betainc(alpha, x + 1, share)
    at_least = np.where(x > 0, special.betainc(np.maximum(x, 1), alpha, 1 - share), 1.0)
    return np.asarray(np.minimum(1.0, 2 * np.minimum(at_most, at_least)))


def _surprise_by(x: FloatArray, t: FloatArray, own: FloatArray, run: FloatArray) -> float:
    """Without a prior of the others, their total serves as posterior after Jeffreys' prior of a rate."""
    alpha, beta = _best_prior(x, t) or (float(x.sum()) + 0.5, float(t.sum()))
    return float(_surprise(own, run, alpha, beta)[0])


def _exposure_trend(x: FloatArray, t: FloatArray, alpha: float, beta: float) -> tuple[Fact, ...]:
    """Likelihood ratio of rates that depend on a power of the exposure."""
    if x.size < FEWEST_TESTED:
        return ()
    runs = np.log(t) - np.mean(np.log(t))
    if np.ptp(runs) < SAME_EXPOSURE:
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
    code = "rates_fall_with_exposure" if found.x[2] < 0 else "rates_rise_with_exposure"
    return (fact(code, p_value=float(special.erfc(math.sqrt(ratio / 2)))),)
