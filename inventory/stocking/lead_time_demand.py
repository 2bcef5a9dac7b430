"""Demand over a lead time: the laws as chances p0, p1, … of so many pieces, cut off at a stated tail."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import reduce

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray
from inventory.number_checks import fraction, not_negative, number

TAIL_MASS = 1e-12
"""Chance of the demands left out at the upper end of a law: far below any service that is promised."""

MOST_PIECES = 1_000_000
"""Longest law that is written out, 8 MB; more is refused rather than answered slowly."""

SERVICE_SLACK = 1e-12
"""Relative rounding that a sum of chances may show against the miss that its target allows."""

LOWEST_EXPONENT = -700.0
"""Below it the chance of no job at all is no longer a normal double and Panjer's recursion cannot start."""

COMPOUND_PIECES = 10_000
"""Room of Panjer's recursion beyond twelve standard deviations."""

SUM_SLACK = 1e-6
"""How far from 1 the chances of a law given from outside may add up; they are taken as given."""


class DistributionTooLongError(ValueError):
    """A law would pass `MOST_PIECES`; the caller names the field that makes it so."""


@dataclass(frozen=True, slots=True, eq=False)
class LeadTimeDemand:
    """Chances of 0, 1, 2, … pieces, with the mean and variance of the whole law.

    `pmf` leaves out at most `tail_mass` at its upper end and is not scaled up for it.
    """

    pmf: FloatArray
    mean: float
    variance: float
    tail_mass: float = TAIL_MASS
    _above: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        pmf = np.array(self.pmf, dtype=np.float64)
        if pmf.ndim != 1 or not pmf.size or not np.isfinite(pmf).all() or (pmf < 0).any():
            raise ValueError("`pmf` must be a list of chances that are finite and not below 0")
        if abs(pmf.sum() - 1) > SUM_SLACK:
            raise ValueError(f"`pmf` must add up to 1 within {SUM_SLACK:g}, got {pmf.sum():.9g}")
        not_negative("mean", self.mean)
        not_negative("variance", self.variance)
        # Summed from the far end, small chances keep their digits.
        above = np.minimum(np.append(np.cumsum(pmf[::-1])[::-1][1:], 0.0), 1.0)
        pmf.flags.writeable = above.flags.writeable = False
        object.__setattr__(self, "pmf", pmf)
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
        """P(demand <= x) for x = 0, 1, … to the end of the law."""
        return np.maximum(1.0 - self._above, 0.0)

    def chances_above(self, most: int) -> FloatArray:
        """P(demand > x) for x = 0 to `most`."""
        values = np.zeros(most + 1)
        shown = min(most + 1, len(self.pmf))
        values[:shown] = self._above[:shown]
        return values

    def expected_above(self, pieces: int) -> float:
        """E(demand - pieces)+, the expected backorders of that base stock."""
        if pieces < 0:
            raise ValueError(f"`pieces` must not be below 0, got {pieces}")
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
    """Largest P(demand > x) with which a service target counts as reached.

    Parameters
    ----------
    target : float, in (0, 1)
        Promised chance.

    Returns
    -------
    float
        1 - target and what rounding may add to it.

    Raises
    ------
    ValueError
        If the target is out of range.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> round(allowed_above(0.95), 9)
    0.05
    """
    return (1.0 - fraction("target", target)) * (1.0 + SERVICE_SLACK) + float(np.finfo(np.float64).eps)


