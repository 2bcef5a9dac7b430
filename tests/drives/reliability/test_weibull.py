import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from drives.reliability import weibull
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.weibull import fit_weibull, mean_life_hours, why_no_maximum
from drives.reliability.weibull_intervals import ProfileIntervals
from drives.reliability.weibull_likelihood import WeibullLikelihood
from tests.drives.reliability.checks_reader import check, near, published_lifetimes, random_lifetimes
from tests.examples import some_of

PUBLISHED = ["W_ball", "W_shock", "W_fan", "W_cage"]
# Nelson, Applied Life Data Analysis, 1982, ch. 12: turbine wheels found cracked or not at one inspection each, in 100 h.
WHEELS = [
    (4, 0, 39), (10, 4, 49), (14, 2, 31), (18, 7, 66), (22, 5, 25), (26, 9, 30),
    (30, 9, 33), (34, 6, 7), (38, 22, 12), (42, 21, 19), (46, 21, 15),
]  # fmt: skip


def likeliest_scale(lifetimes: Lifetimes, *, shape: float) -> float:
    likelihood = WeibullLikelihood.of(lifetimes)
    _, a = likelihood.highest_at_shape(shape, start=0.0)
    return likelihood.unit_hours * math.exp(-a / shape)


def log_error(wald_interval) -> float:
    low, high = wald_interval
    return math.log(high / low) / 2 / stats.norm.ppf(0.975)


def inspected(rows) -> Lifetimes:
    cracked = [(0.0, hours, count) for hours, count, _ in rows if count]
    sound = [(hours, math.inf, count) for hours, _, count in rows if count]
    return Lifetimes(*(np.array(column, dtype=float) for column in zip(*cracked, *sound, strict=True)))


@pytest.mark.parametrize("name", PUBLISHED)
def test_it_gives_the_published_fit(name):
    fit, expected = fit_weibull(published_lifetimes(name)), check(name)["expected"]
    found = {
        "shape": fit.shape,
        "scale": fit.scale_hours,
        "loglik": fit.log_likelihood,
        "wald95_shape": fit.shape_interval_wald,
        "wald95_scale": fit.scale_interval_wald_hours,
        "LR95_shape": fit.shape_interval,
        "mu": math.log(fit.scale_hours),
        "sigma": 1 / fit.shape,
        "se_mu": log_error(fit.scale_interval_wald_hours),
        "se_sigma": log_error(fit.shape_interval_wald) / fit.shape,
        "B10": stats.weibull_min(fit.shape, scale=fit.scale_hours).ppf(0.1),
        "exponential_mean": likeliest_scale(published_lifetimes(name), shape=1),
    }
    for quantity in expected:
        assert found[quantity] == near(name, quantity), quantity


@pytest.mark.parametrize(
    ("name", "verdict", "code"),
    [
        ("W_ball", "wear_out", "parts_wear_out"),
        ("W_shock", "wear_out", "parts_wear_out"),
        ("W_fan", "random", "parts_fail_at_random"),
    ],
)
def test_the_interval_of_the_shape_decides_the_verdict(name, verdict, code):
    fit = fit_weibull(published_lifetimes(name))
    assert fit.verdict == verdict
    assert [reason.code for reason in fit.reasons] == [code]
    low, high = fit.shape_interval
    assert fit.reasons[0].values == {
        "shape": fit.shape,
        "shape_low": low,
        "shape_high": high,
        "confidence_percent": 95,
    }


def test_early_failures_are_named():
    fit = fit_weibull(right_censored([1, 2, 4, 9, 30, 90, 400, 2000, 9000, 9000], observed=[1] * 8 + [0] * 2))
    assert (fit.verdict, fit.reasons[0].code) == ("infant", "parts_fail_early")
    assert fit.shape_interval[1] < 1


def test_the_ends_of_the_interval_lie_where_the_likelihood_has_dropped_by_the_quantile():
    lifetimes, fit = published_lifetimes("W_shock"), fit_weibull(published_lifetimes("W_shock"))

    def highest(scale):
        return -optimize.minimize_scalar(
            lambda b: -log_likelihood(lifetimes, b, scale),
            bounds=(0.1, 20),
            method="bounded",
            options={"xatol": 1e-10},
        ).fun

    drops = [2 * (fit.log_likelihood - highest(scale)) for scale in fit.scale_interval_hours]
    assert drops == pytest.approx([stats.chi2.ppf(0.95, 1)] * 2, rel=1e-7)


