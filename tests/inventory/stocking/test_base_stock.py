import numpy as np
import pytest
from scipy import stats

from inventory.stocking.base_stock import negative_binomial_base_stock, poisson_base_stock

RANDOM = np.random.default_rng(11)


@pytest.mark.parametrize("target", [0.5, 0.9, 0.95, 0.99, 0.9999])
def test_one_target_for_all_agrees_with_scipy(target):
    mean = np.concatenate([[0.0], RANDOM.gamma(1, 3, 20_000), RANDOM.uniform(100, 1500, 500)])
    expected = stats.poisson.ppf(target, np.maximum(mean, 1e-300))
    assert (poisson_base_stock(mean, target) == expected).all()


def test_a_target_each_agrees_with_scipy():
    mean, target = 10 ** RANDOM.uniform(-4, 5, 20_000), RANDOM.uniform(0.01, 0.99999, 20_000)
    assert (poisson_base_stock(mean, target) == stats.poisson.ppf(target, mean)).all()


def test_negative_binomial_agrees_with_scipy():
    mean, target = 10 ** RANDOM.uniform(-4, 4, 20_000), RANDOM.uniform(0.01, 0.9999, 20_000)
    variance = mean * (1 + 10 ** RANDOM.uniform(-3, 2, 20_000))
    expected = stats.nbinom.ppf(target, mean**2 / (variance - mean), mean / variance)
    assert (negative_binomial_base_stock(mean, variance, target) == expected).all()


def test_a_level_exactly_on_a_chance_is_reached():
    mean = RANDOM.uniform(0.1, 40, 2000)
    stock = np.floor(mean)
    level = stats.poisson.cdf(stock, mean)
    assert (poisson_base_stock(mean, level) == stock).all()
    above = np.nextafter(level, 1)
    assert (poisson_base_stock(mean, above) == stock + 1).all()


def test_equal_moments_are_poisson_whatever_their_rounding():
    mean = np.full(3, 0.125)
    variance = np.array([0.125, np.nextafter(0.125, 1), 0.1])
    stock = negative_binomial_base_stock(mean, variance, 0.9)
    assert stock.tolist() == poisson_base_stock(mean, 0.9).tolist()


def test_no_items_have_no_stock():
    none = np.zeros(0)
    assert poisson_base_stock(none, 0.9).shape == (0,)
    assert negative_binomial_base_stock(none, none, 0.9).shape == (0,)
