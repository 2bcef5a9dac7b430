import math

import numpy as np
import pytest
from scipy import stats

from drives.reliability.wear_trend import (
    falling_pairs,
    fit_wear_trend,
    forecast_limit,
    hours_to_limit,
    median_interval_hours,
    split_by_chain,
)
from tests.examples import some_of


def one(hours, elongation):
    lifetimes = split_by_chain(hours, elongation)
    assert len(lifetimes) == 1
    return lifetimes[0]


def grown(seed, size, ties=False):
    rng = np.random.default_rng(seed)
    hours = np.sort(rng.integers(1, 9_000, size)).astype(float)
    seen = 0.1 + 0.0003 * hours + rng.normal(0, 0.08, size)
    return hours, np.round(seen, 1) if ties else seen


def test_a_worked_example_by_hand():
    # Pairs of (0, 0.1), (1000, 0.5), (2000, 1.1), (3000, 1.6) in % per 1,000 h: 0.4 0.5 0.5 0.6 0.55 0.5.
    chain = one([0, 1000, 2000, 3000], [0.1, 0.5, 1.1, 1.6])
    line = fit_wear_trend([chain])
    assert line.slope_percent_per_hour == pytest.approx(0.0005)
    assert (line.slope_low, line.slope_high) == pytest.approx((0.0004, 0.0006))
    # Intercepts 0.1 0.0 0.1 0.1, median 0.1: (3.0 - 0.1) / 0.0005 = 5,800 h, of which 3,000 have run.
    assert hours_to_limit(3.0, chain, line).hours == pytest.approx(2_800)


@pytest.mark.parametrize("size", [3, 4, 7, 12, 30])
@pytest.mark.parametrize("ties", [False, True])
@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_slope_and_interval_agree_with_another_program(size, ties, confidence):
    hours, seen = grown(size, size, ties)
    theirs = stats.theilslopes(seen, hours, alpha=confidence)
    lifetimes = split_by_chain(hours, seen, drop_percent=5)
    ours = fit_wear_trend(lifetimes, confidence=confidence)
    assert (ours.slope_percent_per_hour, ours.slope_low, ours.slope_high) == pytest.approx(
        (theirs.slope, theirs.low_slope, theirs.high_slope), rel=1e-12
    )


@pytest.mark.parametrize("size", [3, 5, 9, 25])
def test_the_distribution_of_falling_pairs_gives_the_exact_chance_of_another_program(size):
    hours, seen = grown(200 + size, size)
    assert len(set(hours)) == size
    chances = falling_pairs(split_by_chain(hours, seen, drop_percent=5))
    falling = sum(seen[first] > seen[second] for first in range(size) for second in range(first + 1, size))
    theirs = stats.kendalltau(hours, seen, method="exact")
    assert chances.sum() == pytest.approx(1)
    assert min(1, 2 * chances[: falling + 1].sum()) == pytest.approx(theirs.pvalue, rel=1e-9)


def test_three_readings_reach_little_confidence():
    # Of the 6 orders of three errors one makes all pairs rise and one makes all fall: 1 - 2/6.
    line = fit_wear_trend([one([0, 900, 2000], [0.1, 0.6, 0.9])])
    assert line.confidence == 0.95
    assert line.reached == pytest.approx(2 / 3)


@pytest.mark.parametrize("sizes", [(6,), (4, 3), (2, 2, 2, 3)])
def test_the_reached_confidence_is_how_often_the_interval_holds_the_slope(sizes):
    rng = np.random.default_rng(20)
    runs = [np.arange(1.0, size + 1) * 1_000 for size in sizes]
    held, trials = 0, some_of(3_000)
    for _ in range(trials):
        seen = [0.2 + 0.0005 * run + rng.normal(0, 0.05, run.size) for run in runs]
        lifetimes = [
            chain for r, s in zip(runs, seen, strict=True) for chain in split_by_chain(r, s, drop_percent=5)
        ]
        line = fit_wear_trend(lifetimes, confidence=0.9)
        held += line.slope_low <= 0.0005 <= line.slope_high
    spread = math.sqrt(line.reached * (1 - line.reached) / trials)
    assert line.reached <= 0.9 + 1e-12
    assert held / trials > line.reached - 4 * spread


def test_pairs_of_different_chains_are_not_compared():
    lifetimes = split_by_chain([0, 1000, 1100, 2100, 2200, 3200], [0.1, 1.1, 0.1, 1.2, 0.1, 1.3])
    line = fit_wear_trend(lifetimes)
    assert line.chains == 3
    assert line.slope_percent_per_hour == pytest.approx(0.0011)


def test_a_fall_beyond_what_readings_differ_by_is_a_new_chain():
    lifetimes = split_by_chain([0, 900, 1800, 2000, 3000], [0.2, 1.4, 2.6, 0.1, 1.2])
    assert [chain.hours.tolist() for chain in lifetimes] == [[0, 900, 1800], [2000, 3000]]


def test_a_slow_fall_is_a_new_chain_too_and_a_small_one_is_not():
    assert [len(chain) for chain in split_by_chain([0, 1, 2, 3], [1.0, 0.9, 0.8, 0.6])] == [3, 1]
    assert len(split_by_chain([0, 1, 2], [1.0, 0.8, 1.1])) == 1