def poisson(mean: float, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """Poisson demand: single pieces at a constant rate over a fixed lead time, or a pipeline by Palm.

    Parameters
    ----------
    mean : float
        Expected pieces, not negative.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Mean and variance equal.

    Raises
    ------
    ValueError
        If `mean` is negative or not finite, or the law would be longer than a million pieces.

    Source
    ------
    Palm 1938; Sherbrooke, Optimal Inventory Modeling of Systems, 2nd ed. 2004, chapter 2.

    Examples
    --------
    >>> round(poisson(1.0).expected_above(1), 8)
    0.36787944
    """
    rate = not_negative("mean", mean)
    last = last_piece(lambda x: np.asarray(special.pdtrc(x, rate)), rate, rate, tail_mass)
    pieces = np.arange(last + 1.0)
    pmf = np.exp(special.xlogy(pieces, rate) - rate - special.gammaln(pieces + 1))
    return LeadTimeDemand(pmf, rate, rate, tail_mass)


def negative_binomial(mean: float, variance: float, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """Negative binomial demand by its moments; Poisson where the variance does not exceed the mean.

    Parameters
    ----------
    mean, variance : float
        Moments of the demand, not negative.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Law with p = mean/variance and r = mean^2/(variance - mean).

    Raises
    ------
    ValueError
        If a moment is out of range or the law too long.

    Source
    ------
    Moments of the negative binomial law: Johnson, Kemp & Kotz, Univariate Discrete Distributions, chapter 5.

    Examples
    --------
    >>> negative_binomial(3.0, 5.25).smallest_within(0.95)
    7
    """
    centre, spread = not_negative("mean", mean), not_negative("variance", variance)
    if centre == 0 or spread <= centre:
        return poisson(centre, tail_mass=tail_mass)
    return negative_binomial_of_size(centre**2 / (spread - centre), (spread - centre) / centre, tail_mass)


def stuttering_poisson(
    orders_mean: float, geometric_q: float, *, tail_mass: float = TAIL_MASS
) -> LeadTimeDemand:
    """Poisson number of jobs, each taking a geometric number of pieces: P(size = k) = (1 - q) q^(k-1).

    Parameters
    ----------
    orders_mean : float
        Expected jobs, not negative.
    geometric_q : float, in [0, 1)
        Chance that a job takes one more piece.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Mean orders_mean/(1-q), variance orders_mean (1+q)/(1-q)^2.

    Raises
    ------
    ValueError
        If a parameter is out of range or the law too long.

    Source
    ------
    Panjer 1981, ASTIN Bulletin 12; Adelson 1966, Operational Research Quarterly 17.

    Examples
    --------
    >>> stuttering_poisson(1.2, 0.4).smallest_within(0.95)
    6
    """
    more = not_negative("geometric_q", geometric_q)
    if more >= 1:
        raise ValueError(f"`geometric_q` must be below 1, got {geometric_q!r}")
    if more == 0:
        return poisson(orders_mean, tail_mass=tail_mass)
    orders = not_negative("orders_mean", orders_mean)
    longest = int(np.ceil(np.log(1e-18) / np.log(more))) + 1
    sizes = (1 - more) * more ** np.arange(longest)
    return compound_poisson(orders, np.append(0.0, sizes / sizes.sum()), tail_mass=tail_mass)


def compound_poisson(orders_mean: float, sizes: ArrayLike, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """Poisson number of jobs with any law of pieces per job.

    Parameters
    ----------
    orders_mean : float
        Expected jobs, not negative.
    sizes : array_like
        P(size = 0), P(size = 1), …; adding up to 1.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        By the recursion g(x) = (orders_mean/x) sum over j of j f(j) g(x-j).

    Raises
    ------
    ValueError
        If a parameter is out of range, or the law is longer than ten thousand pieces.

    Source
    ------
    Panjer 1981, ASTIN Bulletin 12.

    Examples
    --------
    >>> compound_poisson(1.0, [0, 0, 1]).pmf[1].item()
    0.0
    """
    orders, size = not_negative("orders_mean", orders_mean), from_pmf(sizes)
    weights = np.arange(len(size)) * size.pmf
    mean = orders * float(weights.sum())
    variance = orders * float((np.arange(len(size)) * weights).sum())
    start = -orders * (1.0 - size.pmf[0])
    if start < LOWEST_EXPONENT:
        raise ValueError(f"`orders_mean` must not be above {-LOWEST_EXPONENT:g}, got {orders_mean!r}")
    pmf = [float(np.exp(start))]
    total = pmf[0]
    reverse = weights[:0:-1]
    room = int(mean + 12 * np.sqrt(variance)) + 60
    while (1 - total > tail_mass or len(pmf) <= mean) and len(pmf) < COMPOUND_PIECES + room:
        reach = min(len(reverse), len(pmf))
        step = float(np.dot(reverse[len(reverse) - reach :], pmf[-reach:])) if reach else 0.0
        pmf.append(orders / len(pmf) * step)
        total += pmf[-1]
        if len(pmf) > room and pmf[-1] < tail_mass**2:
            break
    return LeadTimeDemand(np.array(pmf), mean, variance, tail_mass)


def zero_inflated_poisson(zero_share: float, mean: float, *, tail_mass: float = TAIL_MASS) -> LeadTimeDemand:
    """Poisson demand that is switched off altogether with a given chance.

    Parameters
    ----------
    zero_share : float, in [0, 1)
        Chance that nothing is asked for whatever the rate.
    mean : float
        Expected pieces otherwise, not negative.
    tail_mass : float, in (0, 1)
        Chance left out at the upper end.

    Returns
    -------
    LeadTimeDemand
        Mean (1-zero_share) mean, variance (1-zero_share) mean (1 + zero_share mean).

    Raises
    ------
    ValueError
        If a parameter is out of range or the law too long.

    Source
    ------
    Lambert 1992, Technometrics 34.

    Examples
    --------
    >>> round(zero_inflated_poisson(0.6, 1.7).variance, 6)
    1.3736
    """
    off = not_negative("zero_share", zero_share)
    if off >= 1:
        raise ValueError(f"`zero_share` must be below 1, got {zero_share!r}")
    law = poisson(mean, tail_mass=tail_mass)
    pmf = (1 - off) * law.pmf
    pmf[0] += off
    on = 1 - off
    return LeadTimeDemand(pmf, on * law.mean, on * law.mean * (1 + off * law.mean), tail_mass)


def from_pmf(pmf: ArrayLike) -> LeadTimeDemand:
    """A law that was worked out elsewhere, such as the renewals of units of known age.

    Parameters
    ----------
    pmf : array_like
        P(0), P(1), …; not negative, adding up to 1 within 1e-6.

    Returns
    -------
    LeadTimeDemand
        With the moments of what was given.

    Raises
    ------
    ValueError
        If the chances are no law.

    Source
    ------
    Definition.

    Examples
    --------
    >>> from_pmf([0.5, 0.5]).mean
    0.5
    """
    try:
        chances = np.asarray(pmf, dtype=np.float64)
    except (TypeError, ValueError):
        raise ValueError("`pmf` must be a list of chances") from None
    pieces = np.arange(chances.size, dtype=np.float64)
    mean = float(np.dot(pieces, chances.ravel()))
    variance = float(np.dot((pieces - mean) ** 2, chances.ravel()))
    if not np.isfinite([mean, variance]).all() or mean < 0:
        raise ValueError("`pmf` must be a list of chances that are finite and not below 0")
    return LeadTimeDemand(chances, mean, max(variance, 0.0))


def convolve(*laws: LeadTimeDemand) -> LeadTimeDemand:
    """Law of the sum of independent demands.

    Parameters
    ----------
    *laws : LeadTimeDemand
        At least one.

    Returns
    -------
    LeadTimeDemand
        Means and variances add up; the left-out tails do too.

    Raises
    ------
    ValueError
        If no law is given.

    Source
    ------
    Definition.

    Examples
    --------
    >>> convolve(from_pmf([0.5, 0.5]), from_pmf([0.5, 0.5])).pmf.tolist()
    [0.25, 0.5, 0.25]
    """
    if not laws:
        raise ValueError("`laws` must hold at least one law")
    return LeadTimeDemand(
        reduce(np.convolve, [law.pmf for law in laws]),
        sum(law.mean for law in laws),
        sum(law.variance for law in laws),
        sum(law.tail_mass for law in laws),
    )


def last_piece(
    above: Callable[[FloatArray], FloatArray], mean: float, variance: float, tail_mass: float
) -> int:
    """Smallest x with P(demand > x) <= tail_mass, by doubling and halving; refused beyond a million."""
    fraction("tail_mass", tail_mass)
    high = np.ceil(number("mean", mean) + 8 * np.sqrt(variance)) + 8.0
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


def negative_binomial_of_size(size: float, odds: float, tail_mass: float) -> LeadTimeDemand:
    """Negative binomial law with r = size and p = 1/(1 + odds)."""
    mean, variance = size * odds, size * odds * (1 + odds)
    fail = odds / (1 + odds)
    last = last_piece(lambda x: np.asarray(special.betainc(x + 1, size, fail)), mean, variance, tail_mass)
    pieces = np.arange(1.0, last + 1)
    # log(size * fail) is taken as one number: with a huge size its factors alone would lose their digits.
    steps = np.log((size + (pieces - 1)) * fail / pieces)
    logs = np.append(0.0, np.cumsum(steps)) - size * np.log1p(odds)
    return LeadTimeDemand(np.exp(logs), mean, variance, tail_mass)
