"""Intermittent demand: what kind it is, and the rate that Croston, SBA and TSB read from it.

A period is whatever the record counts by. The functions take a matrix with one row per item, so that a
hundred thousand records are read at once; one record is a matrix of one row.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.array_checks import FloatArray, IntArray, demand_matrix, demand_series
from inventory.number_checks import fraction

DemandClass = Literal["smooth", "erratic", "intermittent", "lumpy", "no_demand"]

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
    """Interval, spread and class of each record; one entry per row.

    `interval` is periods over periods with demand (n/k, infinite without demand). `size_cv2` is the squared
    coefficient of variation of the sizes above zero with the population divisor, 0 for a single demand.
    """

    interval: FloatArray
    size_cv2: FloatArray
    demand_class: NDArray[np.str_]

    def count(self, name: DemandClass) -> int:
        return int((self.demand_class == name).sum())


@dataclass(frozen=True, slots=True)
class Croston:
    """Smoothed size, smoothed interval [periods] and their quotient [pieces per period]."""

    size: float
    interval: float
    forecast: float


def classify(
    demand: ArrayLike, *, interval_cut: float = INTERVAL_CUT, cv2_cut: float = SIZE_CV2_CUT
) -> Classification:
    """Class of each record by how often it asks and how much the sizes vary.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period, not negative.
    interval_cut, cv2_cut : float
        A record below a cut is low in it, at the cut or above high.

    Returns
    -------
    Classification
        Interval n/k, squared coefficient of variation (population divisor), class per item.

    Raises
    ------
    ValueError
        If `demand` is no matrix of finite numbers that are not negative.

    Source
    ------
    Syntetos, Boylan & Croston 2005, J. Oper. Res. Soc. 56.

    Examples
    --------
    >>> classify([[0, 1, 0, 0, 5, 0]]).demand_class.tolist()
    ['intermittent']
    """
    matrix = demand_matrix("demand", demand)
    asked = (matrix > 0).sum(axis=1)
    some = np.maximum(asked, 1)
    mean = matrix.sum(axis=1) / some
    variance = np.where(matrix > 0, (matrix - mean[:, None]) ** 2, 0.0).sum(axis=1) / some
    size_cv2 = np.divide(variance, mean**2, out=np.zeros_like(mean), where=mean > 0)
    interval = np.where(asked > 0, matrix.shape[1] / some, np.inf)
    often, even = interval < interval_cut, size_cv2 < cv2_cut
    names = np.where(often, np.where(even, "smooth", "erratic"), np.where(even, "intermittent", "lumpy"))
    return Classification(interval, size_cv2, np.where(asked > 0, names, "no_demand"))


def croston(series: ArrayLike, alpha: float = SMOOTHING) -> Croston:
    """Croston's smoothed size, interval and rate of one record.

    Parameters
    ----------
    series : array_like, shape (periods,)
        Pieces asked for per period, not negative.
    alpha : float, in (0, 1)
        Smoothing constant of size and interval alike.

    Returns
    -------
    Croston
        All zero where nothing was ever asked for.

    Raises
    ------
    ValueError
        If the record or `alpha` is out of range.

    Source
    ------
    Croston 1972, Operational Research Quarterly 23. Start: the first demand gives the size, and the first
    interval is counted from the start of the record.

    Examples
    --------
    >>> round(croston([0, 2, 0, 1, 0, 11]).forecast, 6)
    1.405
    """
    row = demand_series("series", series)[None, :]
    smoothing = fraction("alpha", alpha)
    if not row.any():
        return Croston(0.0, 0.0, 0.0)
    demands = _demands(row)
    size = float(demands.smoothed(demands.sizes, smoothing)[0])
    interval = float(demands.smoothed(demands.intervals(), smoothing)[0])
    return Croston(size, interval, size / interval)


def croston_rates(demand: ArrayLike, alpha: float = SMOOTHING) -> FloatArray:
    """Croston's rate of every record of a matrix [pieces per period].

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period, not negative.
    alpha : float, in (0, 1)
        Smoothing constant.

    Returns
    -------
    ndarray, shape (items,)
        Size over interval; 0 where nothing was ever asked for. Biased upwards: see `sba_rates`.

    Raises
    ------
    ValueError
        If `demand` or `alpha` is out of range.

    Source
    ------
    Croston 1972; start as in `croston`.

    Examples
    --------
    >>> croston_rates([[0, 2, 0, 2], [0, 0, 0, 0]]).tolist()
    [1.0, 0.0]
    """
    smoothing = fraction("alpha", alpha)

    def rate(demands: _Demands) -> FloatArray:
        return demands.smoothed(demands.sizes, smoothing) / demands.smoothed(demands.intervals(), smoothing)

    return _in_passes(demand_matrix("demand", demand), rate)


def sba_rates(demand: ArrayLike, alpha: float = SMOOTHING) -> FloatArray:
    """Rate of every record by Syntetos and Boylan: Croston's without its upward bias.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period, not negative.
    alpha : float, in (0, 1)
        Smoothing constant.

    Returns
    -------
    ndarray, shape (items,)
        (1 - alpha/2) times Croston's rate [pieces per period].

    Raises
    ------
    ValueError
        If `demand` or `alpha` is out of range.

    Source
    ------
    Syntetos & Boylan 2005, International Journal of Forecasting 21.

    Examples
    --------
    >>> sba_rates([[0, 2, 0, 2]]).tolist()
    [0.95]
    """
    return (1 - fraction("alpha", alpha) / 2) * croston_rates(demand, alpha)


def tsb_rates(
    demand: ArrayLike, *, alpha_size: float = SMOOTHING, alpha_probability: float = SMOOTHING
) -> FloatArray:
    """Rate of every record by Teunter, Syntetos and Babai: it fades once demand stops.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period, not negative.
    alpha_size, alpha_probability : float, in (0, 1)
        Smoothing of the size (at demands only) and of the chance of a demand (every period).

    Returns
    -------
    ndarray, shape (items,)
        Chance of a demand times its size [pieces per period].

    Raises
    ------
    ValueError
        If `demand` or a constant is out of range.

    Source
    ------
    Teunter, Syntetos & Babai 2011, European Journal of Operational Research 214. Start: the chance is 0 or 1
    by the first period, the size is the first demand.

    Examples
    --------
    >>> tsb_rates([[2, 0, 0]]).round(6).tolist()
    [1.62]
    """
    of_size, of_chance = fraction("alpha_size", alpha_size), fraction("alpha_probability", alpha_probability)

    def rate(demands: _Demands) -> FloatArray:
        return demands.chance(of_chance) * demands.smoothed(demands.sizes, of_size)

    return _in_passes(demand_matrix("demand", demand), rate)


def adida_rates(demand: ArrayLike, alpha: float = SMOOTHING) -> FloatArray:
    """Rate of every record from sums over buckets as long as its mean interval.

    Parameters
    ----------
    demand : array_like, shape (items, periods)
        Pieces asked for per period, not negative.
    alpha : float, in (0, 1)
        Smoothing constant of the bucket sums; it is given, not fitted.

    Returns
    -------
    ndarray, shape (items,)
        Smoothed bucket sum over bucket length [pieces per period].

    Raises
    ------
    ValueError
        If `demand` or `alpha` is out of range.

    Source
    ------
    Nikolopoulos et al. 2011, J. Oper. Res. Soc. 62. Buckets end with the last period; what is left over at
    the start of the record is not used. The first bucket starts the smoothing.

    Examples
    --------
    >>> adida_rates([[0, 2, 0, 2]]).tolist()
    [1.0]
    """
    matrix, smoothing = demand_matrix("demand", demand), fraction("alpha", alpha)
    interval = classify(matrix).interval
    rates = np.zeros(len(matrix))
    lengths = np.rint(np.where(np.isfinite(interval), interval, 0)).astype(np.int64)
    for length in map(int, np.unique(lengths[lengths > 0])):
        rows = lengths == length
        buckets = matrix.shape[1] // length
        used = matrix[rows, matrix.shape[1] - buckets * length :]
        sums = used.reshape(len(used), buckets, length).sum(axis=2)
        level = sums[:, 0]
        for bucket in sums.T[1:]:
            level = level + smoothing * (bucket - level)
        rates[rows] = level / length
    return rates


@dataclass(frozen=True, slots=True, eq=False)
class _Demands:
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


def _demands(records: FloatArray) -> _Demands:
    periods = records.shape[1]
    places = np.flatnonzero(records)
    counts = np.count_nonzero(records, axis=1)
    ends = np.cumsum(counts)
    starts = np.repeat(np.arange(len(records)) * periods, counts)
    later = np.repeat(ends - 1, counts) - np.arange(len(places))
    return _Demands(records.ravel()[places], places - starts, ends - counts, later, periods)


def _in_passes(matrix: FloatArray, rate: Callable[[_Demands], FloatArray]) -> FloatArray:
    """The rates, a cacheful of records at a time; 0 for a record without a demand."""
    rates = np.zeros(len(matrix))
    for start in range(0, len(matrix), ITEMS_AT_ONCE):
        part = matrix[start : start + ITEMS_AT_ONCE]
        asked = part.any(axis=1)
        if asked.any():
            records = part if asked.all() else part[asked]
            rates[start : start + ITEMS_AT_ONCE][asked] = rate(_demands(np.ascontiguousarray(records)))
    return rates
