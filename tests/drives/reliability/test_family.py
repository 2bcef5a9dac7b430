import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from drives.reliability.family import demand_chances, fit_family, full_bayes, log_likelihood, rate_interval
from tests.drives.reliability.checks_reader import check, near


def pumps(name="E_pumps_EB"):
    given = check(name)["inputs"]
    return given["failures"], given["exposure"]


def test_it_gives_the_published_prior_and_rates_of_the_pumps():
    failures, exposure = pumps()
    family = fit_family(failures, exposure=exposure)
    assert family.alpha == near("E_pumps_EB", "alpha")
    assert family.beta == near("E_pumps_EB", "beta")
    assert family.log_likelihood == near("E_pumps_EB", "loglik")
    assert family.rates.tolist() == near("E_pumps_EB", "rates")
    assert family.excess_p_value < 1e-15


def test_it_gives_the_published_means_after_a_prior_on_the_prior():
    failures, exposure = pumps("E_pumps_BUGS")
    found = full_bayes(failures, exposure=exposure)
    assert found.alpha_mean == near("E_pumps_BUGS", "alpha_mean")
    assert found.alpha_sd == near("E_pumps_BUGS", "alpha_sd")
    assert found.beta_mean == near("E_pumps_BUGS", "beta_mean")
    assert found.beta_sd == near("E_pumps_BUGS", "beta_sd")
    assert found.rate_means.tolist() == near("E_pumps_BUGS", "theta_mean")


def test_the_pumps_are_said_to_differ_by_how_much_they_run():
    failures, exposure = pumps()
    family = fit_family(failures, exposure=exposure)
    assert not family.is_alike
    assert "Rates fall with exposure" in family.cautions[0]


def test_a_general_search_finds_the_same_prior():
    rng = np.random.default_rng(9)
    exposure = rng.uniform(0.5, 8, 60)
    failures = rng.poisson(rng.gamma(1.3, 0.4, 60) * exposure)
    family = fit_family(failures, exposure=exposure)

    def minus(x):
        alpha, beta = np.exp(x)
        return -stats.nbinom(alpha, beta / (beta + exposure)).logpmf(failures).sum()

    search = optimize.minimize(minus, [0, 0], method="Nelder-Mead", options={"xatol": 1e-9, "fatol": 1e-12})
    assert (family.alpha, family.beta) == pytest.approx(tuple(np.exp(search.x)), rel=1e-6)
    assert family.log_likelihood == pytest.approx(-search.fun, rel=1e-12)


@pytest.mark.parametrize(
    ("failures", "words"),
    [
        ([0, 0, 0, 0], "Nothing failed in any pool"),
        ([2, 2, 2, 2], "differ no more than chance makes them"),
        ([1, 2, 1, 0], "differ no more than chance makes them"),
        ([3, 0], "2 pools are too few"),
        ([], "0 pools are too few"),
    ],
)
def test_a_prior_that_is_not_identified_is_not_made_up(failures, words):
    family = fit_family(failures, exposure=[10.0] * len(failures))
    assert (family.is_identified, family.alpha, family.beta) == (False, None, None)
    assert words in family.reason


def test_pools_no_more_varied_than_chance_share_one_rate_and_no_failure_gives_none():
    assert fit_family([2, 2, 2], exposure=[10, 20, 10]).rates == pytest.approx([0.15] * 3)
    assert fit_family([0, 0, 0], exposure=[10, 20, 10]).rates is None


@pytest.mark.parametrize("others", [[0, 0, 0, 0, 0, 0, 0, 0], [0, 1, 0, 2, 1, 0, 1, 0]])
def test_a_pool_unlike_the_others_is_named(others):
    family = fit_family([*others, 40], exposure=[1000] * 9)
    assert not family.is_alike
    assert family.cautions[0].startswith("Pool 8 (40 in 1000, rate 0.04) is unlike the others")


def test_pools_of_one_kind_are_seldom_called_unlike():
    rng = np.random.default_rng(3)
    warned = 0
    for _ in range(100):
        exposure = rng.uniform(1, 10, 40)
        family = fit_family(rng.poisson(rng.gamma(1.5, 1 / 6, 40) * exposure), exposure=exposure)
        warned += not family.is_alike
    assert warned <= 12