@pytest.mark.parametrize(
    "lifetimes", [published_lifetimes("W_fan"), inspected(WHEELS)], ids=["fan", "wheels"]
)
def test_steps_for_an_end_arrive_where_the_climbed_profile_crosses(lifetimes, monkeypatch):
    ends, end = [], ProfileIntervals._end
    monkeypatch.setattr(ProfileIntervals, "_end", lambda *which: ends.append(end(*which)) or ends[-1])
    by_steps = fit_weibull(lifetimes)
    monkeypatch.setattr(ProfileIntervals, "_end", lambda *which: None)
    climbed = fit_weibull(lifetimes)
    assert len(ends) == 4
    assert None not in ends
    assert by_steps.shape_interval == pytest.approx(climbed.shape_interval, rel=1e-11)
    assert by_steps.scale_interval_hours == pytest.approx(climbed.scale_interval_hours, rel=1e-11)


def log_likelihood(lifetimes: Lifetimes, shape: float, scale: float) -> float:
    law = stats.weibull_min(shape, scale=scale)
    at_hour = np.where(lifetimes.is_exact, law.logpdf(lifetimes.lower_hours), 0)
    between = lifetimes.is_observed & ~lifetimes.is_exact
    upper = np.where(between, lifetimes.upper_hours, np.inf)
    with np.errstate(divide="ignore"):
        passed = np.log(law.sf(lifetimes.lower_hours) - law.sf(upper))
    return float(np.dot(lifetimes.weights, np.where(lifetimes.is_exact, at_hour, passed)))


def test_the_log_likelihood_is_that_of_the_distribution():
    lifetimes = Lifetimes(
        np.array([5.0, 8, 0, 3, 6]), np.array([5.0, math.inf, 9, 7, 20]), np.array([1.0, 2, 3, 1, 1.5])
    )
    fit = fit_weibull(lifetimes)
    assert fit.log_likelihood == pytest.approx(
        log_likelihood(lifetimes, fit.shape, fit.scale_hours), rel=1e-12
    )


def test_one_inspection_per_wheel_gives_a_fit_that_a_general_search_finds_too():
    lifetimes, fit = inspected(WHEELS), fit_weibull(inspected(WHEELS))
    search = optimize.minimize(
        lambda x: -log_likelihood(lifetimes, *np.exp(x)),
        [0.5, 3.5],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-12},
    )
    assert [fit.shape, fit.scale_hours] == pytest.approx(np.exp(search.x), rel=1e-6)
    assert fit.failures == 106
    assert fit.suspensions == 326


def test_very_narrow_bounds_tend_to_the_fit_of_known_hours():
    hours = np.array([120.0, 300, 310, 450, 800])
    known = fit_weibull(right_censored(hours, observed=[1] * 5))
    narrow = fit_weibull(Lifetimes(hours * (1 - 1e-7), hours * (1 + 1e-7)))
    assert (narrow.shape, narrow.scale_hours) == pytest.approx((known.shape, known.scale_hours), rel=1e-6)
    assert narrow.shape_interval == pytest.approx(known.shape_interval, rel=1e-6)


def test_a_weight_stands_for_equal_lifetimes():
    single = fit_weibull(right_censored([10, 10, 30, 30, 30], observed=[1, 1, 0, 0, 0]))
    weighted = fit_weibull(right_censored([10, 30], observed=[1, 0], weights=[2, 3]))
    assert weighted == single or weighted.shape == pytest.approx(single.shape, rel=1e-12)
    assert (weighted.failures, weighted.suspensions) == (2, 3)


def test_without_a_failure_there_is_a_bound_and_no_distribution():
    fit = fit_weibull(right_censored([4000, 6000], observed=[0, 0]))
    assert (fit.shape, fit.verdict, fit.is_estimated) == (None, "too_few", False)
    assert fit.rate_upper_per_hour == pytest.approx(-math.log(0.05) / 10_000, rel=1e-12)
    none, bound = fit.reasons
    assert (none.code, bound.code) == ("no_failures_observed", "mean_life_at_least")
    assert bound.values == {"hours": pytest.approx(3338.08, rel=1e-6), "confidence_percent": 95}


