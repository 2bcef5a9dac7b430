"""Other ways to the numbers of renewals, against which the forecast is held."""

from collections.abc import Callable, Sequence

import numpy as np

from drives.reliability.count_distribution import CountDistribution, add_up
from drives.reliability.renewal_process import cumulative_hazard, renewal_table


def expected_renewals(times: Sequence[float] | np.ndarray, *, shape: float, scale: float = 1.0) -> np.ndarray:
    """M(t) of a new part by the panels of the forecast."""
    reaches = np.asarray(times, dtype=float) / scale
    return renewal_table(shape, float(reaches.max())).expected(reaches)


def expected_renewals_by_steps(
    distribution: Callable[[np.ndarray], np.ndarray], *, until: float, steps: int = 2000
) -> np.ndarray:
    """M at 0, h, 2h, … `until` for any distribution of lifetimes.

    Riemann-Stieltjes method, Xie, Communications in Statistics: Simulation and Computation 18, 1989, on two grids, the error
    of second order cancelled (Richardson).
    """
    coarse = riemann_stieltjes(distribution, until, steps)
    fine = riemann_stieltjes(distribution, until, 2 * steps)[::2]
    return (4 * fine - coarse) / 3


def riemann_stieltjes(
    distribution: Callable[[np.ndarray], np.ndarray], until: float, steps: int
) -> np.ndarray:
    width = until / steps
    times = width * np.arange(steps + 1)
    whole, middle = distribution(times), distribution(times[1:] - width / 2)
    result, rises = np.zeros(steps + 1), np.zeros(steps)
    for place in range(1, steps + 1):
        before = np.dot(middle[1:place][::-1], rises[: place - 1])
        result[place] = (whole[place] + before - middle[0] * result[place - 1]) / (1 - middle[0])
        rises[place - 1] = result[place] - result[place - 1]
    return result


def first_failures(
    ages: Sequence[float], *, horizon: float, shape: float, scale: float = 1.0, units: Sequence[int] = ()
) -> CountDistribution:
    """How many of the units fail within a horizon, none renewed: Meeker and Escobar 1998, sec. 12.6."""
    hazard = cumulative_hazard(np.asarray(ages, dtype=float) / scale, horizon / scale, shape=shape)
    chances = -np.expm1(-hazard)
    many = np.array(units if len(units) else np.ones(chances.size), dtype=np.int64)
    return add_up(np.column_stack((1 - chances, chances)), units=many)


def variance(counts: CountDistribution) -> float:
    count = np.arange(counts.chances.size)
    return float(np.dot(counts.chances, (count - counts.mean) ** 2))


def quantile(counts: CountDistribution, share: float) -> int:
    return int(np.searchsorted(np.cumsum(counts.chances), share - 1e-12))
