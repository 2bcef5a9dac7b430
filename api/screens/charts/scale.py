"""Scales of an axis and their ticks at round numbers.

Source: P. S. Heckbert, "Nice Numbers for Graph Labels", in Graphics Gems, Academic Press 1990: ticks at 1, 2 or 5 times a
power of ten, the ends of the axis at the ticks around the data.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from math import ceil, floor, log10

MOST_TICKS = 5
"""As many as are aimed at; there may be one or two more."""

TENFOLD_FROM = 50.0
"""Values that are further apart than this are drawn with each tick ten times the one below."""
MOST_DECADES = 6
LEAST_SHOWN = 1.0
MOST_DATES = 7
STEPS_OF_MONTHS = (1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200)


@dataclass(frozen=True)
class Scale:
    """Values as a share of an axis."""

    low: float
    high: float
    ticks: tuple[float, ...]
    is_tenfold: bool = False

    def share(self, value: float) -> float:
        """What lies beyond an end is drawn at the end."""
        if self.is_tenfold:
            share = log10(max(value, self.low) / self.low) / log10(self.high / self.low)
        else:
            share = (value - self.low) / (self.high - self.low)
        return min(max(share, 0.0), 1.0)


def nice_number(value: float, *, is_rounded: bool) -> float:
    """1, 2, 5 or 10 times a power of ten: the nearest one, or the next one up."""
    power = 10.0 ** floor(log10(value))
    share = value / power
    if is_rounded:
        return power * (1 if share < 1.5 else 2 if share < 3 else 5 if share < 7 else 10)
    return power * (1 if share <= 1 else 2 if share <= 2 else 5 if share <= 5 else 10)


def round_scale(high: float, low: float = 0.0, *, is_whole: bool = False, most: int = MOST_TICKS) -> Scale:
    """From the tick below `low` to the tick above `high`; of whole things no tick is a fraction."""
    if high <= low:
        high = low + 1.0
    step = nice_number(nice_number(high - low, is_rounded=False) / (most - 1), is_rounded=True)
    if is_whole:
        step = max(step, 1.0)
    first, last = floor(low / step + 1e-9), ceil(high / step - 1e-9)
    ticks = tuple(float(f"{step * place:.12g}") for place in range(first, last + 1))
    return Scale(ticks[0], ticks[-1], ticks)


def money_scale(values: Iterable[float]) -> Scale:
    """From 0 in equal steps, or tenfold where the values are too far apart for that."""
    shown = [max(value, LEAST_SHOWN) for value in values]
    high, low = max(shown), min(shown)
    if high / low < TENFOLD_FROM:
        return round_scale(high)
    top = ceil(log10(high))
    bottom = max(floor(log10(low)), top - MOST_DECADES)
    return Scale(10.0**bottom, 10.0**top, tuple(10.0**power for power in range(bottom, top + 1)), True)


def slots(count: int) -> Scale:
    """Bars side by side: the middle of the first lies at 0."""
    return Scale(-0.5, count - 0.5, tuple(float(place) for place in range(count)))


def calendar_scale(first: date, last: date) -> Scale:
    """In days of the calendar, with ticks at the first of a month or of a year."""
    months = 12 * (last.year - first.year) + last.month - first.month + 1
    step = next((size for size in STEPS_OF_MONTHS if months <= size * MOST_DATES), STEPS_OF_MONTHS[-1])
    begin = (12 * first.year + first.month - 1) // step
    end = -(-(12 * last.year + last.month) // step)
    ticks = tuple(float(_month(place * step).toordinal()) for place in range(begin, end + 1))
    return Scale(ticks[0], ticks[-1], ticks)


def _month(number: int) -> date:
    return date(number // 12, number % 12 + 1, 1)
