import numpy as np
import pytest
from scipy import integrate, stats

from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.renewal_windows import AgingUnits, renewal_windows
from drives.reliability.weibull import mean_life_hours

SHAPE, SCALE = 3.0, 400.0
YEAR = 365.0


def windows(*ages, shape=SHAPE, scale=SCALE, horizon=YEAR, longest=YEAR):
    units = AgingUnits(ages, shape, scale)
    return renewal_windows([(1.0, [units])], horizon_days=horizon, longest_days=longest)


def step_of(found, days):
    return round(days / found.step_days)


@pytest.mark.parametrize(("shape", "days"), [(0.9, 40.0), (2.0, 7.0), (3.0, 63.0), (8.0, 300.0)])
def test_a_window_that_begins_now_is_the_forecast_from_present_ages(shape, days):
    found = windows(100.0, shape=shape).chances(0, days)
    expected = forecast_renewals([100.0], horizon_hours=days, shape=shape, scale_hours=SCALE).chances
    assert found[: len(expected)] == pytest.approx(expected[: len(found)], abs=2e-4)
    assert found.sum() == pytest.approx(1.0)


@pytest.mark.parametrize("age", [0.0, 700.0, 1500.0])
def test_units_far_beyond_their_scale_are_forecast_too(age):
    found = windows(age).chances(0, 20.0)
    expected = forecast_renewals([age], horizon_hours=20.0, shape=SHAPE, scale_hours=SCALE).chances
    assert found[: len(expected)] == pytest.approx(expected[: len(found)], abs=2e-4)


@pytest.mark.parametrize("start", [0, 137, None])
def test_groups_of_units_add_up_and_windows_that_begin_together_are_as_each_alone(start):
    short, long = AgingUnits((30.0, 350.0, 90.0), SHAPE, 300.0), AgingUnits((10.0,), SHAPE, 900.0)
    span = {"horizon_days": YEAR, "longest_days": YEAR}
    both = renewal_windows([(1.0, [short, long])], **span)
    first, second = (renewal_windows([(1.0, [one])], **span) for one in (short, long))
    for days, found in zip([20.0, 63.0], both.chances_over(start, [20.0, 63.0]), strict=True):
        expected = np.convolve(first.chances(start, days), second.chances(start, days))
        assert found == pytest.approx(expected[: len(found)], abs=1e-12)
        assert expected[len(found) :].sum() < 1e-12


@pytest.mark.parametrize("start", [0, 137, 300, None])
def test_random_failures_are_poisson_in_every_window(start):
    found = windows(0.0, 50.0, 900.0, shape=1.0)
    chances = found.chances(start if start is None else step_of(found, start), 63.0)
    assert chances[:6] == pytest.approx(stats.poisson(3 * 63 / SCALE).pmf(np.arange(6)), abs=1e-4)


def test_a_later_window_agrees_with_a_simulation():
    random, runs, ages = np.random.default_rng(8), 200_000, (30.0, 350.0)
    found = windows(*ages)
    start = step_of(found, 200.0)
    begin, counts = start * found.step_days, np.zeros(runs, dtype=int)
    for age in ages:
        clock = SCALE * ((age / SCALE) ** SHAPE + random.exponential(size=runs)) ** (1 / SHAPE) - age
        while (clock <= begin + 63.0).any():
            counts += (clock > begin) & (clock <= begin + 63.0)
            clock += SCALE * random.weibull(SHAPE, runs)
    seen = np.bincount(counts, minlength=5)[:5] / runs
    # Four standard errors of a share.
    assert found.chances(start, 63.0)[:5] == pytest.approx(seen, abs=4 * 0.5 / np.sqrt(runs))


def test_the_long_run_has_the_pace_of_one_piece_a_mean_life_and_the_residual_life_of_equilibrium():
    found = windows(10.0, 20.0, 30.0)
    mean = mean_life_hours(SHAPE, scale_hours=SCALE)
    assert found.per_day_in_the_long_run == pytest.approx(3 / mean)
    chances = found.chances(None, 63.0)
    assert np.dot(np.arange(len(chances)), chances) == pytest.approx(3 * 63 / mean, rel=1e-4)
    life = stats.weibull_min(SHAPE, scale=SCALE)
    # Cox 1962: the time to the next renewal has the density of survival over mean life.
    none = 1 - integrate.quad(life.sf, 0, 63.0)[0] / mean
    assert chances[0] == pytest.approx(none**3, abs=1e-5)


def test_the_busiest_window_is_found_and_serves_worst():
    found = windows(20.0, 40.0, 60.0, 80.0)
    start = found.busiest(63.0)
    worst = np.cumsum(found.chances(start, 63.0))
    every = [np.cumsum(found.chances(one, 63.0)) for one in range(0, step_of(found, YEAR), 8)]
    for pieces in (0, 1, 2):
        assert worst[pieces] <= min(one[pieces] for one in every) + 0.002
    assert found.expected_within(63.0, start) > 2 * found.expected_within(63.0)
    assert 0 < start * found.step_days < YEAR


def test_laws_of_lives_are_mixed_for_all_units_together():
    units = [AgingUnits((100.0, 300.0), SHAPE, scale) for scale in (300.0, 600.0)]
    span = {"horizon_days": YEAR, "longest_days": YEAR}
    mixed = renewal_windows([(0.25, units[:1]), (0.75, units[1:])], **span)
    first, second = (renewal_windows([(1.0, [one])], **span) for one in units)
    parts = [one.chances(step_of(one, 90.0), 63.0) for one in (first, second)]
    expected = 0.25 * np.pad(parts[0], (0, 20))[:6] + 0.75 * np.pad(parts[1], (0, 20))[:6]
    assert mixed.chances(step_of(mixed, 90.0), 63.0)[:6] == pytest.approx(expected, abs=2e-3)


def test_without_units_nothing_is_renewed():
    found = renewal_windows([(1.0, [])], horizon_days=YEAR, longest_days=YEAR)
    assert (found.chances(None, 63.0).tolist(), found.busiest(63.0)) == ([1.0], 0)


def test_lives_too_short_to_follow_are_refused_by_name():
    with pytest.raises(ValueError, match="`horizon_days`"):
        windows(0.0, scale=0.05)
