"""Demand over a lead time that itself varies, or at a rate that is known only roughly."""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray
from inventory.number_checks import not_negative, positive
from inventory.stocking.lead_time_demand import (
    TAIL_MASS,
    LeadTimeDemand,
    from_pmf,
    last_piece,
    negative_binomial_of_size,
    poisson,
)

AS_GOOD_AS_FIXED = 1e10
"""Shape of a gamma law from which its spread changes no chance by more than 1e-9."""

MOST_NODES = 256
"""Windows tried at most where a law is mixed over the lead time."""

MIXTURE_TOLERANCE = 1e-9
"""Doubling the windows stops when no chance moves by more."""


def gamma_lead_time(
    rate: float, lead_mean: float, lead_sd: float, *, tail_mass: float = TAIL_MASS
) -> LeadTimeDemand:
    """Poisson demand over one gamma lead time: orders do not cross, so the spread of the lead time counts.

    Parameters
    ----------
    rate : float
        Pieces per unit of time, not negative.
    lead_mean, lead_sd : float
        Mean (above 0) and standard deviation (0 for a fixed lead time) in the same unit.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Negative binomial with r = 1/c^2 and p = 1/(1 + rate lead_mean c^2), c = lead_sd/lead_mean.

    Raises
    ------
    ValueError
        If a parameter is out of range or the law too long.

    Source
    ------
    Poisson-gamma mixture, Greenwood & Yule 1920, J. Royal Stat. Soc. 83.

    Examples
    --------
    >>> gamma_lead_time(2, 1.5, 0.75).variance
    5.25
    """
    centre = not_negative("rate", rate) * positive("lead_mean", lead_mean)
    cv2 = (not_negative("lead_sd", lead_sd) / lead_mean) ** 2
    if centre * cv2 == 0:
        return poisson(centre, tail_mass=tail_mass)
    return negative_binomial_of_size(1 / cv2, centre * cv2, tail_mass)


def gamma_poisson(
    shape: float,
    exposure: float,
    lead_mean: float,
    lead_sd: float = 0.0,
    *,
    tail_mass: float = TAIL_MASS,
) -> LeadTimeDemand:
    """Poisson demand whose rate is known only as a gamma law, over a fixed or a gamma lead time.

    Parameters
    ----------
    shape, exposure : float
        The rate is Gamma(shape, exposure) with mean shape/exposure per unit of time, both above 0.
    lead_mean, lead_sd : float
        Mean (above 0) and standard deviation of the lead time in that unit.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Negative binomial for a fixed lead time; for a gamma lead time its mixture, by the trapezoid rule on a
        logarithmic scale, which is exact to rounding for such integrands.

    Raises
    ------
    ValueError
        If a parameter is out of range or the law too long.

    Source
    ------
    Greenwood & Yule 1920; trapezoid rule: Trefethen & Weideman 2014, SIAM Review 56, section 5.

    Examples
    --------
    >>> print(f"{gamma_poisson(2, 4, 1).pmf[0]:.4f}")
    0.6400
    """
    alpha, beta = positive("shape", shape), positive("exposure", exposure)
    centre = alpha / beta * positive("lead_mean", lead_mean)
    cv2 = (not_negative("lead_sd", lead_sd) / lead_mean) ** 2
    if cv2 == 0:
        return negative_binomial_of_size(alpha, lead_mean / beta, tail_mass)
    size, narrow = min(alpha, 1 / cv2), max(alpha, 1 / cv2)
    if narrow > AS_GOOD_AS_FIXED:
        return negative_binomial_of_size(size, centre / size, tail_mass)
    return _twice_mixed(centre, size, narrow, tail_mass)


def over_gamma_lead_time(
    pmf_over: Callable[[float], ArrayLike], lead_mean: float, lead_sd: float
) -> LeadTimeDemand:
    """Mixture over a gamma lead time of a law that is known for any fixed window.

    Parameters
    ----------
    pmf_over : callable
        Gives P(0), P(1), … over a window of the given length.
    lead_mean, lead_sd : float
        Mean (above 0) and standard deviation of the lead time.

    Returns
    -------
    LeadTimeDemand
        By Gauss-Laguerre quadrature in the gamma law itself, its nodes doubled until no chance moves by
        more than 1e-9 or 256 are reached.

    Raises
    ------
    ValueError
        If a parameter is out of range or a given law is none.

    Source
    ------
    Golub & Welsch 1969, Mathematics of Computation 23.

    Examples
    --------
    >>> law = over_gamma_lead_time(lambda window: poisson(2 * window).pmf, 1.5, 0.75)
    >>> print(f"{law.pmf[0]:.8f}")
    0.10662224
    """
    mean, sd = positive("lead_mean", lead_mean), not_negative("lead_sd", lead_sd)
    if sd == 0 or mean / sd > AS_GOOD_AS_FIXED**0.5:
        return from_pmf(pmf_over(mean))
    nodes, law = 32, _mixed(pmf_over, mean, sd, 16)
    while nodes <= MOST_NODES:
        finer = _mixed(pmf_over, mean, sd, nodes)
        shown = min(len(law), len(finer))
        moved = np.abs(finer[:shown] - law[:shown]).max()
        nodes, law = 2 * nodes, finer
        if moved <= MIXTURE_TOLERANCE:
            break
    return from_pmf(law)


def _mixed(pmf_over: Callable[[float], ArrayLike], mean: float, sd: float, nodes: int) -> FloatArray:
    windows, weights = _gamma_nodes((mean / sd) ** 2, nodes)
    # A node of no weight would cost a law and change no digit.
    kept = weights > TAIL_MASS * 1e-3
    laws = [from_pmf(pmf_over(float(window))).pmf for window in windows[kept] * sd**2 / mean]
    pmf = np.zeros(max(len(law) for law in laws))
    for weight, law in zip(weights[kept] / weights[kept].sum(), laws, strict=True):
        pmf[: len(law)] += weight * law
    return pmf


def _gamma_nodes(shape: float, nodes: int) -> tuple[FloatArray, FloatArray]:
    """Nodes and weights for the gamma law of unit scale; as eigenvalues, so that no weight overflows."""
    index = np.arange(nodes, dtype=np.float64)
    off = np.sqrt(index[1:] * (index[1:] + shape - 1))
    jacobi = np.diag(2 * index + shape) + np.diag(off, 1) + np.diag(off, -1)
    values, vectors = np.linalg.eigh(jacobi)
    return np.maximum(values, np.finfo(np.float64).tiny), vectors[0] ** 2


def _log_rising(size: float, last: int) -> FloatArray:
    """log of size (size+1) … (size+x-1) / x! for x = 0 … last; summed up, it stays exact for a huge size."""
    pieces = np.arange(1.0, last + 1)
    return np.append(0.0, np.cumsum(np.log((size + (pieces - 1)) / pieces)))


def _twice_mixed(mean: float, size: float, shape: float, tail_mass: float) -> LeadTimeDemand:
    """Poisson demand with mean `mean` G H, G and H gamma of mean 1 and shapes `size` <= `shape`.

    Given H the demand is negative binomial; the integral over H runs on its logarithm, over the law with the
    larger shape, which is the narrower.
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
    # What lies below the grid asks for nothing.
    pmf[0] = max(0.0, 1.0 - pmf[1:].sum())
    return LeadTimeDemand(pmf, mean, variance, tail_mass)


def _log_gamma_grid(mean: float, size: float, shape: float) -> tuple[FloatArray, FloatArray]:
    """Points of log H and their weights, for H gamma of mean 1; below them no piece is asked for."""
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
