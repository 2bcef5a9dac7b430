"""What holding one part under several numbers takes: a stock for the demand of each, against one stock for all of it.

Demand comes at a constant rate, ordered one for one, and its pieces over a lead time X are negative binomial by their moments:
Poisson where every demand is for one piece and the lead time is fixed. The fill rate of a base stock S is then P(X <= S-1), exact
for single pieces and an approximation where a demand takes several. Sources: Sherbrooke, Optimal Inventory Modeling of Systems,
2nd ed. 2004, chapter 2; moments of a compound Poisson demand over a random time: Axsäter, Inventory Control, 2nd ed. 2006,
chapter 5.
"""

from dataclasses import dataclass

import numpy as np

from inventory.array_checks import FloatArray, IntArray, not_negative_array
from inventory.number_checks import fraction
from inventory.stocking.base_stock import negative_binomial_base_stock
from inventory.stocking.demand_models import DAYS_PER_YEAR


@dataclass(frozen=True, eq=False)
class NumbersHeld:
    """One entry for each number in a storeroom; `pool` gives it its pool, 0, 1, …

    `squares_per_year` sums the squared sizes of the demands of a year: equal to the rate where each is for one piece.
    `least` is kept whatever the demand is.
    """

    pool: IntArray
    rate_per_year: FloatArray
    squares_per_year: FloatArray
    lead_time_days: FloatArray
    lead_time_sd_days: FloatArray
    least: IntArray


@dataclass(frozen=True, eq=False)
class HeldApart:
    """`apart` has the pieces to keep of each number, `together` those of each pool."""

    apart: IntArray
    together: IntArray


def held_apart(held: NumbersHeld, *, fill_rate: float) -> HeldApart:
    """Pieces to keep at a fill rate, number by number and as one. A pool waits as long as the slowest of its numbers.

    >>> held = NumbersHeld(np.array([0, 0]), np.array([4.0, 4.0]), np.array([4.0, 4.0]), np.array([60.0, 60.0]), np.zeros(2),
    ...                    np.zeros(2, dtype=int))
    >>> found = held_apart(held, fill_rate=0.95)
    >>> found.apart.tolist(), found.together.tolist()
    ([3, 3], [4])
    """
    level = fraction("fill_rate", fill_rate)
    rates = not_negative_array("rate_per_year", held.rate_per_year)
    squares = not_negative_array("squares_per_year", held.squares_per_year)
    days = not_negative_array("lead_time_days", held.lead_time_days)
    spread = not_negative_array("lead_time_sd_days", held.lead_time_sd_days)
    pools, pool = (int(held.pool.max()) + 1 if len(held.pool) else 0), held.pool

    def summed(values: FloatArray) -> FloatArray:
        return np.bincount(pool, weights=values, minlength=pools).astype(np.float64)

    def greatest(values: FloatArray) -> FloatArray:
        found = np.zeros(pools)
        np.maximum.at(found, pool, values)
        return found

    together = _base_stock(summed(rates), summed(squares), greatest(days), greatest(spread), level)
    return HeldApart(
        np.maximum(_base_stock(rates, squares, days, spread, level), held.least),
        np.maximum(together, greatest(held.least.astype(np.float64)).astype(np.int64)),
    )


def _base_stock(
    rates: FloatArray, squares: FloatArray, days: FloatArray, spread: FloatArray, level: float
) -> IntArray:
    """None where nothing is needed."""
    mean = rates / DAYS_PER_YEAR * days
    variance = squares / DAYS_PER_YEAR * days + (rates / DAYS_PER_YEAR * spread) ** 2
    return np.where(rates > 0, negative_binomial_base_stock(mean, variance, level) + 1, 0)
