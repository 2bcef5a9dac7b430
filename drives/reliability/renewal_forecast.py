"""Failures to come, from the present ages of the units that run; each is renewed at once. Lifetimes are Weibull.

Source: delayed renewal process, Cox, Renewal Theory, 1962. Exact for the given shape and scale; that these are estimates
themselves is not counted.
"""

import math

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.count_distribution import CountDistribution, add_up
from drives.reliability.discretised_renewals import chances_over_many_lifetimes
from drives.reliability.lifetimes import LONGEST_HOURS
from drives.reliability.renewal_process import MOST_PANELS, panels_needed, renewal_table
from inventory.array_checks import FloatArray, number_list
from inventory.number_checks import number, positive

LEAST_SHAPE, MOST_SHAPE = 0.1, 1000.0
# Beyond these a horizon is no lead time, and equal steps are too coarse for the distribution.
MOST_LIFETIMES, MOST_WIDTHS = 1000.0, 4000.0
# Tables are made for reaches on a ladder, so many rungs to each doubling.
RUNGS_TO_DOUBLE = 4
# Ages worked on together.
AGES_AT_ONCE = 512


def forecast_renewals(
    ages_hours: npt.ArrayLike, *, horizon_hours: float, shape: float, scale_hours: float
) -> CountDistribution:
    """How many new parts independent positions need within a horizon.

    >>> forecast = forecast_renewals([0, 600], horizon_hours=800, shape=2, scale_hours=1000)
    >>> round(forecast.mean, 6)
    1.502541
    """
    ages, units = np.unique(number_list("ages_hours", ages_hours, most=LONGEST_HOURS), return_counts=True)
    parameters = _horizon_and_parameters(horizon_hours, shape, scale_hours)
    return add_up(_distributions(ages, *parameters), units=units.astype(np.int64))


def _horizon_and_parameters(
    horizon_hours: float, shape: float, scale_hours: float
) -> tuple[float, float, float]:
    horizon = number("horizon_hours", horizon_hours, least=0, most=LONGEST_HOURS)
    b = number("shape", shape, least=LEAST_SHAPE, most=MOST_SHAPE)
    return horizon, b, positive("scale_hours", scale_hours, most=1e12)


def _distributions(ages: FloatArray, horizon: float, shape: float, scale: float) -> FloatArray:
    if horizon <= 0 or not ages.size:
        return np.ones((ages.size, 1))
    reach = horizon / scale
    most = min(MOST_LIFETIMES * special.gamma(1 + 1 / shape), MOST_WIDTHS / max(1.0, shape))
    if reach > most:
        raise ValueError(
            f"`horizon_hours` must be {most * scale:.6g} or less for this shape and scale, not {horizon:g}."
        )
    parts = [ages[first : first + AGES_AT_ONCE] / scale for first in range(0, ages.size, AGES_AT_ONCE)]
    if panels_needed(shape, reach) <= MOST_PANELS:
        table = renewal_table(shape, _rung(shape, reach))
        tables = [table.chances(part, reach) for part in parts]
    else:
        tables = [chances_over_many_lifetimes(part, reach=reach, shape=shape) for part in parts]
    width = max(chances.shape[1] for chances in tables)
    at_least = np.concatenate(
        [np.pad(chances, ((0, 0), (0, width + 1 - chances.shape[1]))) for chances in tables]
    )
    chances = -np.diff(at_least, axis=1)
    return np.asarray(chances[:, : int(np.flatnonzero(chances.max(axis=0) > 0)[-1]) + 1])


def _rung(shape: float, reach: float) -> float:
    """Next rung of a ladder of reaches: the many windows of a lead time that varies share a few tables."""
    rung = float(2.0 ** (math.ceil(RUNGS_TO_DOUBLE * math.log2(reach)) / RUNGS_TO_DOUBLE))
    return max(rung, reach) if panels_needed(shape, rung) <= MOST_PANELS else reach
