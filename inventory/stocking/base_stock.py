"""Smallest base stock S with P(X <= S) >= level, X the demand over a lead time, for millions of items at once.

That is the share of time without a waiting demand (no backorder); the fill rate of single pieces, P(X <= S-1), takes one more.
Sources: Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed. 2004, chapters 2 and 6.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from scipy import special

from inventory.array_checks import FloatArray, IntArray

ITEMS_AT_ONCE = 16384
"""Items per pass, so that the working rows stay in the processor's cache."""

LARGEST_CLIMB = 200.0
"""Mean demand up to which counting up from zero is quicker than halving an interval."""

CLOSE_CALL = 1e-12
"""A summed chance this close to its target is looked at again with the special function."""

MOST_CLIMBED = 4096
"""Steps counted up at most; what is left then has a tail so long that halving is quicker."""

PACKED_BELOW = 0.4
"""Share of rows still short below which packing costs less than carrying the others along."""

LEAST_OVERDISPERSION = 1e-9
"""A variance above the mean by less than this share of it is the rounding of equal moments: Poisson."""

STEP_SLACK = 1e-9
"""A mean this close (relative) to a step of the base stock is looked at again with the special function."""

Chance = Callable[[FloatArray, FloatArray, FloatArray], FloatArray]


def poisson_base_stock(mean: FloatArray, level: FloatArray | float) -> IntArray:
    """The level is one for all or one per item, in (0, 1)."""
    if isinstance(level, float) and mean.size and mean.max() <= min(mean.size, LARGEST_CLIMB * 10):
        return _look_up(mean, level)
    return _search(np.ones_like(mean), mean, mean, np.broadcast_to(level, mean.shape), _poisson_chance)


def negative_binomial_base_stock(
    mean: FloatArray, variance: FloatArray, level: FloatArray | float
) -> IntArray:
    """By the moments of the demand; Poisson where the variance is not above the mean."""
    levels = np.broadcast_to(level, mean.shape)
    stock = np.empty(mean.shape, dtype=np.int64)
    over = (variance > mean * (1 + LEAST_OVERDISPERSION)) & (mean > 0)
    even = ~over
    stock[even] = _search(np.ones(even.sum()), mean[even], mean[even], levels[even], _poisson_chance)
    middle, excess = mean[over], (variance - mean)[over]
    stock[over] = _search(middle**2 / excess, excess / middle, middle, levels[over], _nb_chance)
    return stock


def _poisson_chance(pieces: FloatArray, _: FloatArray, mean: FloatArray) -> FloatArray:
    return np.asarray(special.pdtr(pieces, mean))


def _nb_chance(pieces: FloatArray, size: FloatArray, odds: FloatArray) -> FloatArray:
    return np.asarray(special.betaincc(pieces + 1, size, odds / (1 + odds)))


def _look_up(mean: FloatArray, level: float) -> IntArray:
    """With one level for all, the base stock is a step function of the mean: its steps are found once."""
    highest = float(mean.max())
    last = int(
        _halve(np.ones(1), np.array([highest]), np.array([highest]), np.array([level]), _poisson_chance)[0]
    )
    steps = np.asarray(special.pdtri(np.arange(last + 1), level))
    stock = np.minimum(np.searchsorted(steps, mean), last).astype(np.int64)
    below = np.where(stock > 0, steps[np.maximum(stock - 1, 0)], -np.inf)
    reach = np.maximum(mean, 1) * STEP_SLACK
    close = np.flatnonzero((steps[stock] - mean < reach) | (mean - below < reach))
    start = np.maximum(stock[close] - 1, 0)
    stock[close] = _settle(start, mean[close], mean[close], np.full(len(close), level), _poisson_chance)
    return stock


def _search(
    first: FloatArray, second: FloatArray, mean: FloatArray, level: FloatArray, chance: Chance
) -> IntArray:
    """Smallest x whose chance reaches the level: few are counted up from zero, many found by halving.

    `first` and `second` are size and (1-p)/p of the negative binomial, or 1 and the Poisson mean.
    """
    is_poisson = chance is _poisson_chance
    none = np.exp(-mean) if is_poisson else np.exp(-first * np.log1p(second))
    climbed = (mean <= LARGEST_CLIMB) & (none > np.finfo(np.float64).tiny)
    stock = np.full(mean.shape, -1, dtype=np.int64)
    rows = np.flatnonzero(climbed)
    for start in range(0, len(rows), ITEMS_AT_ONCE):
        part = rows[start : start + ITEMS_AT_ONCE]
        # The chance of x is that of x-1 times (base/x + slope): Panjer's class.
        slope = None if is_poisson else second[part] / (1 + second[part])
        base = mean[part] if slope is None else (first[part] - 1) * slope
        stock[part], close = _climb(none[part], base, slope, level[part])
        settle = part[close]
        stock[settle] = _settle(stock[settle], first[settle], second[settle], level[settle], chance)
    rest = stock < 0
    stock[rest] = _halve(first[rest], second[rest], mean[rest], level[rest], chance)
    return stock


def _climb(
    none: FloatArray, base: FloatArray, slope: FloatArray | None, level: FloatArray
) -> tuple[IntArray, NDArray[np.bool_]]:
    """Counts up; once enough rows have arrived the others are packed together.

    Gives the first x within `CLOSE_CALL` of the level (-1 if too far), and which of them are that close.
    """
    stock, close = np.full(len(none), -1, dtype=np.int64), np.zeros(len(none), dtype=np.bool_)
    place, term, total = np.arange(len(none)), none.copy(), none.copy()
    reached, passed = np.zeros(len(none), dtype=np.int16), np.zeros(len(none), dtype=np.int16)
    low, high = level - CLOSE_CALL, level + CLOSE_CALL
    for pieces in range(MOST_CLIMBED):
        short = total < high
        passed += short
        reached += total < low
        left = np.count_nonzero(short)
        if left < PACKED_BELOW * len(place):
            there = ~short
            stock[place[there]], close[place[there]] = reached[there], reached[there] != passed[there]
            if not left:
                break
            place, reached, passed = place[short], reached[short], passed[short]
            base, term, total, low, high = (row[short] for row in (base, term, total, low, high))
            slope = None if slope is None else slope[short]
        factor = base * (1.0 / (pieces + 1))
        if slope is not None:
            factor += slope
        term *= factor
        total += term
    return stock, close


def _settle(
    stock: IntArray, first: FloatArray, second: FloatArray, level: FloatArray, chance: Chance
) -> IntArray:
    """The close calls again, by the special function."""
    pieces = stock.astype(np.float64)
    while True:
        short = chance(pieces, first, second) < level
        if not short.any():
            return pieces.astype(np.int64)
        pieces += short


def _halve(
    first: FloatArray, second: FloatArray, mean: FloatArray, level: FloatArray, chance: Chance
) -> IntArray:
    low, high = np.full(mean.shape, -1.0), np.ceil(mean) + 8.0
    short = chance(high, first, second) < level
    while short.any():
        low, high = np.where(short, high, low), np.where(short, 2 * high, high)
        short = chance(high, first, second) < level
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        short = chance(middle, first, second) < level
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    return high.astype(np.int64)
