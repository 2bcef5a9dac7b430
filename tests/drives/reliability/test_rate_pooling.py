import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from drives.reliability.rate_pooling import demand_distribution, pool_rates
from tests.drives.reliability.checks_reader import check, near
from tests.examples import some_of


def pumps(name="E_pumps_EB"):
    given = check(name)["inputs"]
    return given["failures"], given["exposure"]


def test_it_gives_the_published_prior_and_rates_of_the_pumps():
    failures, exposure = pumps()
    pooled = pool_rates(failures, exposure=exposure)
    failures, exposure = np.array(failures), np.array(exposure)
    assert pooled.alpha == near("E_pumps_EB", "alpha")
    assert pooled.beta == near("E_pumps_EB", "beta")
    law = stats.nbinom(pooled.alpha, pooled.beta / (pooled.beta + exposure))
    assert law.logpmf(failures).sum() == near("E_pumps_EB", "loglik")
    rates = (pooled.alpha + failures) / (pooled.beta + exposure)
    assert rates.tolist() == near("E_pumps_EB", "rates")


def test_rates_of_the_pumps_fall_with_their_exposure():
    failures, exposure = pumps()
    (caution,) = pool_rates(failures, exposure=exposure).cautions
    assert caution.code == "rates_fall_with_exposure"
    assert 0 < caution.values["p_value"] < 0.05


def test_rates_that_rise_with_exposure_are_named():
    cautions = pool_rates([0, 0, 1, 1, 12, 60, 0, 50], exposure=[1, 1, 2, 2, 10, 30, 1, 25]).cautions
    assert [caution.code for caution in cautions] == ["rates_rise_with_exposure"]


def test_a_general_search_finds_the_same_prior():
    rng = np.random.default_rng(9)
    exposure = rng.uniform(0.5, 8, 60)
    failures = rng.poisson(rng.gamma(1.3, 0.4, 60) * exposure)
    pooled = pool_rates(failures, exposure=exposure)

    def minus(x):
        alpha, beta = np.exp(x)
        return -stats.nbinom(alpha, beta / (beta + exposure)).logpmf(failures).sum()

    search = optimize.minimize(minus, [0, 0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert (pooled.alpha, pooled.beta) == pytest.approx(tuple(np.exp(search.x)), rel=1e-6)


@pytest.mark.parametrize(
    ("failures", "common"),
    [([0, 0, 0, 0], 0), ([2, 2, 2, 2], 0.2), ([1, 2, 1, 0], 0.1), ([3, 0], 0.15), ([], 0)],
)
def test_groups_that_differ_no_more_than_chance_share_one_rate_without_a_prior(failures, common):
    pooled = pool_rates(failures, exposure=[10.0] * len(failures))
    assert (pooled.alpha, pooled.beta, pooled.cautions) == (None, None, ())
    assert pooled.common_rate == pytest.approx(common)


@pytest.mark.parametrize("others", [[0, 0, 0, 0, 0, 0, 0, 0], [0, 1, 0, 2, 1, 0, 1, 0]])
def test_a_group_unlike_the_others_is_named(others):
    pooled = pool_rates([*others, 40], exposure=[1000] * 9)
    caution = pooled.cautions[0]
    assert caution.code == "group_unlike_others"
    assert caution.values["p_value"] < 0.002 / 9
    assert {**caution.values, "p_value": 0} == {
        "group": 8,
        "failures": 40,
        "exposure": 1000,
        "rate": 0.04,
        "p_value": 0,
    }


def test_groups_that_are_alike_are_seldom_called_unlike():
    rng = np.random.default_rng(3)
    warned, trials = 0, some_of(100)
    for _ in range(trials):
        exposure = rng.uniform(1, 10, 40)
        pooled = pool_rates(rng.poisson(rng.gamma(1.5, 1 / 6, 40) * exposure), exposure=exposure)
        warned += bool(pooled.cautions)
    assert warned <= 0.12 * trials


def test_the_demand_is_negative_binomial():
    chances = demand_distribution(2, exposure=3, horizon=1.5, alpha=0.8, beta=1.2)
    law = stats.nbinom(2.8, 4.2 / 5.7)
    assert chances == pytest.approx(law.pmf(np.arange(chances.size)), rel=1e-11)
    assert chances.sum() == pytest.approx(1, abs=1e-11)
    assert demand_distribution(2, exposure=3, horizon=0, alpha=1, beta=1).tolist() == [1]


@settings(max_examples=some_of(50))
@given(
    st.lists(st.tuples(st.integers(0, 60), st.floats(0.1, 1000)), min_size=1, max_size=15),
    st.floats(1e-3, 1e3),
)
def test_a_change_of_the_unit_of_time_changes_beta_alone(pools, factor):
    failures, exposure = [x for x, _ in pools], np.array([t for _, t in pools])
    one, other = pool_rates(failures, exposure=exposure), pool_rates(failures, exposure=exposure * factor)
    assert (one.alpha is None) == (other.alpha is None)
    if one.alpha is not None:
        heights = [
            stats.nbinom(prior.alpha, beta / (beta + exposure)).logpmf(failures).sum()
            for prior, beta in ((one, one.beta), (other, other.beta / factor))
        ]
        assert heights[1] == pytest.approx(heights[0], rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: pool_rates([1, 2], exposure=[1]), "`exposure` must be 2 numbers"),
        (lambda: pool_rates([1.5], exposure=[1]), "`failures` must be whole numbers"),
        (lambda: pool_rates([1, 1], exposure=[1, 0]), r"`exposure\[1\]` must be more than 0"),
        (lambda: pool_rates([-1], exposure=[1]), r"`failures\[0\]` must be from 0"),
        (lambda: pool_rates([1], exposure=[math.nan]), r"`exposure\[0\]` must be finite"),
        (
            lambda: demand_distribution(0, exposure=1, horizon=1, alpha=0, beta=1),
            "`alpha` must be more than 0",
        ),
        (
            lambda: demand_distribution(0, exposure=-1, horizon=1, alpha=1, beta=1),
            "`exposure` must be from 0",
        ),
    ],
)
def test_it_refuses_what_is_out_of_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()
