"""Intermittent demand: what kind it is, and the rate that Croston, SBA and TSB read from it.

A period is whatever the record counts by. The functions take a matrix of pieces per period with one row per item, so that a
hundred thousand records are read at once; rates are pieces per period, 0 for a record without demand.

Croston 1972, Operational Research Quarterly 23: the first demand starts the size, and the first interval is counted from the
start of the record; smoothed size over smoothed interval is biased upwards. SBA is (1 - alpha/2) times that: Syntetos & Boylan
2005, International Journal of Forecasting 21. TSB smooths the chance of a demand in every period, so that it fades once demand
stops; the chance starts at 0 or 1 by the first period: Teunter, Syntetos & Babai 2011, European Journal of Operational
Research 214.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from inventory.array_checks import FloatArray, IntArray

INTERVAL_CUT = 1.32
"""Mean interval between demands [periods] from which demand counts as intermittent or lumpy.
Source: Syntetos, Boylan & Croston 2005, J. Oper. Res. Soc. 56."""

SIZE_CV2_CUT = 0.49
"""Squared coefficient of variation of the sizes from which demand counts as erratic or lumpy. Source: as above."""

SMOOTHING = 0.1
"""Smoothing constant where the caller has no view: that of the published worked case (Hyndman & Athanasopoulos,
Forecasting: Principles and Practice, 2nd ed., section 12.2)."""

ITEMS_AT_ONCE = 4096
"""Items per pass: with some sixty periods the working rows stay in the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Classification:
    """Interval, spread and class of each record: smooth, erratic, intermittent, lumpy or no_demand.

    `interval` is periods over periods with demand (n/k, infinite without demand). `size_cv2` is the squared coefficient of
    variation of the sizes above zero with the population divisor, 0 for a single demand.
    """

    interval: FloatArray
    size_cv2: FloatArray
    demand_class: NDArray[np.str_]


def classify(demand: FloatArray) -> Classification:
    """Below a cut a record is low in interval or spread, at the cut or above high."""
    demands = (demand > 0).sum(axis=1)
    some = np.maximum(demands, 1)
    mean = demand.sum(axis=1) / some
    variance = np.where(demand > 0, (demand - mean[:, None]) ** 2, 0.0).sum(axis=1) / some
    size_cv2 = np.divide(variance, mean**2, out=np.zeros_like(mean), where=mean > 0)
    interval = np.where(demands > 0, demand.shape[1] / some, np.inf)
    often, even = interval < INTERVAL_CUT, size_cv2 < SIZE_CV2_CUT
    names = np.where(often, np.where(even, "smooth", "erratic"), np.where(even, "intermittent", "lumpy"))
    return Classification(interval, size_cv2, np.where(demands > 0, names, "no_demand"))


def croston_rates(demand: FloatArray, alpha: float = SMOOTHING) -> FloatArray:
    def rate(records: _Records) -> FloatArray:
        return records.smoothed(records.sizes, alpha) / records.smoothed(records.intervals(), alpha)

    return _in_passes(demand, rate)


def sba_rates(demand: FloatArray, alpha: float = SMOOTHING) -> FloatArray:
    return (1 - alpha / 2) * croston_rates(demand, alpha)


def tsb_rates(
    demand: FloatArray, *, alpha_size: float = SMOOTHING, alpha_probability: float = SMOOTHING
) -> FloatArray:
    def rate(records: _Records) -> FloatArray:
        return records.chance(alpha_probability) * records.smoothed(records.sizes, alpha_size)

    return _in_passes(demand, rate)


@dataclass(frozen=True, slots=True, eq=False)
class _Records:
    """The entries above zero of some records, record after record; none of the records is without one."""

    sizes: FloatArray
    periods: IntArray
    first: IntArray
    """Where each record begins in `sizes`."""
    later: IntArray
    """How many demands of the same record follow each."""
    record_periods: int

    def smoothed(self, values: FloatArray, alpha: float) -> FloatArray:
        """Exponential smoothing at demands, started by the first, as the weighted sum that it is."""
        fading = (1 - alpha) ** np.arange(self.record_periods)
        weights = alpha * fading[self.later]
        weights[self.first] /= alpha
        return np.asarray(np.add.reduceat(weights * values, self.first))

    def intervals(self) -> FloatArray:
        steps = np.diff(self.periods, prepend=-1)
        steps[self.first] = self.periods[self.first] + 1
        return steps.astype(np.float64)

    def chance(self, alpha: float) -> FloatArray:
        """Exponential smoothing, over every period, of whether there was a demand."""
        age = self.record_periods - 1 - self.periods
        weights = alpha * ((1 - alpha) ** np.arange(self.record_periods))[age]
        weights[self.periods == 0] /= alpha
        return np.asarray(np.add.reduceat(weights, self.first))


def _records(demand: FloatArray) -> _Records:
    periods = demand.shape[1]
    places = np.flatnonzero(demand)
    counts = np.count_nonzero(demand, axis=1)
    ends = np.cumsum(counts)
    starts = np.repeat(np.arange(len(demand)) * periods, counts)
    later = np.repeat(ends - 1, counts) - np.arange(len(places))
    return _Records(demand.ravel()[places], places - starts, ends - counts, later, periods)


def _in_passes(demand: FloatArray, rate: Callable[[_Records], FloatArray]) -> FloatArray:
    """The rates, a cacheful of records at a time."""
    rates = np.zeros(len(demand))
    for start in range(0, len(demand), ITEMS_AT_ONCE):
        part = demand[start : start + ITEMS_AT_ONCE]
        some = part.any(axis=1)
        if some.any():
            rows = part if some.all() else part[some]
            rates[start : start + ITEMS_AT_ONCE][some] = rate(_records(np.ascontiguousarray(rows)))
    return rates
