"""Wear of a chain against running hours: a robust slope through its readings, and the hours left to its limit.

Source: Theil 1950 and Sen, Journal of the American Statistical Association 63, 1968: median of the slopes of all pairs,
interval by the rank of Kendall's S (from memory, held to another program in the tests). Several chains: Hirsch, Slack and
Smith, Water Resources Research 18, 1982, who do so by season: pairs within a season alone, the variances of S added up
(from memory). Intercept by the median of the residuals: Conover, Practical Nonparametric Statistics, sec. 5.5 (from memory).
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lifetimes import LONGEST_HOURS
from inventory.array_checks import FloatArray, IntArray, number_list
from inventory.number_checks import fraction, positive

FEWEST_READINGS = 3
"""Two readings always lie on a line; only the third can contradict it."""

RENEWAL_DROP_PERCENT = 0.3
"""A chain does not get shorter. A new one may differ by 0.15 % from its nominal length (ISO 606), a reading by about as
much: a fall beyond both is another chain. Judgement of this project."""

MOST_READINGS = 2_000
"""All pairs of them are compared."""

MOST_FORECAST_POINTS = 200
"""A forecast follows so many of the slopes, evenly spaced by rank."""

MOST_READINGS_COUNTED = 60
"""Up to here the orders of the readings are counted exactly; beyond, and with ties, the normal distribution serves."""

LOWEST_PERCENT, HIGHEST_PERCENT = -1.0, 20.0


@dataclass(frozen=True, eq=False)
class ChainReadings:
    """The readings of one chain, in the order of the inspections."""

    hours: FloatArray
    elongation_percent: FloatArray

    def __len__(self) -> int:
        return int(self.hours.size)


@dataclass(frozen=True)
class WearTrend:
    """Elongation against running hours. The interval of the slope was to reach `confidence`; `reached` is what so few
    readings can support. Both bounds are slopes between two readings."""

    slope_percent_per_hour: float
    slope_low: float
    slope_high: float
    readings: int
    chains: int
    confidence: float
    reached: float
    slopes: FloatArray = field(default_factory=lambda: np.zeros(0), compare=False, repr=False)
    """Between two readings, falling; the true slope lies above each of them with the chance in `steeper`."""
    steeper: FloatArray = field(default_factory=lambda: np.zeros(0), compare=False, repr=False)


@dataclass(frozen=True, eq=False)
class LimitForecast:
    """Chances that the limit is reached within so many hours of the last inspection; both rise.

    The distribution is that of the slope (Sen 1968: it lies above the r-th slope just where r or more pairs fall short of it), each
    slope with its own intercept. Between two of them chances are interpolated.
    """

    hours: FloatArray
    chances: FloatArray

    def early(self, chance: float) -> tuple[float, float]:
        """Hours within which the limit is reached with a chance, and that chance; with few readings the least that they support."""
        share = max(fraction("chance", chance), float(self.chances[0]))
        return float(np.interp(share, self.chances, self.hours)), share

    def chance_within(self, hours: float) -> float:
        return float(np.interp(hours, self.hours, self.chances, left=0.0))


@dataclass(frozen=True)
class HoursToLimit:
    """Hours from the last inspection to the limit; `high` is None where the slope may as well be zero."""

    hours: float
    low: float
    high: float | None
    is_passed: bool


def split_by_chain(
    hours: npt.ArrayLike,
    elongation_percent: npt.ArrayLike,
    *,
    renewed_before: Iterable[int] = (),
    drop_percent: float = RENEWAL_DROP_PERCENT,
) -> tuple[ChainReadings, ...]:
    """The readings of a drive, split where another chain begins; the last one is the chain that runs now.

    `hours` are running hours of the drive and never fall. `renewed_before` are the places of readings recorded as the first
    of a new chain; a fall of more than `drop_percent` below the largest reading begins one too.

    >>> [len(chain) for chain in split_by_chain([0, 900, 2000, 2100, 3000], [0.1, 1.2, 2.7, 0.1, 1.0])]
    [3, 2]
    """
    run, elongation = _readings(hours, elongation_percent)
    drop = positive("drop_percent", drop_percent)
    marked = {int(place) for place in renewed_before}
    starts: list[int] = []
    longest = -math.inf
    for place, value in enumerate(elongation.tolist()):
        if not starts or place in marked or value < longest - drop:
            starts.append(place)
            longest = value
        longest = max(longest, value)
    ends = [*starts[1:], run.size][: len(starts)]
    return tuple(
        ChainReadings(run[first:last], elongation[first:last])
        for first, last in zip(starts, ends, strict=True)
    )


def _readings(hours: npt.ArrayLike, elongation_percent: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    run = number_list("hours", hours, most=LONGEST_HOURS)
    elongation = number_list(
        "elongation_percent", elongation_percent, least=LOWEST_PERCENT, most=HIGHEST_PERCENT
    )
    if run.size != elongation.size:
        raise ValueError(
            f"`elongation_percent` must be {run.size} numbers, one for each hour, not {elongation.size}."
        )
    back = np.flatnonzero(np.diff(run) < 0)
    if back.size:
        place = int(back[0]) + 1
        raise ValueError(
            f"`hours[{place}]` must not be below the hours before it: {run[place]:g} after {run[place - 1]:g}."
            " After a new meter add what the old one showed."
        )
    return run, elongation


def fit_wear_trend(chains: Sequence[ChainReadings], *, confidence: float = 0.95) -> WearTrend | None:
    """Slope of the readings of one chain, or of several chains of the same drive; readings of one chain only are compared.

    None where no chain has two readings at different hours, or all of them together fewer than three.

    >>> trend = fit_wear_trend(split_by_chain([0, 1000, 2000, 3000], [0.1, 0.5, 1.1, 1.6]))
    >>> round(trend.slope_percent_per_hour, 6), round(trend.reached, 3)
    (0.0005, 0.917)
    """
    share = fraction("confidence", confidence)
    compared = [chain for chain in chains if len(chain) > 1 and chain.hours[-1] > chain.hours[0]]
    readings = sum(len(chain) for chain in compared)
    if readings > MOST_READINGS:
        raise ValueError(f"`chains` must hold no more than {MOST_READINGS:,} readings, not {readings:,}.")
    if readings < FEWEST_READINGS:
        return None
    slopes = np.sort(np.concatenate([_slopes(chain) for chain in compared]))
    falling = falling_pairs(compared)
    low, high, reached = _ranks(slopes.size, compared, share, falling)
    followed = np.unique(np.linspace(1, slopes.size, MOST_FORECAST_POINTS).round().astype(int))[::-1]
    return WearTrend(
        slope_percent_per_hour=float(np.median(slopes)),
        slope_low=float(slopes[low]),
        slope_high=float(slopes[high]),
        readings=readings,
        chains=len(compared),
        confidence=share,
        reached=reached,
        slopes=slopes[followed - 1],
        steeper=_steeper(followed, slopes.size, compared, falling),
    )


def _steeper(
    ranks: IntArray, pairs: int, chains: Sequence[ChainReadings], falling: FloatArray | None
) -> FloatArray:
    """Chances that the true slope lies above the slopes of these ranks: that so many pairs fall short of it."""
    if falling is not None:
        at_least = np.append(np.cumsum(falling[::-1])[::-1], 0.0)
        return np.asarray(at_least[ranks])
    spread = math.sqrt(_variance_of_s(chains))
    # One pair moves S by 2: half of that for the continuity.
    return np.asarray(special.ndtr((pairs - 2 * ranks + 1) / spread)) if spread else np.zeros(ranks.size)


def _slopes(chain: ChainReadings) -> FloatArray:
    first, second = np.triu_indices(len(chain), 1)
    run = chain.hours[second] - chain.hours[first]
    apart = run > 0
    grown = chain.elongation_percent[second] - chain.elongation_percent[first]
    return np.asarray(grown[apart] / run[apart])


def _ties(values: FloatArray) -> IntArray:
    counts = np.unique(values, return_counts=True)[1].astype(np.int64)
    return np.asarray(counts[counts > 1])


def _variance_of_s(chains: Sequence[ChainReadings]) -> float:
    def term(size: int | IntArray) -> int:
        return int(np.sum(np.asarray(size) * (np.asarray(size) - 1) * (2 * np.asarray(size) + 5)))

    return (
        sum(
            term(len(chain)) - term(_ties(chain.hours)) - term(_ties(chain.elongation_percent))
            for chain in chains
        )
        / 18
    )


def falling_pairs(chains: Sequence[ChainReadings]) -> FloatArray | None:
    """Kendall: chances of 0, 1, 2, … falling pairs where nothing grows; None with ties or too many readings."""
    tied = any(_ties(chain.hours).size or _ties(chain.elongation_percent).size for chain in chains)
    if tied or sum(len(chain) for chain in chains) > MOST_READINGS_COUNTED:
        return None
    falling = np.ones(1)
    for chain in chains:
        for size in range(2, len(chain) + 1):
            falling = np.convolve(falling, np.full(size, 1 / size))
    return falling


def _ranks(
    pairs: int, chains: Sequence[ChainReadings], confidence: float, falling: FloatArray | None
) -> tuple[int, int, float]:
    """Places of the two bounds among the sorted slopes, and the confidence that they reach."""
    spread = math.sqrt(_variance_of_s(chains))
    reach = float(special.ndtri((1 + confidence) / 2)) * spread
    high = min(round((pairs + reach) / 2), pairs - 1)
    low = max(round((pairs - reach) / 2) - 1, 0)
    if falling is None:
        inside = float(special.erf((pairs - 2 * low) / (spread * math.sqrt(2)))) if spread > 0 else 0.0
        return low, high, min(inside, confidence)
    # The true slope lies below the r-th slope just where fewer than r pairs fall short of it (Sen 1968).
    missed = float(falling[: low + 1].sum() + falling[high + 1 :].sum())
    return low, high, min(max(1 - missed, 0.0), confidence)


def hours_to_limit(limit_percent: float, chain: ChainReadings, trend: WearTrend) -> HoursToLimit | None:
    """Hours from the last inspection of `chain` until it reaches an elongation, with the slope of `trend`.

    0 where the last reading or the trend has passed the limit; None where the chain does not grow. The bounds are those of
    the slope, each with its own intercept: they hold the scatter of the slope, not that of a single reading.

    >>> chain = split_by_chain([0, 1000, 2000], [0.0, 0.5, 1.0])[-1]
    >>> hours_to_limit(3.0, chain, fit_wear_trend([chain])).hours
    4000.0
    """
    limit = positive("limit_percent", limit_percent, most=HIGHEST_PERCENT)
    if not len(chain):
        raise ValueError("`chain` must hold one reading at least.")
    if chain.elongation_percent[-1] >= limit:
        return HoursToLimit(0.0, 0.0, 0.0, is_passed=True)
    if trend.slope_percent_per_hour <= 0:
        return None
    middle = _reached(limit, chain, trend.slope_percent_per_hour)
    first = _reached(limit, chain, trend.slope_high)
    last = _reached(limit, chain, trend.slope_low) if trend.slope_low > 0 else None
    return HoursToLimit(
        hours=middle,
        low=min(first, middle),
        high=None if last is None else max(last, middle),
        is_passed=middle == 0,
    )


def forecast_limit(limit_percent: float, chain: ChainReadings, trend: WearTrend) -> LimitForecast | None:
    """When the chain reaches an elongation, with its chances; None where no slope grows.

    >>> chain = split_by_chain([0, 1000, 2000, 3000], [0.0, 0.4, 1.1, 1.5])[-1]
    >>> hours, chance = forecast_limit(3.0, chain, fit_wear_trend([chain])).early(0.1)
    >>> round(hours), round(chance, 3)
    (2123, 0.1)
    """
    grows = trend.slopes > 0
    if not grows.any():
        return None
    hours = np.array([_reached(limit_percent, chain, slope) for slope in trend.slopes[grows].tolist()])
    return LimitForecast(np.maximum.accumulate(hours), trend.steeper[grows])


def _reached(limit: float, chain: ChainReadings, slope: float) -> float:
    intercept = float(np.median(chain.elongation_percent - slope * chain.hours))
    return max((limit - intercept) / slope - float(chain.hours[-1]), 0.0)


def median_interval_hours(chains: Iterable[ChainReadings]) -> float | None:
    """Median hours between two inspections of the same chain; None where no chain was inspected twice."""
    gaps = [gap for chain in chains for gap in np.diff(chain.hours).tolist() if gap > 0]
    return float(np.median(gaps)) if gaps else None
