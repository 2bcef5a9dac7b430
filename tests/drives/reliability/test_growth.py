import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from drives.reliability.growth import fit_growth
from tests.drives.reliability.checks_reader import check, near


def test_it_gives_the_published_fit_of_an_observation_that_ended_at_a_set_time():
    given = check("G_crow")["inputs"]
    growth = fit_growth(given["times"], end_hours=given["T"])
    assert growth.beta == near("G_crow", "beta")
    assert growth.beta_unbiased == near("G_crow", "beta_unbiased")
    assert growth.rate_factor == near("G_crow", "lambda")
    assert growth.intensity_per_hour == near("G_crow", "intensity")
    assert growth.hours_between == near("G_crow", "MTBF")


def test_it_gives_the_known_fit_of_an_observation_that_stopped_with_the_last():
    growth = fit_growth(check("G_rel")["inputs"]["times"])
    assert growth.beta == near("G_rel", "beta")
    assert growth.rate_factor == near("G_rel", "lambda")
    assert growth.trend == "slower_and_slower"


@pytest.mark.parametrize(("end", "degrees"), [(2750, 16), (None, 14)])
def test_the_interval_of_beta_is_by_chi_square(end, degrees):
    times = [900, 1500, 1900, 2200, 2400, 2550, 2650, 2700]
    growth = fit_growth(times, end_hours=end, confidence=0.9)
    expected = growth.beta * stats.chi2.ppf([0.05, 0.95], degrees) / 16
    assert growth.beta_interval == pytest.approx(tuple(expected), rel=1e-10)


def test_a_position_whose_renewals_come_ever_closer_is_named():
    growth = fit_growth([900, 1500, 1900, 2200, 2400, 2550, 2650, 2700], end_hours=2750)
    assert growth.is_getting_worse
    assert growth.reason.startswith("This position eats parts faster and faster")


def test_even_renewals_show_no_trend():
    growth = fit_growth(range(100, 2001, 100), end_hours=2000)
    assert (growth.trend, growth.is_getting_worse) == ("steady", False)


def test_the_interval_keeps_its_promise_for_a_steady_position():
    rng = np.random.default_rng(12)
    inside = 0
    for _ in range(2000):
        times = rng.uniform(0, 1000, max(2, rng.poisson(8)))
        low, high = fit_growth(times, end_hours=1000).beta_interval
        inside += low < 1 < high
    assert inside / 2000 == pytest.approx(0.95, abs=0.02)


@pytest.mark.parametrize(
    ("hours", "end", "words"),
    [
        ([], 100, "0 renewals show no trend"),
        ([50], None, "1 renewals show no trend"),
        ([9, 9, 9], 9, "at the end"),
    ],
)
def test_too_few_renewals_give_a_reason_and_no_law(hours, end, words):
    growth = fit_growth(hours, end_hours=end)
    assert (growth.beta, growth.trend) == (None, "too_few")
    assert words in growth.reason


def test_two_renewals_give_a_beta_and_no_trend():
    growth = fit_growth([500, 900], end_hours=910)
    assert growth.beta > 1
    assert growth.trend == "too_few"


@pytest.mark.parametrize(
    ("hours", "end", "words"),
    [
        ([0, 5], 10, "`hours` must all be more than 0"),
        ([5, 11], 10, r"`end_hours` must be 11 \(the last renewal\) or more, not 10"),
        ([], None, "`end_hours` must be given"),
        ([math.nan], 10, r"`hours\[0\]` must be finite"),
        ([5], 2e7, "`end_hours` must be 10,000,000 or less"),
    ],
)
def test_it_refuses_what_is_no_history(hours, end, words):
    with pytest.raises(ValueError, match=words):
        fit_growth(hours, end_hours=end)


@given(st.lists(st.floats(0.1, 900), min_size=1, max_size=20), st.floats(0.01, 1000))
def test_a_change_of_unit_changes_no_beta(times, factor):
    one = fit_growth(times, end_hours=1000)
    other = fit_growth(np.array(times) * factor, end_hours=1000 * factor)
    assert other.beta == pytest.approx(one.beta, rel=1e-9)
    assert other.rate_factor * (1000 * factor) ** other.beta == pytest.approx(len(times), rel=1e-9)
