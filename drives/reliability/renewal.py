"""Failures to come, from the present ages of the units that run."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.convolve import Forecast, add_up
from drives.reliability.lattice import chances_of_many
from drives.reliability.lives import LONGEST_HOURS
from drives.reliability.process import MOST_PANELS, hazard_run_through, panels_needed, renewal_table
from inventory.array_checks import FloatArray, IntArray, number_list
from inventory.number_checks import number, positive

LEAST_SHAPE, MOST_SHAPE = 0.1, 1000.0
# Beyond these a horizon is no lead time, and the lattice too coarse for the law.
MOST_LIVES, MOST_WIDTHS = 1000.0, 4000.0
MOST_UNITS = 1_000_000
# Error of a chance from the panels; the residual of each table confirms it.
PANEL_ERROR = 1e-9
# Tables are made for reaches on a ladder, so many rungs to each doubling.
RUNGS_TO_DOUBLE = 4
# Ages worked on together.
AGES_AT_ONCE = 512


def renewal_function(times_hours: npt.ArrayLike, *, shape: float, scale_hours: float) -> FloatArray:
    """Expected number of renewals of a position by each time, from a new part, lives being Weibull.

    Parameters
    ----------
    times_hours : array_like of float
        Times [h], 0 to 1e7 and no more than about 60 scales, fewer for steep shapes.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.

    Returns
    -------
    ndarray of float
        M(t) [-].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    M(t) = F(t) + integral of M(t - s) dF(s); tables in Tijms, A First Course in Stochastic Models, 2003, table 8.1.1.

    Examples
    --------
    >>> renewal_function([500, 1000, 2000], shape=2, scale_hours=1000).round(9).tolist()
    [0.230793894, 0.753691278, 1.894039347]
    """
    times = number_list("times_hours", times_hours, most=LONGEST_HOURS)
    b, scale = _law(shape, scale_hours)
    if not times.size or times.max() <= 0:
        return np.zeros(times.size)
    reach = float(times.max()) / scale
    if panels_needed(b, reach) > MOST_PANELS:
        most = MOST_PANELS * reach / panels_needed(b, reach) * scale
        raise ValueError(f"`times_hours` must be {most:.6g} or less for this law, not {times.max():g}.")
    return renewal_table(b, reach).expected(times / scale)


def renewal_function_of(
    distribution: Callable[[FloatArray], Any], *, until: float, steps: int = 2000
) -> FloatArray:
    """Expected number of renewals by the times 0, h, 2h, … `until`, for any law of lives.

    Parameters
    ----------
    distribution : callable
        Chance that a life ends by each time of an array, 0 at 0; smooth, for the last digits.
    until : float
        Last time, above 0, in the unit of the distribution.
    steps : int
        Number of steps [-], 2 to 20,000.

    Returns
    -------
    ndarray of float
        M at `steps` + 1 times.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Riemann-Stieltjes method, Xie, Communications in Statistics: Simulation and Computation 18, 1989, on two grids, the
    error of second order cancelled (Richardson).

    Examples
    --------
    >>> round(float(renewal_function_of(lambda t: 1 - np.exp(-t), until=2.0)[-1]), 9)
    2.0
    """
    end = positive("until", until)
    count = int(number("steps", steps, least=2, most=20_000))
    coarse = _riemann_stieltjes(distribution, end, count)
    fine = _riemann_stieltjes(distribution, end, 2 * count)[::2]
    return np.asarray((4 * fine - coarse) / 3)


def _riemann_stieltjes(distribution: Callable[[FloatArray], Any], until: float, steps: int) -> FloatArray:
    width = until / steps
    times = width * np.arange(steps + 1, dtype=np.float64)
    whole = np.asarray(distribution(np.asarray(times)), dtype=np.float64)
    # F at h/2, 3h/2, …
    middle = np.asarray(distribution(np.asarray(times[1:] - width / 2)), dtype=np.float64)
    result, rises = np.zeros(steps + 1), np.zeros(steps)
    for place in range(1, steps + 1):
        before = np.dot(middle[1:place][::-1], rises[: place - 1])
        result[place] = (whole[place] + before - middle[0] * result[place - 1]) / (1 - middle[0])
        rises[place - 1] = result[place] - result[place - 1]
    return result


def failure_chances(
    ages_hours: npt.ArrayLike, *, horizon_hours: float, shape: float, scale_hours: float
) -> FloatArray:
    """Chance of each unit to end within a horizon, having reached its age.

    Parameters
    ----------
    ages_hours : array_like of float
        Present ages [h], 0 to 1e7.
    horizon_hours : float
        Horizon [h], 0 to 1e7.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.

    Returns
    -------
    ndarray of float
        Chances [-].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    1 - exp((a/scale)^b - ((a + H)/scale)^b); Meeker and Escobar, Statistical Methods for Reliability Data, 1998, ch. 12.

    Examples
    --------
    >>> failure_chances([0, 600], horizon_hours=800, shape=2, scale_hours=1000).round(6).tolist()
    [0.472708, 0.798103]
    """
    ages = number_list("ages_hours", ages_hours, most=LONGEST_HOURS)
    horizon = number("horizon_hours", horizon_hours, least=0, most=LONGEST_HOURS)
    b, scale = _law(shape, scale_hours)
    return np.asarray(-np.expm1(-hazard_run_through(ages / scale, horizon / scale, shape=b)))


def forecast_first_failures(
    ages_hours: npt.ArrayLike,
    *,
    horizon_hours: float,
    shape: float,
    scale_hours: float,
    units: npt.ArrayLike | None = None,
) -> Forecast:
    """How many of the units that run now will end within a horizon; what replaces them is not counted.

    Parameters
    ----------
    ages_hours : array_like of float
        Present ages [h], 0 to 1e7.
    horizon_hours : float
        Horizon [h], 0 to 1e7; short beside a life, for the answer to be the need for parts.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.
    units : array_like of int, optional
        Units of each age [-]; one where not given.

    Returns
    -------
    Forecast
        Poisson-binomial distribution.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Meeker and Escobar, Statistical Methods for Reliability Data, 1998, sec. 12.6.

    Examples
    --------
    >>> forecast = forecast_first_failures([0, 600], horizon_hours=800, shape=2, scale_hours=1000)
    >>> round(forecast.mean, 6), forecast.chances.round(6).tolist()
    (1.270811, [0.106459, 0.516272, 0.37727])
    """
    chances = failure_chances(ages_hours, horizon_hours=horizon_hours, shape=shape, scale_hours=scale_hours)
    return add_up(np.column_stack((1 - chances, chances)), units=_units(units, chances.size))


def renewal_chances(
    ages_hours: npt.ArrayLike, *, horizon_hours: float, shape: float, scale_hours: float
) -> FloatArray:
    """Distribution of the parts that each position uses within a horizon, a new one replacing each that ends.

    Parameters
    ----------
    ages_hours : array_like of float
        Present ages [h], 0 to 1e7.
    horizon_hours : float
        Horizon [h], 0 to 1e7, no more than 1000 mean lives.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.

    Returns
    -------
    ndarray of float
        One row per age; column n is the chance that n are used.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Delayed renewal process, Cox, Renewal Theory, 1962, sec. 2.2 and 3.2: the first life is conditional on the age.

    Examples
    --------
    >>> renewal_chances([600], horizon_hours=800, shape=2, scale_hours=1000).round(6)[0, :5].tolist()
    [0.201897, 0.633234, 0.153919, 0.010606, 0.000338]
    """
    return _used(ages_hours, horizon_hours, shape, scale_hours)[0]


def forecast_renewals(
    ages_hours: npt.ArrayLike,
    *,
    horizon_hours: float,
    shape: float,
    scale_hours: float,
    units: npt.ArrayLike | None = None,
) -> Forecast:
    """How many parts all positions together use within a horizon, a new one replacing each that ends.

    Parameters
    ----------
    ages_hours : array_like of float
        Present ages [h], 0 to 1e7.
    horizon_hours : float
        Horizon [h], 0 to 1e7, no more than 1000 mean lives.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.
    units : array_like of int, optional
        Units of each age [-]; one where not given.

    Returns
    -------
    Forecast
        Exact for the law; that the law itself is an estimate comes on top.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    As `renewal_chances`; the positions are independent.

    Examples
    --------
    >>> forecast = forecast_renewals([0, 600], horizon_hours=800, shape=2, scale_hours=1000)
    >>> round(forecast.mean, 6), forecast.quantile(0.95)
    (1.502541, 3)
    """
    ages, places = np.unique(number_list("ages_hours", ages_hours, most=LONGEST_HOURS), return_inverse=True)
    many = np.bincount(places, weights=_units(units, places.size), minlength=ages.size).astype(np.int64)
    chances, error = _used(ages, horizon_hours, shape, scale_hours)
    return add_up(chances, units=many, error=error)


def _used(
    ages_hours: npt.ArrayLike, horizon_hours: float, shape: float, scale_hours: float
) -> tuple[FloatArray, float]:
    ages = number_list("ages_hours", ages_hours, most=LONGEST_HOURS)
    horizon = number("horizon_hours", horizon_hours, least=0, most=LONGEST_HOURS)
    b, scale = _law(shape, scale_hours)
    if horizon <= 0 or not ages.size:
        return np.ones((ages.size, 1)), 0.0
    reach = horizon / scale
    most = min(MOST_LIVES * special.gamma(1 + 1 / b), MOST_WIDTHS / max(1.0, b))
    if reach > most:
        raise ValueError(f"`horizon_hours` must be {most * scale:.6g} or less for this law, not {horizon:g}.")
    parts = [ages[first : first + AGES_AT_ONCE] / scale for first in range(0, ages.size, AGES_AT_ONCE)]
    if panels_needed(b, reach) <= MOST_PANELS:
        table = renewal_table(b, _rung(b, reach))
        tables = [table.chances(part, reach) for part in parts]
        errors = [max(PANEL_ERROR, 100 * table.residual)]
    else:
        found = [chances_of_many(part, reach=reach, shape=b) for part in parts]
        tables, errors = [chances for chances, _ in found], [error for _, error in found]
    width = max(chances.shape[1] for chances in tables)
    at_least = np.concatenate(
        [np.pad(chances, ((0, 0), (0, width + 1 - chances.shape[1]))) for chances in tables]
    )
    return _without_tail(-np.diff(at_least, axis=1)), max(errors)


def _rung(shape: float, reach: float) -> float:
    """Next rung of a ladder of reaches: the many windows of a lead time that varies share a few tables."""
    rung = float(2.0 ** (math.ceil(RUNGS_TO_DOUBLE * math.log2(reach)) / RUNGS_TO_DOUBLE))
    return max(rung, reach) if panels_needed(shape, rung) <= MOST_PANELS else reach


def _without_tail(chances: FloatArray) -> FloatArray:
    return np.asarray(chances[:, : int(np.flatnonzero(chances.max(axis=0) > 0)[-1]) + 1])


def _law(shape: float, scale_hours: float) -> tuple[float, float]:
    b = number("shape", shape, least=LEAST_SHAPE, most=MOST_SHAPE)
    return b, positive("scale_hours", scale_hours, most=1e12)


def _units(units: npt.ArrayLike | None, size: int) -> IntArray:
    if units is None:
        return np.ones(size, dtype=np.int64)
    many = number_list("units", units, most=MOST_UNITS)
    if many.size != size:
        raise ValueError(f"`units` must be {size} numbers, one for each age, not {many.size}.")
    if (many % 1 > 0).any():
        raise ValueError("`units` must be whole numbers.")
    if math.fsum(many) > MOST_UNITS:
        raise ValueError(f"`units` must be {MOST_UNITS} or fewer in all.")
    return many.astype(np.int64)