def test_no_lifetimes_give_no_distribution_either():
    fit = fit_weibull(right_censored([], observed=[]))
    assert (fit.verdict, fit.rate_upper_per_hour) == ("too_few", None)
    assert [reason.code for reason in fit.reasons] == ["no_failures_observed"]


@pytest.mark.parametrize(
    ("hours", "observed", "failures"),
    [
        ([100], [1], 1),
        ([100, 60, 100], [1, 0, 0], 1),
        ([100, 100, 100, 60], [1, 1, 1, 0], 3),
    ],
)
def test_failures_at_the_longest_life_only_give_no_shape(hours, observed, failures):
    fit = fit_weibull(right_censored(hours, observed=observed))
    assert (fit.shape, fit.verdict) == (None, "too_few")
    assert fit.reasons[0].code == "failures_only_at_longest_life"
    assert fit.reasons[0].values == {"failures": failures, "hours": 100}
    assert fit.rate_upper_per_hour > 0


@pytest.mark.parametrize("ends", [1, 2])
def test_one_or_two_failures_give_an_estimate_that_is_called_a_guess(ends):
    fit = fit_weibull(right_censored([100, 150, 300, 400], observed=[1, ends == 2, 0, 0]))
    assert fit.is_estimated
    assert fit.verdict == "too_few"
    assert fit.reasons[0].code == "too_few_failures_for_shape"
    assert fit.reasons[0].values["failures"] == ends


@pytest.mark.parametrize(
    ("lower", "upper", "code"),
    [
        ([10, 0], [math.inf, 20], "inspections_too_far_apart"),
        ([10, 0, 10], [math.inf, 10, math.inf], "inspections_too_far_apart"),
        ([0, 20], [10, math.inf], "failed_parts_no_older_than_running"),
        ([0, 0, 20, 8], [10, 12, math.inf, math.inf], "failed_parts_no_older_than_running"),
    ],
)
def test_inspections_that_fix_no_shape_are_named(lower, upper, code):
    lifetimes = Lifetimes(np.array(lower, dtype=float), np.array(upper, dtype=float))
    fit = fit_weibull(lifetimes)
    assert (fit.shape, fit.verdict) == (None, "too_few")
    assert fit.reasons[0].code == code


def test_an_exponential_sample_has_its_mean_as_scale():
    lifetimes = right_censored([100, 200, 300, 700], observed=[1, 1, 0, 1])
    assert likeliest_scale(lifetimes, shape=1) == pytest.approx(lifetimes.exposure_hours / 3, rel=1e-13)


def test_a_known_shape_gives_the_closed_form_between_inspections_too():
    lifetimes = right_censored([100, 200, 300, 700], observed=[1, 1, 0, 1])
    assert likeliest_scale(lifetimes, shape=2.5) == pytest.approx(
        (np.sum(lifetimes.lower_hours**2.5) / 3) ** (1 / 2.5), rel=1e-12
    )
    fit = fit_weibull(inspected(WHEELS))
    assert likeliest_scale(inspected(WHEELS), shape=fit.shape) == pytest.approx(fit.scale_hours, rel=1e-9)


def test_shape_one_has_the_scale_as_its_mean():
    assert mean_life_hours(1, scale_hours=321) == pytest.approx(321, rel=1e-14)
    assert mean_life_hours(1e-3, scale_hours=1) == math.inf


def test_the_confidence_must_be_a_share():
    with pytest.raises(ValueError, match="`confidence` must be between 0 and 1"):
        fit_weibull(published_lifetimes("W_ball"), confidence=95)


def test_a_higher_confidence_gives_a_wider_interval():
    narrow, wide = (fit_weibull(published_lifetimes("W_fan"), confidence=level) for level in (0.9, 0.99))
    assert (
        wide.shape_interval[0] < narrow.shape_interval[0] < narrow.shape_interval[1] < wide.shape_interval[1]
    )


