"""Demand over a lead time: the chances of 0, 1, 2, … pieces, cut off where almost nothing is left."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import lru_cache, reduce

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray, not_negative_array

TAIL_MASS = 1e-12
"""Chance of the demands left out at the upper end of a distribution: far below any service that is promised."""

MOST_PIECES = 1_000_000
"""Longest distribution that is written out, 8 MB; more is refused rather than answered slowly."""

SERVICE_SLACK = 1e-12
"""Relative rounding that a sum of chances may show against the miss that its target allows."""

MANY_JOBS = 200
"""Jobs seen from which the shares of their sizes count as known: a sum's spread then grows by less than a per cent a job."""

MOST_JOBS_FOLLOWED = 200
"""Jobs in a lead time up to which their sizes are followed one by one."""

SUM_SLACK = 1e-6
"""How far from 1 the chances given from outside may add up; they are not scaled."""


class DistributionTooLongError(ValueError):
    """A distribution would pass `MOST_PIECES`; the caller names the field that makes it so."""


@dataclass(frozen=True, slots=True, eq=False)
class LeadTimeDemand:
    """`pmf[x]` is the chance of x pieces; `mean` and `variance` are those of the whole distribution.

    `pmf` leaves out at most `tail_mass` at its upper end and is not scaled up for it.
    """

    pmf: FloatArray
    mean: float
    variance: float
    tail_mass: float = TAIL_MASS
    _above: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        # Summed from the far end, small chances keep their digits.
        above = np.minimum(np.append(np.cumsum(self.pmf[::-1])[::-1][1:], 0.0), 1.0)
        self.pmf.flags.writeable = above.flags.writeable = False
        object.__setattr__(self, "_above", above)

    def __len__(self) -> int:
        return len(self.pmf)

    def chance_above(self, pieces: int) -> float:
        """P(demand > pieces)."""
        if pieces < 0:
            return 1.0
        return float(self._above[pieces]) if pieces < len(self.pmf) else 0.0

    def chance_within(self, pieces: int) -> float:
        """P(demand <= pieces)."""
        return max(0.0, 1.0 - self.chance_above(pieces)) if pieces >= 0 else 0.0

    def chances_within(self) -> FloatArray:
        """P(demand <= x) for x = 0, 1, … to the end of the distribution."""
        return np.maximum(1.0 - self._above, 0.0)

    def chances_above(self, most: int) -> FloatArray:
        """P(demand > x) for x = 0 to `most`."""
        values = np.zeros(most + 1)
        shown = min(most + 1, len(self.pmf))
        values[:shown] = self._above[:shown]
        return values

    def expected_above(self, pieces: int) -> float:
        """E(demand - pieces)+ for 0 or more pieces: the expected backorders of that base stock."""
        return self.mean if pieces == 0 else float(self._above[pieces:].sum())

    def expected_above_each(self, most: int) -> FloatArray:
        """E(demand - x)+ for x = 0 to `most`."""
        tail = np.cumsum(self._above[::-1])[::-1]
        values = np.zeros(most + 1)
        shown = min(most + 1, len(tail))
        values[:shown] = tail[:shown]
        values[0] = self.mean
        return values

    def smallest_within(self, chance: float) -> int:
        """Smallest x with P(demand <= x) >= chance."""
        return int(np.argmax(self._above <= allowed_above(chance)))


def allowed_above(target: float) -> float:
    """Largest P(demand > x) that still reaches a service target: its miss and what rounding may add."""
    return (1.0 - target) * (1.0 + SERVICE_SLACK) + float(np.finfo(np.float64).eps)


