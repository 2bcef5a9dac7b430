"""Simple rules that turn records of demand per period into a prediction for the next periods.

Each takes the history (items by periods) and the exposure (periods of lead time and review) and uses nothing else.
"""

from collections.abc import Callable

import numpy as np

from inventory.array_checks import FloatArray
from inventory.stocking.intermittent import sba_rates, tsb_rates
from inventory.stocking.predictions import (
    NegativeBinomialPrediction,
    PoissonPrediction,
    Prediction,
    WindowPrediction,
    window_sums,
)

ForecastRule = Callable[[FloatArray, int], Prediction]

YEAR_OF_MONTHS = 12
"""Periods of the moving average."""

TSB_SIZE, TSB_PROBABILITY = 0.1, 0.05
"""Smoothing constants of the rule that uses TSB: common practice, no source."""

SBA_SMOOTHING = 0.1
"""Smoothing constant of the rules that use SBA: that of `intermittent.SMOOTHING`."""

POOLED_SHARE = 0.5
"""Weight of the pool in the spread of an item, in the rule that pools half of it: judgement."""

MOST_PRIOR_PERIODS = 1e6
"""Exposure of the prior where the items do not differ."""


def gamma_poisson_pooled(history: FloatArray, exposure: int) -> NegativeBinomialPrediction:
    """Gamma-Poisson with a prior fitted by moments to all items.

    Source: Robbins 1956; moments as in Gaver & O'Muircheartaigh 1987, Technometrics 29.
    """
    shape, prior = pooled_prior(history)
    mean = exposure * _posterior_rate(history, shape, prior)
    return NegativeBinomialPrediction(mean, mean * (1 + exposure / (prior + history.shape[1])))


def half_pooled_spread(history: FloatArray, exposure: int) -> NegativeBinomialPrediction:
    """Pooled rate; variance over mean half the item's own and half that of all items together.

    The uncertainty of the rate is added to the variance.
    """
    shape, prior = pooled_prior(history)
    rate = _posterior_rate(history, shape, prior)
    mean, variance = history.mean(axis=1), history.var(axis=1, ddof=1)
    own = np.divide(variance, mean, out=np.ones_like(mean), where=mean > 0)
    pooled = variance.sum() / mean.sum() if mean.any() else 1.0
    spread = np.maximum((1 - POOLED_SHARE) * own + POOLED_SHARE * pooled, 1.0)
    uncertain = exposure**2 * rate / (prior + history.shape[1])
    return NegativeBinomialPrediction(exposure * rate, exposure * rate * spread + uncertain)


def pooled_prior(history: FloatArray) -> tuple[float, float]:
    """Gamma prior of the rates of all items by moments: shape, and exposure in periods."""
    periods = history.shape[1]
    rates = history.mean(axis=1)
    mean = float(rates.mean())
    if mean == 0:
        return 1.0, MOST_PRIOR_PERIODS
    excess = float(rates.var()) - mean / periods
    prior = mean / excess if excess > mean / MOST_PRIOR_PERIODS else MOST_PRIOR_PERIODS
    return mean * prior, prior


def _sba(history: FloatArray) -> FloatArray:
    return sba_rates(history, SBA_SMOOTHING)


def _tsb(history: FloatArray) -> FloatArray:
    return tsb_rates(history, alpha_size=TSB_SIZE, alpha_probability=TSB_PROBABILITY)


def _poisson(rates: FloatArray, exposure: int) -> PoissonPrediction:
    return PoissonPrediction(exposure * rates)


def _negative_binomial(rates: FloatArray, history: FloatArray, exposure: int) -> NegativeBinomialPrediction:
    """With the variance of all history (divisor n-1)."""
    return NegativeBinomialPrediction(exposure * rates, exposure * history.var(axis=1, ddof=1))


def _empirical_windows(history: FloatArray, exposure: int) -> WindowPrediction:
    """Quantile of the sums over all overlapping windows of the history."""
    return WindowPrediction(window_sums(history, exposure))


def _posterior_rate(history: FloatArray, shape: float, prior: float) -> FloatArray:
    return np.asarray((shape + history.sum(axis=1)) / (prior + history.shape[1]))


SIMPLE_RULES: dict[str, ForecastRule] = {
    "Poisson all-history mean": lambda history, exposure: _poisson(history.mean(axis=1), exposure),
    "Poisson SBA": lambda history, exposure: _poisson(_sba(history), exposure),
    "Poisson MA12": lambda history, exposure: _poisson(history[:, -YEAR_OF_MONTHS:].mean(axis=1), exposure),
    "NB all-history mean+var": lambda history, exposure: _negative_binomial(
        history.mean(axis=1), history, exposure
    ),
    "NB SBA mean, hist var": lambda history, exposure: _negative_binomial(_sba(history), history, exposure),
    "NB TSB mean, hist var": lambda history, exposure: _negative_binomial(_tsb(history), history, exposure),
    "gamma-Poisson EB pooled": gamma_poisson_pooled,
    "EB pooled rate, item/pool overdisp NB": half_pooled_spread,
    "empirical window quantile": _empirical_windows,
}
