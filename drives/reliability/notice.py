"""Wear seen coming: a robust line through the readings of a chain, and the hours left to its limit."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lives import LONGEST_HOURS
from inventory.array_checks import FloatArray, IntArray, number_list
from inventory.number_checks import fraction, positive

FEWEST_READINGS = 3
"""Two readings always lie on a line; only the third can contradict it."""

RENEWAL_DROP_PERCENT = 0.3
"""A chain does not grow shorter. A new one may differ by 0.15 % from its nominal length (ISO 606), a reading by about as
much: a fall beyond both is another chain. Judgement of this project."""

MOST_READINGS = 2_000
"""All pairs of them are looked at."""

LOWEST_PERCENT, HIGHEST_PERCENT = -1.0, 20.0


@dataclass(frozen=True, eq=False)
class ChainLife:
    """The readings of one chain: running hours and elongation in percent, in the order of the looks."""

    hours: FloatArray
    elongation_percent: FloatArray

    def __len__(self) -> int:
        return int(self.hours.size)


@dataclass(frozen=True)
class WearLine:
    """Elongation against running hours. `confidence` is what the interval of the slope was asked to reach,
    `reached` what so few readings can carry; both bounds are slopes between two readings."""

    slope_percent_per_hour: float
    slope_low: float
    slope_high: float
    tau: float
    p_value: float
    readings: int
    lives: int
    confidence: float
    reached: float


@dataclass(frozen=True)
class HoursLeft:
    """Hours from the last look to the limit; `high` is None where the slope may as well be none."""

    hours: float
    low: float
    high: float | None
    is_passed: bool


def chain_lives(
    hours: npt.ArrayLike,
    elongation_percent: npt.ArrayLike,
    *,
    renewed_before: Iterable[int] = (),
    drop_percent: float = RENEWAL_DROP_PERCENT,
) -> tuple[ChainLife, ...]:
    """The readings of a drive, split where another chain begins.

    Parameters
    ----------
    hours : array_like of float
        Running hours of the drive at each look [h], 0 to 1e7, never falling.
    elongation_percent : array_like of float
        Elongation of the chain [%], -1 to 20.
    renewed_before : iterable of int
        Places of the readings that were the first of a new chain, where that is recorded.
    drop_percent : float
        Fall below the largest reading of a chain [%] that can only be another chain, above 0.

    Returns
    -------
    tuple of ChainLife
        In the order of the looks; the last one is the chain that runs now.

    Raises
    ------
    ValueError
        If sizes differ, a value is out of range, or the hours run backwards, as after a new meter.

    Source
    ------
    Own rule: see `RENEWAL_DROP_PERCENT`.

    Examples
    --------
    >>> [len(life) for life in chain_lives([0, 900, 2000, 2100, 3000], [0.1, 1.2, 2.7, 0.1, 1.0])]
    [3, 2]
    """
    run, seen = _readings(hours, elongation_percent)
    drop = positive("drop_percent", drop_percent)
    marked = {int(place) for place in renewed_before}
    starts: list[int] = []
    longest = -math.inf
    for place, value in enumerate(seen.tolist()):
        if not starts or place in marked or value < longest - drop:
            starts.append(place)
            longest = value
        longest = max(longest, value)
    ends = [*starts[1:], run.size][: len(starts)]
    return tuple(
        ChainLife(run[first:last], seen[first:last]) for first, last in zip(starts, ends, strict=True)
    )


def _readings(hours: npt.ArrayLike, elongation_percent: npt.ArrayLike) -> tuple[FloatArray, FloatArray]:
    run = number_list("hours", hours, most=LONGEST_HOURS)
    seen = number_list("elongation_percent", elongation_percent, least=LOWEST_PERCENT, most=HIGHEST_PERCENT)
    if run.size != seen.size:
        raise ValueError(
            f"`elongation_percent` must be {run.size} numbers, one for each hour, not {seen.size}."
        )
    back = np.flatnonzero(np.diff(run) < 0)
    if back.size:
        place = int(back[0]) + 1
        raise ValueError(
            f"`hours[{place}]` must not be below the hours before it: {run[place]:g} after {run[place - 1]:g}."
            " After a new meter add what the old one showed."
        )
    return run, seen


def wear_line(lives: Sequence[ChainLife], *, confidence: float = 0.95) -> WearLine | None:
    """The slope that readings of one chain, or of several chains of the same drive, agree on.

    Parameters
    ----------
    lives : sequence of ChainLife
        Only readings of the same chain are compared with each other.
    confidence : float
        Of the interval of the slope [-], between 0 and 1.

    Returns
    -------
    WearLine or None
        None where no chain has two readings at different hours, or all of them together fewer than three readings
        that can be compared.

    Raises
    ------
    ValueError
        If the confidence is out of range or there are more than 2,000 readings.

    Source
    ------
    Theil 1950 and Sen, Journal of the American Statistical Association 63, 1968: median of the slopes of all pairs,
    interval by the rank of Kendall's S (from memory, held to another program in the tests). Several chains:
    Hirsch, Slack and Smith, Water Resources Research 18, 1982, who do so by season: pairs within a season alone, the
    variances of S added up (from memory).

    Examples
    --------
    >>> line = wear_line(chain_lives([0, 1000, 2000, 3000], [0.1, 0.5, 1.1, 1.6]))
    >>> round(line.slope_percent_per_hour, 6), line.tau
    (0.0005, 1.0)
    """
    share = fraction("confidence", confidence)
    compared = [life for life in lives if len(life) > 1 and life.hours[-1] > life.hours[0]]
    readings = sum(len(life) for life in compared)
    if readings > MOST_READINGS:
        raise ValueError(f"`lives` must hold no more than {MOST_READINGS:,} readings, not {readings:,}.")
    if readings < FEWEST_READINGS:
        return None
    slopes = np.sort(np.concatenate([_slopes(life) for life in compared]))
    law = _law_of_s(compared)
    low, high, reached = _ranks(slopes.size, compared, share, law)
    score = int(np.sum(np.sign(slopes)))
    return WearLine(
        slope_percent_per_hour=float(np.median(slopes)),
        slope_low=float(slopes[low]),
        slope_high=float(slopes[high]),
        tau=_tau(compared, score),
        p_value=_p_value(compared, score, law),
        readings=readings,
        lives=len(compared),
        confidence=share,
        reached=reached,
    )


def _slopes(life: ChainLife) -> FloatArray:
    first, second = np.triu_indices(len(life), 1)
    run = life.hours[second] - life.hours[first]
    apart = run > 0
    grown = life.elongation_percent[second] - life.elongation_percent[first]
    return np.asarray(grown[apart] / run[apart])


def _ties(values: FloatArray) -> IntArray:
    counts = np.unique(values, return_counts=True)[1].astype(np.int64)
    return np.asarray(counts[counts > 1])


def _variance_of_s(lives: Sequence[ChainLife]) -> float:
    def term(size: int | IntArray) -> int:
        return int(np.sum(np.asarray(size) * (np.asarray(size) - 1) * (2 * np.asarray(size) + 5)))

    return sum(
        term(len(life)) - term(_ties(life.hours)) - term(_ties(life.elongation_percent)) for life in lives
    ) / float(18)


def _law_of_s(lives: Sequence[ChainLife]) -> FloatArray | None:
    """Chances of 0, 1, 2, … pairs that fall where nothing grows; None with ties or beyond 60 readings."""
    tied = any(_ties(life.hours).size or _ties(life.elongation_percent).size for life in lives)
    if tied or sum(len(life) for life in lives) > 60:
        return None
    law = np.ones(1)
    for life in lives:
        for size in range(2, len(life) + 1):
            law = np.convolve(law, np.full(size, 1 / size))
    return law


def _ranks(
    pairs: int, lives: Sequence[ChainLife], confidence: float, law: FloatArray | None
) -> tuple[int, int, float]:
    """Places of the two bounds among the sorted slopes, and the confidence that they reach."""
    spread = math.sqrt(_variance_of_s(lives))
    reach = float(special.ndtri((1 + confidence) / 2)) * spread
    high = min(round((pairs + reach) / 2), pairs - 1)
    low = max(round((pairs - reach) / 2) - 1, 0)
    if law is None:
        inside = float(special.erf((pairs - 2 * low) / (spread * math.sqrt(2)))) if spread > 0 else 0.0
        return low, high, min(inside, confidence)
    # The true slope lies below the r-th slope just where fewer than r pairs fall short of it (Sen 1968).
    missed = float(law[: low + 1].sum() + law[high + 1 :].sum())
    return low, high, min(max(1 - missed, 0.0), confidence)


def _tau(lives: Sequence[ChainLife], score: int) -> float:
    """Kendall's tau-b: pairs that rise less pairs that fall, over what ties leave."""

    def pairs(counts: IntArray | int) -> int:
        return int(np.sum(np.asarray(counts) * (np.asarray(counts) - 1)) // 2)

    all_pairs = sum(pairs(len(life)) for life in lives)
    apart_in_hours = all_pairs - sum(pairs(_ties(life.hours)) for life in lives)
    apart_in_wear = all_pairs - sum(pairs(_ties(life.elongation_percent)) for life in lives)
    room = math.sqrt(apart_in_hours * apart_in_wear)
    return round(score / room, 12) if room else 0.0


def _p_value(lives: Sequence[ChainLife], score: int, law: FloatArray | None) -> float:
    """Two-sided chance of so much order where nothing grows: exact, with ties by the normal law."""
    if law is not None:
        falling = (law.size - 1 - abs(score)) // 2
        return float(min(1.0, 2 * law[: falling + 1].sum()))
    spread = math.sqrt(_variance_of_s(lives))
    return float(special.erfc(abs(score) / (spread * math.sqrt(2)))) if spread > 0 else 1.0


def hours_to(limit_percent: float, life: ChainLife, line: WearLine) -> HoursLeft | None:
    """Hours from the last look at a chain until it reaches an elongation.

    Parameters
    ----------
    limit_percent : float
        Elongation [%], above 0 to 20.
    life : ChainLife
        The chain that runs now, one reading at least; the line is laid through the median of its readings.
    line : WearLine
        Its slope, from its own readings or from the chains before it.

    Returns
    -------
    HoursLeft or None
        0 hours where the line has passed the limit at the last look, or the last reading has; None where the chain does not
        grow.

    Raises
    ------
    ValueError
        If the limit is out of range or the life has no reading.

    Source
    ------
    Median intercept: Conover, Practical Nonparametric Statistics, sec. 5.5 (from memory). The bounds are those of the
    slope, each with its own intercept; they hold the scatter of the slope, not that of a single reading.

    Examples
    --------
    >>> life = chain_lives([0, 1000, 2000], [0.0, 0.5, 1.0])[-1]
    >>> hours_to(3.0, life, wear_line([life])).hours
    4000.0
    """
    limit = positive("limit_percent", limit_percent, most=HIGHEST_PERCENT)
    if not len(life):
        raise ValueError("`life` must hold one reading at least.")
    if life.elongation_percent[-1] >= limit:
        return HoursLeft(0.0, 0.0, 0.0, is_passed=True)
    if line.slope_percent_per_hour <= 0:
        return None
    middle = _reached(limit, life, line.slope_percent_per_hour)
    first = _reached(limit, life, line.slope_high)
    last = _reached(limit, life, line.slope_low) if line.slope_low > 0 else None
    return HoursLeft(
        hours=middle,
        low=min(first, middle),
        high=None if last is None else max(last, middle),
        is_passed=middle == 0,
    )


def _reached(limit: float, life: ChainLife, slope: float) -> float:
    intercept = float(np.median(life.elongation_percent - slope * life.hours))
    return max((limit - intercept) / slope - float(life.hours[-1]), 0.0)


def median_gap(lives: Iterable[ChainLife]) -> float | None:
    """Hours between two looks at the same chain.

    Parameters
    ----------
    lives : iterable of ChainLife
        The look at the old chain and the reading of the new one are no gap.

    Returns
    -------
    float or None
        Median [h]; None where no chain was looked at twice.

    Raises
    ------
    ValueError
        Never.

    Source
    ------
    Definition.

    Examples
    --------
    >>> median_gap(chain_lives([0, 900, 2000, 2100, 3000], [0.1, 1.2, 2.7, 0.1, 1.0]))
    900.0
    """
    gaps = [gap for life in lives for gap in np.diff(life.hours).tolist() if gap > 0]
    return float(np.median(gaps)) if gaps else None
