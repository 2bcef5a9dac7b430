"""Where the density of a record jumps: few records, then many of them, or the other way round.

Given the first record and the end, the other records of a constant rate lie anywhere in between with equal chance. So the chance
of so few on one side of a record is binomial; every record is tried, so the smallest chance is multiplied by their number
(Bonferroni). Source: Cox and Lewis, The Statistical Analysis of Series of Events, 1966, ch. 3 (from memory).
"""

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from scipy import special

from drives.reliability.lifetimes import LONGEST_HOURS
from inventory.array_checks import FloatArray, number_list
from inventory.number_checks import fraction, positive

FEWEST_LATER = 3
"""Records that show a rise, judgement: one that came just before the end, where most questions are asked, is none."""


@dataclass(frozen=True, slots=True)
class DensityJump:
    """`first` is the place of the first record of the later density; of a fall it may be the number of records."""

    first: int
    earlier_records: int
    earlier_span: float
    later_records: int
    later_span: float
    chance: float

    @property
    def is_rise(self) -> bool:
        return self.later_records * self.earlier_span > self.earlier_records * self.later_span


def density_jump(
    moments: npt.ArrayLike, *, end: float, factor: float = 3.0, chance: float = 0.01
) -> DensityJump | None:
    """The least likely jump by `factor` or more, where even that is less likely than `chance` at a constant rate.

    `moments` rise strictly and lie before `end`; the unit of time is free.

    >>> density_jump([0, 19, 19.2, 19.4, 19.6, 19.8], end=20).first
    1
    """
    times = number_list("moments", moments, most=LONGEST_HOURS)
    least, limit = positive("factor", factor), fraction("chance", chance)
    if times.size < 2 or times[-1] >= end:
        return None
    found = [*_rises(times, end, least), *_falls(times, end, least)]
    best = min(found, key=lambda one: one.chance, default=None)
    return best if best is not None and best.chance * times.size <= limit else None


def last_rise(moments: npt.ArrayLike, *, end: float, factor: float = 3.0, chance: float = 0.01) -> int:
    """The place of the record from which the density rises no more; 0 where it never did.

    >>> last_rise([0, 19, 19.2, 19.4, 19.6, 19.8], end=20)
    1
    """
    times, first = number_list("moments", moments, most=LONGEST_HOURS), 0
    while times.size - first >= 2:
        found = _rises(times[first:], end, factor)
        best = min(found, key=lambda one: one.chance, default=None)
        if best is None or best.chance * (times.size - first) > chance:
            break
        first += best.first
    return first


def _rises(times: FloatArray, end: float, factor: float) -> list[DensityJump]:
    """For each record but the first that has enough from it on: were the ones before it too few?"""
    place = np.arange(1, max(1, times.size - FEWEST_LATER + 1))
    before, after = times[place] - times[0], end - times[place]
    # Fewer than `place` others by the time that this one came.
    chances = special.bdtr(place - 1, times.size - 1, before / (end - times[0]))
    rates = (times.size - place) / after, place / before
    return [
        DensityJump(
            first=int(k),
            earlier_records=int(k),
            earlier_span=float(before[k - 1]),
            later_records=int(times.size - k),
            later_span=float(after[k - 1]),
            chance=float(chances[k - 1]),
        )
        for k in place[rates[0] >= factor * rates[1]]
    ]


def _falls(times: FloatArray, end: float, factor: float) -> list[DensityJump]:
    """For each record but the first: are the ones after it too few?"""
    place = np.arange(1, times.size)
    before, after = times[1:] - times[0], end - times[1:]
    left = times.size - 1 - place
    chances = special.bdtr(left, times.size - 1, after / (end - times[0]))
    is_lower = (place + 1) / before >= factor * left / after
    return [
        DensityJump(
            first=int(k) + 1,
            earlier_records=int(k) + 1,
            earlier_span=float(before[k - 1]),
            later_records=int(left[k - 1]),
            later_span=float(after[k - 1]),
            chance=float(chances[k - 1]),
        )
        for k in place[is_lower]
    ]