@settings(max_examples=some_of(40))
@given(st.integers(0, 2**32 - 1), st.floats(0.5, 8), st.integers(4, 60), st.floats(1e-3, 1e2))
def test_a_change_of_unit_changes_the_scale_alone(seed, shape, size, factor):
    lifetimes = random_lifetimes(np.random.default_rng(seed), size=size, shape=shape)
    if why_no_maximum(lifetimes):
        return
    one = fit_weibull(lifetimes)
    other = fit_weibull(right_censored(lifetimes.lower_hours * factor, observed=lifetimes.is_observed))
    assert other.shape == pytest.approx(one.shape, rel=1e-9)
    assert other.scale_hours == pytest.approx(one.scale_hours * factor, rel=1e-9)
    assert other.shape_interval == pytest.approx(one.shape_interval, rel=1e-8)
    assert other.log_likelihood == pytest.approx(
        one.log_likelihood - one.failures * math.log(factor), rel=1e-9, abs=1e-8
    )


@settings(max_examples=some_of(40))
@given(st.integers(0, 2**32 - 1), st.floats(0.3, 8), st.integers(4, 60))
def test_no_distribution_near_the_fit_is_likelier(seed, shape, size):
    lifetimes = random_lifetimes(np.random.default_rng(seed), size=size, shape=shape)
    fit = fit_weibull(lifetimes)
    if fit.shape is None:
        assert why_no_maximum(lifetimes)
        return
    for b, s in ((1.01, 1), (0.99, 1), (1, 1.01), (1, 0.99)):
        assert log_likelihood(lifetimes, fit.shape * b, fit.scale_hours * s) <= fit.log_likelihood + 1e-9
    assert fit.shape_interval[0] < fit.shape < fit.shape_interval[1]
    assert fit.scale_interval_hours[0] < fit.scale_hours < fit.scale_interval_hours[1]


@given(st.lists(st.tuples(st.floats(0.1, 1e7), st.floats(0, 1e7), st.booleans()), min_size=1, max_size=12))
def test_any_bounds_give_a_fit_or_a_reason(rows):
    lower = np.array([min(one, two) for one, two, _ in rows])
    upper = np.array([max(one, two) if seen else math.inf for one, two, seen in rows])
    fit = fit_weibull(Lifetimes(lower, upper))
    assert fit.reasons
    if fit.shape is not None:
        assert fit.shape > 0
        assert fit.scale_hours > 0
        assert math.isfinite(fit.log_likelihood)


def test_lifetimes_from_a_second_to_a_century_fix_no_scale():
    inspected_seldom = Lifetimes(
        [1e6, 2, 0, 500, 1e6], [math.inf, math.inf, 2, 500, math.inf], [1e4, 1, 1e4, 1, 1e4]
    )
    never = Lifetimes([0, 0, 1000], [1e-9, 1e-9, 1000], [1, 1e4, 0.001])
    for lifetimes in (inspected_seldom, never):
        fit = fit_weibull(lifetimes)
        assert (fit.verdict, fit.shape) == ("too_few", None)
        assert fit.reasons[0].code == "scale_not_estimable"


@pytest.mark.parametrize("confidence", [0.01, 0.5, 0.95, 0.9999])
def test_intervals_close_where_the_likelihood_is_nearly_flat(confidence):
    fit = fit_weibull(
        Lifetimes([7828.1, 0, 100], [8839.3, math.inf, 7805.8], [1e4, 1, 1]), confidence=confidence
    )
    for value, (low, high) in ((fit.shape, fit.shape_interval), (fit.scale_hours, fit.scale_interval_hours)):
        assert low < value < high < math.inf


def test_open_ends_of_intervals_are_named():
    fit = fit_weibull(right_censored([100, 5000, 5000, 5000], observed=[1, 0, 0, 0]), confidence=0.9999)
    assert math.isinf(fit.scale_interval_hours[1])
    assert "scale_without_upper_bound" in {reason.code for reason in fit.reasons}
    assert math.isfinite(fit.shape_interval[1])
    assert "shape_without_upper_bound" not in {reason.code for reason in fit.reasons}


def test_the_values_of_a_reason_are_finite_numbers_or_none():
    verdict, reason = weibull._judge(5, shape=1.1, interval=(0.2, math.inf), confidence=0.95)
    assert (verdict, reason.values["shape_high"]) == ("random", None)