def test_each_rate_lies_between_its_own_and_the_prior_mean():
    failures, exposure = (np.array(column) for column in pumps())
    family = fit_family(failures, exposure=exposure)
    own, prior = failures / exposure, family.alpha / family.beta
    assert np.all((family.rates - own) * (family.rates - prior) <= 0)


def test_the_demand_is_negative_binomial():
    chances = demand_chances(2, exposure=3, horizon=1.5, alpha=0.8, beta=1.2)
    law = stats.nbinom(2.8, 4.2 / 5.7)
    assert chances == pytest.approx(law.pmf(np.arange(chances.size)), rel=1e-11)
    assert chances.sum() == pytest.approx(1, abs=1e-11)
    assert demand_chances(2, exposure=3, horizon=0, alpha=1, beta=1).tolist() == [1]


def test_a_rate_interval_has_equal_tails():
    low, high = rate_interval(3, exposure=2, alpha=1.5, beta=2, confidence=0.9)
    law = stats.gamma(4.5, scale=1 / 4)
    assert law.cdf([low, high]) == pytest.approx([0.05, 0.95], rel=1e-9)


def test_a_wide_prior_on_the_prior_agrees_with_a_plain_sum():
    failures, exposure = [0, 3, 1], [1.0, 2.0, 4.0]
    alphas = np.exp(np.linspace(-24, 5, 1500))
    betas = np.exp(np.linspace(-40, 5, 1500))
    a, b = np.meshgrid(alphas, betas, indexing="ij")
    logs = stats.expon.logpdf(a) + stats.gamma.logpdf(b, 0.1) + np.log(a) + np.log(b)
    for x, t in zip(failures, exposure, strict=True):
        logs = logs + stats.nbinom.logpmf(x, a, b / (b + t))
    weights = np.exp(logs - logs.max())
    weights /= weights.sum()
    found = full_bayes(failures, exposure=exposure)
    assert found.alpha_mean == pytest.approx((weights * a).sum(), rel=1e-5)
    assert found.beta_mean == pytest.approx((weights * b).sum(), rel=1e-5)
    means = [(weights * (a + x) / (b + t)).sum() for x, t in zip(failures, exposure, strict=True)]
    assert found.rate_means == pytest.approx(means, rel=1e-5)


@settings(max_examples=50)
@given(
    st.lists(st.tuples(st.integers(0, 60), st.floats(0.1, 1000)), min_size=1, max_size=15),
    st.floats(1e-3, 1e3),
)
def test_a_change_of_the_unit_of_time_changes_beta_alone(pools, factor):
    failures, exposure = [x for x, _ in pools], np.array([t for _, t in pools])
    one, other = fit_family(failures, exposure=exposure), fit_family(failures, exposure=exposure * factor)
    assert one.is_identified == other.is_identified
    if one.is_identified:
        assert other.log_likelihood == pytest.approx(one.log_likelihood, rel=1e-9)
        assert log_likelihood(
            failures, exposure=exposure, alpha=other.alpha, beta=other.beta / factor
        ) == pytest.approx(one.log_likelihood, rel=1e-9)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: fit_family([1, 2], exposure=[1]), "`exposure` must be 2 numbers"),
        (lambda: fit_family([1.5], exposure=[1]), "`failures` must be whole numbers"),
        (lambda: fit_family([1, 1], exposure=[1, 0]), r"`exposure\[1\]` must be more than 0"),
        (lambda: fit_family([-1], exposure=[1]), r"`failures\[0\]` must be from 0"),
        (lambda: fit_family([1], exposure=[math.nan]), r"`exposure\[0\]` must be finite"),
        (lambda: full_bayes([], exposure=[]), "`failures` must hold at least one pool"),
        (lambda: full_bayes([1], exposure=[1], beta_shape=0), "`beta_shape` must be more than 0"),
        (lambda: demand_chances(0, exposure=1, horizon=1, alpha=0, beta=1), "`alpha` must be more than 0"),
        (
            lambda: demand_chances(0, exposure=1, horizon=1, alpha=1, beta=1, tail=1),
            "`tail` must be between 0 and 1",
        ),
        (
            lambda: demand_chances(0, exposure=-1, horizon=1, alpha=1, beta=1),
            r"`exposure\[0\]` must be from 0",
        ),
    ],
)
def test_it_refuses_what_is_out_of_range(call, words):
    with pytest.raises(ValueError, match=words):
        call()
