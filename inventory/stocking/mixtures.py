"""Demand over a lead time that itself varies (gamma, orders do not cross), or at a rate known only roughly (gamma).

Poisson demand at a gamma rate or over a gamma lead time is negative binomial: Greenwood & Yule 1920, J. Royal Stat. Soc. 83.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray
from inventory.stocking.lead_time_demand import (
    TAIL_MASS,
    LeadTimeDemand,
    from_pmf,
    last_piece,
    negative_binomial_of_size,
    poisson,
)

AS_GOOD_AS_FIXED = 1e10
"""Shape of a gamma distribution from which its spread changes no chance by more than 1e-9."""

MOST_NODES = 256
"""Lead times tried at most where a distribution is mixed over them."""

FEW_NODES = 16
"""Lead times tried where each takes long: no chance is off by more than 1e-5."""

MIXTURE_TOLERANCE = 1e-9
"""Doubling the lead times tried stops when no chance moves by more."""


def gamma_lead_time(
    rate: float, lead_mean: float, lead_sd: float, *, tail_mass: float = TAIL_MASS
) -> LeadTimeDemand:
    """Poisson demand over a gamma lead time; `lead_sd` 0 for a fixed one. Rate and times in one unit of time.

    r = 1/c^2 and p = 1/(1 + rate lead_mean c^2) with c = lead_sd/lead_mean.

    >>> gamma_lead_time(2, 1.5, 0.75).variance
    5.25
    """
    mean = rate * lead_mean
    cv2 = (lead_sd / lead_mean) ** 2
    if mean * cv2 == 0 or cv2 * AS_GOOD_AS_FIXED < 1:
        return poisson(mean, tail_mass=tail_mass)
    return negative_binomial_of_size(1 / cv2, mean * cv2, tail_mass)


def gamma_poisson(
    shape: float, exposure: float, lead_mean: float, lead_sd: float = 0.0, *, tail_mass: float = TAIL_MASS
) -> LeadTimeDemand:
    """Poisson demand at a rate known as Gamma(shape, exposure), mean shape/exposure, over a fixed or a gamma lead time.

    >>> print(f"{gamma_poisson(2, 4, 1).pmf[0]:.4f}")
    0.6400
    """
    mean = shape / exposure * lead_mean
    cv2 = (lead_sd / lead_mean) ** 2
    if cv2 == 0:
        return negative_binomial_of_size(shape, lead_mean / exposure, tail_mass)
    size, narrow = min(shape, 1 / cv2), max(shape, 1 / cv2)
    if narrow > AS_GOOD_AS_FIXED:
        return negative_binomial_of_size(size, mean / size, tail_mass)
    return _mixed_twice(mean, size, narrow, tail_mass)


def over_gamma_lead_time(
    pmf_over: Callable[[float], ArrayLike], lead_mean: float, lead_sd: float
) -> LeadTimeDemand:
    """Mixture over a gamma lead time of a demand whose chances are known over any fixed time.

    Gauss-Laguerre quadrature in the gamma distribution itself, its nodes doubled until no chance moves by more than
    `MIXTURE_TOLERANCE`. Source: Golub & Welsch 1969, Mathematics of Computation 23.
    """
    if lead_sd == 0 or lead_mean / lead_sd > AS_GOOD_AS_FIXED**0.5:
        return from_pmf(pmf_over(lead_mean))
    nodes, pmf = 32, _mixed(pmf_over, lead_mean, lead_sd, 16)
    while nodes <= MOST_NODES:
        finer = _mixed(pmf_over, lead_mean, lead_sd, nodes)
        shown = min(len(pmf), len(finer))
        moved = np.abs(finer[:shown] - pmf[:shown]).max()
        nodes, pmf = 2 * nodes, finer
        if moved <= MIXTURE_TOLERANCE:
            break
    return from_pmf(pmf)


def gamma_lead_times(
    lead_mean: float, lead_sd: float, nodes: int = FEW_NODES
) -> tuple[FloatArray, FloatArray]:
    """Lead times and weights that stand for a gamma lead time, where chances are smooth in it."""
    if lead_sd == 0 or lead_mean / lead_sd > AS_GOOD_AS_FIXED**0.5:
        return np.array([lead_mean]), np.ones(1)
    times, weights = _gamma_nodes((lead_mean / lead_sd) ** 2, nodes)
    kept = weights > TAIL_MASS
    return times[kept] * lead_sd**2 / lead_mean, weights[kept] / weights[kept].sum()


def _mixed(pmf_over: Callable[[float], ArrayLike], mean: float, sd: float, nodes: int) -> FloatArray:
    times, weights = _gamma_nodes((mean / sd) ** 2, nodes)
    # A node of no weight would cost a distribution and change no digit.
    kept = weights > TAIL_MASS * 1e-3
    parts = [np.asarray(pmf_over(float(time)), dtype=np.float64) for time in times[kept] * sd**2 / mean]
    pmf = np.zeros(max(len(part) for part in parts))
    for weight, part in zip(weights[kept] / weights[kept].sum(), parts, strict=True):
        pmf[: len(part)] += weight * part
    return pmf


def _gamma_nodes(shape: float, nodes: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights for the gamma distribution of unit scale; as eigenvalues, so that no weight overflows."""
    index = np.arange(nodes, dtype=np.float64)
    off = np.sqrt(index[1:] * (index[1:] + shape - 1))
    jacobi = np.diag(2 * index + shape) + np.diag(off, 1) + np.diag(off, -1)
    values, vectors = np.linalg.eigh(jacobi)
    return np.maximum(values, np.finfo(np.float64).tiny), vectors[0] ** 2