def test_a_recorded_renewal_begins_a_chain_where_nothing_falls():
    lifetimes = split_by_chain([0, 900, 1800], [0.1, 0.2, 0.9], renewed_before=[1])
    assert [len(chain) for chain in lifetimes] == [1, 2]


def test_hours_that_run_backwards_are_refused_by_place():
    with pytest.raises(
        ValueError, match=r"`hours\[2\]` must not be below the hours before it: 100 after 900"
    ):
        split_by_chain([0, 900, 100], [0.1, 0.5, 0.6])


@pytest.mark.parametrize(
    ("hours", "seen", "named"),
    [
        ([0, 1], [0.1], "elongation_percent"),
        ([0, -1], [0.1, 0.2], r"hours\[1\]"),
        ([0, 1], [0.1, 21], r"elongation_percent\[1\]"),
        ([0, math.nan], [0.1, 0.2], r"hours\[1\]"),
    ],
)
def test_bad_readings_are_named(hours, seen, named):
    with pytest.raises(ValueError, match=named):
        split_by_chain(hours, seen)


@pytest.mark.parametrize(
    ("hours", "seen"), [([], []), ([5], [0.3]), ([5, 900], [0.3, 0.8]), ([5, 5, 5], [0.3, 0.4, 0.5])]
)
def test_too_few_readings_have_no_trend(hours, seen):
    assert fit_wear_trend(split_by_chain(hours, seen)) is None


def test_a_chain_that_does_not_grow_reaches_no_limit():
    chain = one([0, 1000, 2000], [0.5, 0.5, 0.5])
    assert hours_to_limit(3.0, chain, fit_wear_trend([chain])) is None


def test_a_slope_that_may_be_none_leaves_the_end_open():
    chain = one([0, 1000, 2000, 3000], [0.5, 0.4, 0.8, 0.9])
    left = hours_to_limit(3.0, chain, fit_wear_trend([chain]))
    assert left.high is None
    assert left.low < left.hours


def test_a_limit_already_passed_leaves_no_hours():
    chain = one([0, 1000, 2000], [0.5, 1.8, 3.1])
    left = hours_to_limit(3.0, chain, fit_wear_trend([chain]))
    assert left.is_passed
    assert (left.hours, left.low, left.high) == (0, 0, 0)


def test_the_interval_holds_the_middle_and_shrinks_with_the_limit():
    hours, seen = grown(3, 9)
    chain = split_by_chain(hours, seen, drop_percent=5)[0]
    line = fit_wear_trend([chain])
    far, near = hours_to_limit(3.5, chain, line), hours_to_limit(3.0, chain, line)
    assert far.low <= far.hours <= far.high
    assert near.hours < far.hours
    assert near.low < far.low


def test_the_interval_does_not_reach_over_a_new_chain():
    assert median_interval_hours(split_by_chain([0, 900, 2000, 2050, 3000], [0.1, 1.2, 2.7, 0.1, 1.0])) == 950
    assert median_interval_hours(split_by_chain([7], [0.1])) is None


def test_the_forecast_by_hand():
    # Sorted slopes of the example above: 0.4 0.5 0.5 0.5 0.55 0.6. Falling pairs of four readings: 1 3 5 6 5 3 1 of 24 orders
    # (Kendall), so the true slope is above 0.6 in 1 of 24, above 0.55 in 4 of 24.
    chain = one([0, 1000, 2000, 3000], [0.1, 0.5, 1.1, 1.6])
    forecast = forecast_limit(3.0, chain, fit_wear_trend([chain]))
    assert forecast.chances[:2] == pytest.approx([1 / 24, 4 / 24])
    # Intercepts with 0.6: 0.1 -0.1 -0.1 -0.2, median -0.1: 3.1 / 0.0006 = 5,166.7 h, of which 3,000 have run.
    assert forecast.hours[0] == pytest.approx(2_166.67, abs=0.01)
    hours, chance = forecast.early(0.01)
    assert (hours, chance) == (forecast.hours[0], pytest.approx(1 / 24))
    assert forecast.early(0.1)[1] == 0.1
    assert forecast.hours[0] < forecast.early(0.1)[0] < forecast.hours[1]
    assert forecast.chance_within(forecast.early(0.1)[0]) == pytest.approx(0.1)
    assert forecast.chance_within(0) == 0


@pytest.mark.parametrize("chance", [0.1, 0.3])
@pytest.mark.parametrize("size", [6, 15])
def test_the_limit_comes_early_as_often_as_the_forecast_says(chance, size):
    """Many chains of known wear: the true limit lies before the early date with that chance, within chance."""
    dice, early = np.random.default_rng(size), 0
    slope, limit, tries = 0.0005, 3.0, some_of(2_000)
    for _ in range(tries):
        hours = np.linspace(0, 3_000, size)
        chain = one_of(hours, slope * hours + dice.normal(0, 0.03, size))
        found, _ = forecast_limit(limit, chain, fit_wear_trend([chain])).early(chance)
        early += limit / slope - 3_000 < found
    # Three standard deviations, and 0.02 for the scatter of the intercept, which the forecast leaves out.
    assert early / tries == pytest.approx(chance, abs=3 * math.sqrt(chance * (1 - chance) / tries) + 0.02)


def one_of(hours, elongation):
    return split_by_chain(hours, elongation, drop_percent=5)[-1]