def poisson(mean: float, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """Single pieces at a constant rate over a fixed lead time.

    Source: Palm 1938; Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed. 2004, chapter 2.
    """
    last = last_piece(lambda x: np.asarray(special.pdtrc(x, mean)), mean, mean, tail_mass)
    pieces = np.arange(last + 1.0)
    pmf = np.exp(special.xlogy(pieces, mean) - mean - special.gammaln(pieces + 1))
    return LeadTimeDemand(pmf, mean, mean, tail_mass)


def negative_binomial(mean: float, variance: float, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """By its moments, p = mean/variance and r = mean^2/(variance - mean); Poisson where the variance is not above the mean.

    Source: Johnson, Kemp & Kotz, Univariate Discrete Distributions, chapter 5.

    >>> negative_binomial(3.0, 5.25).smallest_within(0.95)
    7
    """
    if mean == 0 or variance <= mean:
        return poisson(mean, tail_mass=tail_mass)
    return negative_binomial_of_size(mean**2 / (variance - mean), (variance - mean) / mean, tail_mass)


def negative_binomial_of_size(size: float, odds: float, tail_mass: float) -> LeadTimeDemand:
    """Negative binomial with r = size and p = 1/(1 + odds)."""
    mean, variance = size * odds, size * odds * (1 + odds)
    fail = odds / (1 + odds)
    last = last_piece(lambda x: np.asarray(special.betainc(x + 1, size, fail)), mean, variance, tail_mass)
    pieces = np.arange(1.0, last + 1)
    # log(size * fail) is taken as one number: with a huge size its factors alone would lose their digits.
    steps = np.log((size + (pieces - 1)) * fail / pieces)
    logs = np.append(0.0, np.cumsum(steps)) - size * np.log1p(odds)
    return LeadTimeDemand(np.exp(logs), mean, variance, tail_mass)


def from_pmf(pmf: ArrayLike) -> LeadTimeDemand:
    """A distribution worked out elsewhere, such as the renewals of units of known age, with its own moments."""
    chances = np.array(not_negative_array("pmf", pmf))
    if chances.ndim != 1 or abs(chances.sum() - 1) > SUM_SLACK:
        raise ValueError(f"`pmf` must be a list of chances that add up to 1 within {SUM_SLACK:g}")
    pieces = np.arange(chances.size, dtype=np.float64)
    mean = float(np.dot(pieces, chances))
    variance = float(np.dot((pieces - mean) ** 2, chances))
    return LeadTimeDemand(chances, mean, variance)


def convolve(first: LeadTimeDemand, *others: LeadTimeDemand) -> LeadTimeDemand:
    """Distribution of the sum of independent demands."""
    demands = (first, *others)
    return LeadTimeDemand(
        reduce(np.convolve, [demand.pmf for demand in demands]),
        sum(demand.mean for demand in demands),
        sum(demand.variance for demand in demands),
        sum(demand.tail_mass for demand in demands),
    )


def compound(jobs: FloatArray, sizes: FloatArray) -> FloatArray:
    """Chances of the pieces of all jobs together: `jobs[n]` is the chance of n jobs, `sizes[k]` that one takes k pieces."""
    # Horner's scheme in the distribution of one job: exact, and no power of it is formed.
    pmf = np.array([jobs[-1]])
    for chance in jobs[-2::-1]:
        pmf = np.convolve(pmf, sizes)
        pmf[0] += chance
    return np.asarray(pmf)


def compound_of_seen(jobs: FloatArray, pieces: Sequence[int]) -> FloatArray:
    """As `compound`, where the sizes are known only from the pieces of the jobs seen.

    Every job takes pieces as one of those seen, with the shares left open as so few jobs leave them: Dirichlet, so that n jobs
    take each size by an urn to which every draw adds one of its kind. A size never seen is not expected. With very many jobs
    the shares are as good as known. Source: Rubin 1981, Annals of Statistics 9 (the Bayesian bootstrap); Johnson, Kemp & Kotz,
    chapter 40 (both from memory).
    """
    sizes, counts = np.unique(np.asarray(pieces, dtype=np.int64), return_counts=True)
    if len(sizes) == 1 or len(pieces) > MANY_JOBS or len(jobs) > MOST_JOBS_FOLLOWED:
        return compound(jobs, np.bincount(pieces) / len(pieces))
    return np.asarray(jobs @ _urn(len(jobs) - 1, tuple(sizes.tolist()), tuple(counts.tolist())))


@lru_cache(maxsize=64)
def _urn(most: int, sizes: tuple[int, ...], counts: tuple[int, ...]) -> FloatArray:
    """Chances of the pieces of 0, 1, … `most` jobs together, one row for each number."""
    table = np.zeros((most + 1, most * sizes[-1] + 1))
    table[0, 0] = 1.0
    draws = np.arange(most + 1.0)
    for size, count in zip(sizes, counts, strict=True):
        ways = np.exp(special.gammaln(count + draws) - special.gammaln(count) - special.gammaln(draws + 1))
        added = ways[0] * table
        for taken in range(1, most + 1):
            width = table.shape[1] - taken * size
            if width > 0:
                added[taken:, taken * size :] += ways[taken] * table[: most + 1 - taken, :width]
        table = added
    return np.asarray(table / table.sum(axis=1, keepdims=True))


def last_piece(
    above: Callable[[FloatArray], FloatArray], mean: float, variance: float, tail_mass: float
) -> int:
    """Smallest x with P(demand > x) <= tail_mass, by doubling and halving."""
    high = np.ceil(mean + 8 * np.sqrt(variance)) + 8.0
    low = -1.0
    while float(above(np.asarray(high))) > tail_mass:
        low, high = high, 2 * high
        if low > MOST_PIECES:
            break
    while high - low > 1 and low <= MOST_PIECES:
        middle = np.floor((low + high) / 2)
        low, high = (middle, high) if float(above(np.asarray(middle))) > tail_mass else (low, middle)
    if high > MOST_PIECES:
        raise DistributionTooLongError(
            f"`mean` and `variance` must keep the demand over a lead time within {MOST_PIECES:,} pieces,"
            f" got a mean of {mean:g} and a standard deviation of {np.sqrt(variance):g}"
        )
    return int(high)