def _log_rising(size: float, last: int) -> FloatArray:
    """log of size (size+1) … (size+x-1) / x! for x = 0 … last; summed up, it stays exact for a huge size."""
    pieces = np.arange(1.0, last + 1)
    return np.append(0.0, np.cumsum(np.log((size + (pieces - 1)) / pieces)))


def _mixed_twice(mean: float, size: float, shape: float, tail_mass: float) -> LeadTimeDemand:
    """Poisson demand with mean `mean` G H, G and H gamma of mean 1 and shapes `size` <= `shape`.

    Given H the demand is negative binomial. The integral over log H, whose shape is the larger and so the narrower, is taken by
    the trapezoid rule, exact to rounding for such integrands. Source: Trefethen & Weideman 2014, SIAM Review 56, section 5.
    """
    variance = mean + mean**2 * ((1 + 1 / size) * (1 + 1 / shape) - 1)
    logs, weights = _log_gamma_grid(mean, size, shape)
    odds = mean / size * np.exp(logs)
    fail = odds / (1 + odds)
    last = last_piece(
        lambda x: np.asarray(weights @ special.betainc(x + 1, size, fail)), mean, variance, tail_mass
    )
    log_coefficient = _log_rising(size, last)
    log_fail, log_none = np.log(fail), -size * np.log1p(odds)
    pmf = np.empty(last + 1)
    rows = max(1, 2_000_000 // len(logs))
    for start in range(0, last + 1, rows):
        pieces = np.arange(start, min(start + rows, last + 1))
        exponent = log_coefficient[pieces, None] + pieces[:, None] * log_fail + log_none
        pmf[pieces] = np.exp(exponent) @ weights
    # Below the grid there is no demand.
    pmf[0] = max(0.0, 1.0 - pmf[1:].sum())
    return LeadTimeDemand(pmf, mean, variance, tail_mass)


def _log_gamma_grid(mean: float, size: float, shape: float) -> tuple[FloatArray, FloatArray]:
    """Points of log H and their weights, for H gamma of mean 1; below them there is no demand."""
    smallest = np.log(TAIL_MASS**2)
    by_tail = (smallest + special.gammaln(shape + 1)) / shape - np.log(shape)
    if shape > 200:
        by_tail = -12 / np.sqrt(shape)
    low = max(by_tail, smallest - np.log(mean))
    high = np.log1p(11 / np.sqrt(shape) + 60 / shape)
    width = min(0.2, 0.6 / np.sqrt(shape + min(size, mean + 40 * np.sqrt(mean + 1))))
    logs = np.linspace(low, high, int((high - low) / width) + 2)
    return logs, (logs[1] - logs[0]) * np.exp(shape * (logs - np.expm1(logs)) + _log_gamma_peak(shape))


def _log_gamma_peak(shape: float) -> float:
    """shape log(shape) - shape - log Gamma(shape); by Stirling's series where the terms would cancel."""
    if shape < 100:
        return float(special.xlogy(shape, shape) - shape - special.gammaln(shape))
    return float(0.5 * np.log(shape / (2 * np.pi)) - 1 / (12 * shape) + 1 / (360 * shape**3))
