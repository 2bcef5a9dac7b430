"""Against scipy's Poisson and negative binomial distributions, and by laws of pooling."""

import numpy as np
import pytest
from scipy import stats

from inventory.stocking.held_apart import HeldApart, NumbersHeld, held_apart

DAYS = 365.0


def of(rates, days, *, pool=None, spread=0.0, squares=None, least=0, fill_rate=0.95) -> HeldApart:
    size = len(rates)
    held = NumbersHeld(
        pool=np.zeros(size, dtype=int) if pool is None else np.array(pool),
        rate_per_year=np.array(rates, dtype=float),
        squares_per_year=np.array(rates if squares is None else squares, dtype=float),
        lead_time_days=np.broadcast_to(np.array(days, dtype=float), (size,)),
        lead_time_sd_days=np.full(size, float(spread)),
        least=np.full(size, least, dtype=int),
    )
    return held_apart(held, fill_rate=fill_rate)


@pytest.mark.parametrize("rate", [0.05, 0.4, 2.0, 11.0, 60.0])
@pytest.mark.parametrize("fill_rate", [0.8, 0.95, 0.99])
def test_single_pieces_are_kept_as_the_poisson_distribution_says(rate: float, fill_rate: float) -> None:
    stock = int(of([rate], 60, fill_rate=fill_rate).apart[0])
    mean = rate * 60 / DAYS
    assert stats.poisson.cdf(stock - 1, mean) >= fill_rate
    assert stock == 1 or stats.poisson.cdf(stock - 2, mean) < fill_rate


def test_lead_times_that_vary_are_kept_for_as_the_negative_binomial_says() -> None:
    """Gamma lead time of mean 60 and standard deviation 40 days: the demand over it is negative binomial."""
    rate, mean, sd = 12.0, 60.0, 40.0
    stock = int(of([rate], mean, spread=sd).apart[0])
    size = (mean / sd) ** 2
    law = stats.nbinom(size, 1 / (1 + rate / DAYS * sd**2 / mean))
    assert law.cdf(stock - 1) >= 0.95 > law.cdf(stock - 2)


def test_one_stock_for_two_equal_demands_is_that_of_their_sum() -> None:
    found = of([5.0, 7.0], 45)
    assert found.together.tolist() == of([12.0], 45).apart.tolist()


def test_a_pool_waits_as_long_as_its_slowest_number() -> None:
    assert of([5.0, 5.0], [10, 90]).together.tolist() == of([10.0], 90).apart.tolist()


def test_one_stock_never_takes_more_than_two_of_equal_lead_time() -> None:
    rates = [0.1, 0.7, 3.0, 9.0, 40.0]
    pairs = [(one, other) for one in rates for other in rates]
    for pair in pairs:
        found = of(list(pair), 50)
        assert found.together[0] <= found.apart.sum()


def test_what_nobody_needs_is_not_kept_unless_something_says_so() -> None:
    assert of([0.0, 0.0], 30).together.tolist() == [0]
    found = of([0.0, 0.0], 30, least=1)
    assert (found.apart.tolist(), found.together.tolist()) == ([1, 1], [1])


def test_demands_for_several_pieces_take_more() -> None:
    assert of([8.0], 60, squares=[32.0]).apart[0] > of([8.0], 60).apart[0]


def test_pools_are_apart_from_each_other() -> None:
    found = of([5.0, 7.0, 5.0], 45, pool=[0, 1, 0])
    assert found.together.tolist() == [*of([10.0], 45).apart, *of([7.0], 45).apart]


def test_nothing_gives_nothing() -> None:
    found = of([], [])
    assert (found.apart.size, found.together.size) == (0, 0)


@pytest.mark.parametrize("wrong", [[-1.0], [float("nan")]])
def test_bad_rates_are_refused_by_name(wrong: list[float]) -> None:
    with pytest.raises(ValueError, match="rate_per_year"):
        of(wrong, 30)
