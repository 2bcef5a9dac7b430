"""Agreement with general survival libraries; none is needed to run the service."""

import numpy as np
import pytest
from scipy import stats

from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.survival import log_rank, permutation_test, survival_curve
from drives.reliability.weibull import fit_weibull
from tests.drives.reliability.checks_reader import random_lifetimes
from tests.other_programs import other_program

pytestmark = pytest.mark.filterwarnings("ignore")


@pytest.fixture(scope="module")
def lifelines():
    return other_program("lifelines")


@pytest.fixture(scope="module")
def surpyval():
    return other_program("surpyval")


def samples(count: int, *, seed: int) -> list[Lifetimes]:
    rng = np.random.default_rng(seed)
    return [
        random_lifetimes(rng, size=int(rng.integers(20, 200)), shape=float(rng.uniform(0.5, 4)))
        for _ in range(count)
    ]


def test_lifelines_finds_the_same_fits(lifelines):
    for lifetimes in samples(40, seed=21):
        other = lifelines.WeibullFitter().fit(lifetimes.lower_hours / 1000, lifetimes.is_observed)
        own = fit_weibull(lifetimes)
        theirs = other.log_likelihood_ - own.failures * np.log(1000)
        assert (own.shape, own.scale_hours / 1000) == pytest.approx((other.rho_, other.lambda_), rel=1e-4)
        assert theirs <= own.log_likelihood + 1e-9
        assert own.log_likelihood == pytest.approx(theirs, rel=1e-8)


def test_lifelines_finds_the_same_fit_between_inspections(lifelines):
    rng = np.random.default_rng(22)
    hours = 1000 * rng.weibull(2.0, 120)
    lower = np.floor(hours / 150) * 150
    upper = np.where(lower < 1500, lower + 150, np.inf)
    other = lifelines.WeibullFitter().fit_interval_censoring(np.maximum(lower, 1e-9) / 1000, upper / 1000)
    own = fit_weibull(Lifetimes(lower, upper))
    assert (own.shape, own.scale_hours / 1000) == pytest.approx((other.rho_, other.lambda_), rel=2e-5)


def test_surpyval_finds_the_same_fits(surpyval):
    for lifetimes in samples(20, seed=23):
        other = surpyval.Weibull.fit(lifetimes.lower_hours, c=(~lifetimes.is_observed).astype(int))
        own = fit_weibull(lifetimes)
        scale, shape = other.params
        assert (own.shape, own.scale_hours) == pytest.approx((shape, scale), rel=1e-4)


def test_surpyval_finds_the_same_fit_at_the_first_inspection(surpyval):
    rng = np.random.default_rng(24)
    looks = rng.uniform(200, 1800, 150)
    ended = 1000 * rng.weibull(1.8, 150) <= looks
    other = surpyval.Weibull.fit(looks, c=np.where(ended, -1, 1))
    own = fit_weibull(Lifetimes(np.where(ended, 0, looks), np.where(ended, looks, np.inf)))
    scale, shape = other.params
    assert (own.shape, own.scale_hours) == pytest.approx((shape, scale), rel=1e-4)


def test_lifelines_draws_the_same_curves(lifelines):
    lifetimes = right_censored(
        np.ceil(random_lifetimes(np.random.default_rng(25), size=90, shape=1.5).lower_hours / 50) * 50,
        observed=random_lifetimes(np.random.default_rng(25), size=90, shape=1.5).is_observed,
    )
    curve = survival_curve(lifetimes)
    kaplan_meier = lifelines.KaplanMeierFitter().fit(lifetimes.lower_hours, lifetimes.is_observed)
    nelson_aalen = lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False).fit(
        lifetimes.lower_hours, lifetimes.is_observed
    )
    known = curve.survival > 0
    interval = kaplan_meier.confidence_interval_survival_function_.loc[curve.hours[known]].to_numpy()
    assert curve.survival == pytest.approx(
        kaplan_meier.survival_function_at_times(curve.hours).to_numpy(), rel=1e-10
    )
    assert curve.survival_low[known] == pytest.approx(interval[:, 0], rel=1e-8)
    assert curve.survival_high[known] == pytest.approx(interval[:, 1], rel=1e-8)
    assert curve.cumulative_hazard == pytest.approx(
        nelson_aalen.cumulative_hazard_at_times(curve.hours).to_numpy(), rel=1e-10
    )


def test_lifelines_compares_two_samples_alike(lifelines):
    one, two = samples(2, seed=26)
    other = lifelines.statistics.logrank_test(
        one.lower_hours, two.lower_hours, one.is_observed, two.is_observed
    )
    own = log_rank(one, two)
    assert own.p_value == pytest.approx(other.p_value, rel=1e-8)


@pytest.mark.parametrize(("first", "second"), [(2, 3), (3, 3), (3, 4), (4, 6)])
@pytest.mark.parametrize("seed", range(5))
def test_hazards_of_lifelines_shared_out_by_scipy_give_the_same_exact_p(lifelines, first, second, seed):
    both = random_lifetimes(np.random.default_rng(seed), size=first + second, shape=1.5)
    hours, observed = both.lower_hours, both.is_observed
    own = permutation_test(
        right_censored(hours[:first], observed=observed[:first]),
        right_censored(hours[first:], observed=observed[first:]),
    )
    hazard = lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False).fit(hours, observed)
    scores = observed - hazard.cumulative_hazard_at_times(hours).to_numpy()
    other = stats.permutation_test(
        (scores[:first], scores[first:]),
        lambda one, two: one.sum(),
        permutation_type="independent",
        alternative="greater" if own.surplus > 0 else "less",
        n_resamples=np.inf,
    )
    assert own.p_one_sided == pytest.approx(other.pvalue, rel=1e-9)
