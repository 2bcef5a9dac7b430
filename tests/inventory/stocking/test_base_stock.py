import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.stocking.base_stock import (
    negative_binomial_base_stock_for_fill_rate,
    negative_binomial_base_stock_for_no_backorder,
    poisson_base_stock_for_fill_rate,
    poisson_base_stock_for_no_backorder,
    poisson_expected_backorders,
)

RANDOM = np.random.default_rng(11)


@pytest.mark.parametrize("target", [0.5, 0.9, 0.95, 0.99, 0.9999])
def test_one_target_for_all_agrees_with_scipy(target):
    mean = np.concatenate([[0.0], RANDOM.gamma(1, 3, 20_000), RANDOM.uniform(100, 1500, 500)])
    expected = stats.poisson.ppf(target, np.maximum(mean, 1e-300))
    assert (poisson_base_stock_for_no_backorder(mean, target) == expected).all()


def test_a_target_each_agrees_with_scipy():
    mean, target = 10 ** RANDOM.uniform(-4, 5, 20_000), RANDOM.uniform(0.01, 0.99999, 20_000)
    assert (poisson_base_stock_for_no_backorder(mean, target) == stats.poisson.ppf(target, mean)).all()


def test_negative_binomial_agrees_with_scipy():
    mean, target = 10 ** RANDOM.uniform(-4, 4, 20_000), RANDOM.uniform(0.01, 0.9999, 20_000)
    variance = mean * (1 + 10 ** RANDOM.uniform(-3, 2, 20_000))
    expected = stats.nbinom.ppf(target, mean**2 / (variance - mean), mean / variance)
    assert (negative_binomial_base_stock_for_no_backorder(mean, variance, target) == expected).all()


def test_a_level_exactly_on_a_chance_is_reached():
    mean = RANDOM.uniform(0.1, 40, 2000)
    stock = np.floor(mean)
    level = stats.poisson.cdf(stock, mean)
    assert (poisson_base_stock_for_no_backorder(mean, level) == stock).all()
    above = np.nextafter(level, 1)
    assert (poisson_base_stock_for_no_backorder(mean, above) == stock + 1).all()


def test_equal_moments_are_poisson_whatever_their_rounding():
    mean = np.full(3, 0.125)
    variance = np.array([0.125, np.nextafter(0.125, 1), 0.1])
    stock = negative_binomial_base_stock_for_no_backorder(mean, variance, 0.9)
    assert stock.tolist() == poisson_base_stock_for_no_backorder(mean, 0.9).tolist()


@given(mean=st.floats(1e-3, 100), excess=st.floats(0, 10), target=st.floats(0.01, 0.999))
def test_filling_takes_one_piece_more_than_no_backorder(mean, excess, target):
    moments = (mean, mean * (1 + excess), target)
    assert negative_binomial_base_stock_for_fill_rate(*moments) == (
        negative_binomial_base_stock_for_no_backorder(*moments) + 1
    )
    assert poisson_base_stock_for_fill_rate(mean, target) == (
        poisson_base_stock_for_no_backorder(mean, target) + 1
    )


@given(mean=st.floats(1e-3, 60), stock=st.integers(0, 120))
def test_expected_backorders_agree_with_the_direct_sum(mean, stock):
    pieces = np.arange(stock, stock + 400)
    direct = stats.poisson.sf(pieces, mean).sum()
    assert poisson_expected_backorders(mean, stock).item() == pytest.approx(direct, rel=1e-7, abs=1e-12)


def test_shapes_are_broadcast_and_empty_ones_kept():
    assert poisson_base_stock_for_no_backorder(np.ones((2, 3)), [[0.9], [0.99]]).shape == (2, 3)
    assert poisson_base_stock_for_no_backorder([], 0.9).shape == (0,)
    assert negative_binomial_base_stock_for_no_backorder([], [], 0.9).shape == (0,)


@pytest.mark.parametrize("target", [0, 1, 1.2, float("nan")])
def test_it_refuses_a_target_out_of_range(target):
    with pytest.raises(ValueError, match="`target`"):
        poisson_base_stock_for_no_backorder(1.0, target)


@pytest.mark.parametrize("mean", [-1, float("nan"), float("inf")])
def test_it_refuses_a_pipeline_out_of_range(mean):
    with pytest.raises(ValueError, match="`pipeline`"):
        poisson_base_stock_for_no_backorder([1.0, mean], 0.9)
