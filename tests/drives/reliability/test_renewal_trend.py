import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.renewal_trend import fit_renewal_trend
from tests.drives.reliability.checks_reader import check, near


@pytest.mark.parametrize("name", ["G_crow", "G_rel"])
def test_it_gives_the_published_beta(name):
    given = check(name)["inputs"]
    trend = fit_renewal_trend(given["times"], end_hours=given.get("T", max(given["times"])))
    assert trend.beta == near(name, "beta")


def test_the_interval_of_beta_is_by_chi_square():
    times = [900, 1500, 1900, 2200, 2400, 2550, 2650, 2700]
    trend = fit_renewal_trend(times, end_hours=2750, confidence=0.9)
    expected = trend.beta * stats.chi2.ppf([0.05, 0.95], 16) / 16
    assert trend.beta_interval == pytest.approx(tuple(expected), rel=1e-10)


def test_renewals_that_come_ever_closer_are_getting_worse():
    trend = fit_renewal_trend([900, 1500, 1900, 2200, 2400, 2550, 2650, 2700], end_hours=2750)
    assert (trend.trend, trend.is_getting_worse) == ("faster", True)


def test_renewals_that_come_ever_later_are_slower():
    trend = fit_renewal_trend([5, 10, 20, 35, 50, 90, 140], end_hours=2750)
    assert (trend.trend, trend.is_getting_worse) == ("slower", False)


def test_even_renewals_show_no_trend():
    trend = fit_renewal_trend(range(100, 2001, 100), end_hours=2000)
    assert (trend.trend, trend.is_getting_worse) == ("none", False)


def test_the_interval_keeps_its_promise_for_a_steady_position():
    rng = np.random.default_rng(12)
    inside = 0
    for _ in range(2000):
        times = rng.uniform(0, 1000, max(2, rng.poisson(8)))
        low, high = fit_renewal_trend(times, end_hours=1000).beta_interval
        inside += low < 1 < high
    assert inside / 2000 == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(("hours", "end"), [([], 100), ([9, 9, 9], 9)])
def test_without_renewals_before_the_end_there_is_no_trend(hours, end):
    trend = fit_renewal_trend(hours, end_hours=end)
    assert (trend.beta, trend.trend) == (None, "too_few")


def test_two_renewals_give_a_beta_and_no_trend():
    trend = fit_renewal_trend([500, 900], end_hours=910)
    assert trend.beta > 1
    assert trend.trend == "too_few"


def test_three_renewals_close_to_the_end_are_a_trend():
    """By hand: 3 / (ln 100/97 + ln 100/98 + ln 100/99) is 49; chi-square with 6 degrees keeps it above 10."""
    trend = fit_renewal_trend([97, 98, 99], end_hours=100)
    assert trend.beta == pytest.approx(3 / np.log(100**3 / (97 * 98 * 99)))
    assert (trend.trend, trend.beta_interval[0] > 10) == ("faster", True)


@pytest.mark.parametrize(
    ("hours", "end", "words"),
    [
        ([0, 5], 10, "`hours` must all be more than 0"),
        ([5, 11], 10, r"`end_hours` must be 11 \(the last renewal\) or more, not 10"),
        ([math.nan], 10, r"`hours\[0\]` must be finite"),
        ([5], 2e7, "`end_hours` must be 10,000,000 or less"),
    ],
)
def test_it_refuses_what_is_no_record_of_renewals(hours, end, words):
    with pytest.raises(ValueError, match=words):
        fit_renewal_trend(hours, end_hours=end)


@given(st.lists(st.floats(0.1, 900), min_size=1, max_size=20), st.floats(0.01, 1000))
def test_a_change_of_unit_changes_no_beta(times, factor):
    one = fit_renewal_trend(times, end_hours=1000)
    other = fit_renewal_trend(np.array(times) * factor, end_hours=1000 * factor)
    assert other.beta == pytest.approx(one.beta, rel=1e-9)
