from itertools import combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.survival import log_rank, permutation_test, survival_curve
from tests.drives.reliability.checks_reader import check, near, published_lifetimes, random_lifetimes
from tests.examples import some_of


def test_it_gives_the_published_survival_of_the_fans():
    curve = survival_curve(published_lifetimes("W_fan"))
    assert curve.hours.tolist() == check("W_fan_KM")["expected"]["time"]
    assert curve.survival.tolist() == near("W_fan_KM", "survival")
    assert curve.cumulative_hazard.tolist() == near("W_fan_KM", "cumhaz")
    assert curve.survival_error.tolist() == near("W_fan_KM", "greenwood_se")


def test_a_general_program_gives_the_same_survival_and_interval():
    lifetimes = random_lifetimes(np.random.default_rng(4), size=80, shape=1.7)
    curve, seen = survival_curve(lifetimes), lifetimes.is_observed
    other = stats.ecdf(
        stats.CensoredData(uncensored=lifetimes.lower_hours[seen], right=lifetimes.lower_hours[~seen])
    ).sf
    with pytest.warns(RuntimeWarning, match="undefined at some observations"):
        interval = other.confidence_interval(method="log-log")
    at = np.searchsorted(other.quantiles, curve.hours)
    assert curve.survival == pytest.approx(other.probabilities[at], rel=1e-12)
    known = curve.survival > 0
    assert curve.survival_low[known] == pytest.approx(interval.low.probabilities[at][known], rel=1e-9)
    assert curve.survival_high[known] == pytest.approx(interval.high.probabilities[at][known], rel=1e-9)


def test_without_censoring_it_is_the_share_still_there():
    curve = survival_curve(right_censored([3, 1, 2, 2], observed=[1] * 4))
    assert curve.survival.tolist() == pytest.approx([0.75, 0.25, 0])
    assert [curve.survival_at(hours) for hours in (0.5, 1, 2.5, 9)] == pytest.approx([1, 0.75, 0.25, 0])
    assert np.isnan(curve.survival_low[-1])
    assert curve.survival_error[-1] == 0


def test_without_a_failure_the_curve_is_empty():
    assert survival_curve(right_censored([3, 1], observed=[0, 0])).hours.size == 0


def test_it_refuses_failures_between_two_inspections():
    with pytest.raises(ValueError, match="`lifetimes` must be exact or right-censored"):
        survival_curve(Lifetimes(np.array([1.0]), np.array([2.0])))


@given(st.integers(0, 2**32 - 1), st.integers(1, 30))
def test_a_weight_stands_for_equal_lifetimes(seed, size):
    rng = np.random.default_rng(seed)
    lifetimes, weights = random_lifetimes(rng, size=size, shape=2), rng.integers(1, 4, size)
    weighted = survival_curve(
        right_censored(lifetimes.lower_hours, observed=lifetimes.is_observed, weights=weights)
    )
    repeated = survival_curve(
        right_censored(
            np.repeat(lifetimes.lower_hours, weights), observed=np.repeat(lifetimes.is_observed, weights)
        )
    )
    assert weighted.survival == pytest.approx(repeated.survival, rel=1e-12)
    assert weighted.survival_error == pytest.approx(repeated.survival_error, rel=1e-12)


def test_the_log_rank_test_is_that_of_a_general_program():
    rng = np.random.default_rng(6)
    one, two = random_lifetimes(rng, size=25, shape=2), random_lifetimes(rng, size=30, shape=1)
    parts = [
        stats.CensoredData(uncensored=x.lower_hours[x.is_observed], right=x.lower_hours[~x.is_observed])
        for x in (one, two)
    ]
    other, own = stats.logrank(*parts), log_rank(one, two)
    assert own.p_value == pytest.approx(other.pvalue, rel=1e-9)
    sides = [stats.logrank(*parts, alternative=side).pvalue for side in ("less", "greater")]
    assert own.p_one_sided == pytest.approx(min(sides), rel=1e-9)


def test_samples_without_a_failure_cannot_be_distinguished():
    running = right_censored([5, 6], observed=[0, 0])
    for compare in (log_rank, permutation_test):
        assert (compare(running, running).p_value, compare(running, running).p_one_sided) == (1, 1)


def test_three_that_failed_before_four_that_run_are_one_split_of_thirty_five():
    short = right_censored([100, 220, 390], observed=[1] * 3)
    long = right_censored([600, 700, 800, 900], observed=[0] * 4)
    found = permutation_test(short, long)
    assert found.p_value == found.p_one_sided == pytest.approx(1 / 35)
    assert found.surplus > 0
    assert (found.method, found.ways) == ("exact_permutation", 35)


@pytest.mark.parametrize(("first", "second"), [(2, 3), (3, 3), (3, 4), (3, 6), (5, 5)])
def test_where_all_lasted_shorter_a_general_rank_test_gives_the_same_exact_p(first, second):
    short, long = np.linspace(300, 900, first), np.linspace(1000, 4000, second)
    other = stats.mannwhitneyu(short, long, alternative="less", method="exact")
    own = permutation_test(
        right_censored(short, observed=[1] * first), right_censored(long, observed=[1] * second)
    )
    assert own.p_one_sided == pytest.approx(other.pvalue, rel=1e-12)


@settings(max_examples=some_of(40))
@given(st.integers(0, 2**32 - 1), st.integers(1, 5), st.integers(1, 5))
def test_it_counts_the_splits_by_the_surplus_of_the_log_rank_test(seed, first, second):
    rng = np.random.default_rng(seed)
    lifetimes = random_lifetimes(rng, size=first + second, shape=1.5)
    hours, seen = np.ceil(lifetimes.lower_hours / 200), lifetimes.is_observed

    def part(places):
        return right_censored(hours[places], observed=seen[places])

    everyone = range(first + second)
    surplus = [
        log_rank(part(list(chosen)), part([place for place in everyone if place not in chosen])).surplus
        for chosen in combinations(everyone, first)
    ]
    expected = np.mean(np.abs(surplus) >= abs(surplus[0]) - 1e-9)
    found = permutation_test(part(list(range(first))), part(list(range(first, first + second))))
    assert found.p_value == pytest.approx(expected)
    assert found.surplus == pytest.approx(surplus[0], abs=1e-12)


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        (right_censored([], observed=[]), right_censored([1], observed=[1]), "at least one lifetime each"),
        (
            right_censored([1], observed=[1], weights=[2]),
            right_censored([1], observed=[1]),
            "must have no weights",
        ),
        (
            right_censored([1] * 11, observed=[1] * 11),
            right_censored([1] * 11, observed=[1] * 11),
            "at most 200000 ways to be shared out, not 705432: use `log_rank`",
        ),
    ],
)
def test_it_refuses_what_it_cannot_count(first, second, words):
    with pytest.raises(ValueError, match=words):
        permutation_test(first, second)
