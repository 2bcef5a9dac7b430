import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, special, stats

from drives.reliability import renewal_process
from drives.reliability.discretised_renewals import chances_over_many_lifetimes
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.renewal_process import cumulative_hazard, renewal_table
from tests.drives.reliability.checks_reader import check, named, near
from tests.drives.reliability.second_methods import (
    expected_renewals,
    expected_renewals_by_steps,
    first_failures,
    quantile,
    variance,
)
from tests.examples import some_of

# Weibull distributions of mean 1 by their squared coefficient of variation, as the published tables name them.
TABLES = {"R_T1": 0.25, "R_T2": 2.0}


def shape_with(squared_variation: float) -> float:
    return optimize.brentq(
        lambda b: special.gamma(1 + 2 / b) / special.gamma(1 + 1 / b) ** 2 - 1 - squared_variation,
        0.3,
        9,
        xtol=1e-14,
    )


@pytest.mark.parametrize("name", ["R_1.5", "R_2", "R_3"])
def test_it_gives_the_renewal_function_that_the_series_gives(name):
    given = check(name)["inputs"]
    found = expected_renewals(given["t"], shape=given["shape"])
    assert found.tolist() == near(name, "M")


@pytest.mark.parametrize("name", TABLES)
def test_it_gives_the_published_tables(name):
    shape = shape_with(TABLES[name])
    scale = 1 / special.gamma(1 + 1 / shape)
    found = expected_renewals(check(name)["inputs"]["t"], shape=shape, scale=scale)
    assert found.tolist() == near(name, "M")


def test_the_steps_give_the_renewal_function_of_an_erlang_distribution():
    found = expected_renewals_by_steps(lambda t: 1 - np.exp(-t) * (1 + t), until=check("R_E2")["inputs"]["t"])
    assert found[-1] == near("R_E2", "M")
    times = np.linspace(0, 3, found.size)
    assert found == pytest.approx(times / 2 - 1 / 4 + np.exp(-2 * times) / 4, abs=1e-9)


@pytest.mark.parametrize("shape", [1.2, 2, 3.7])
def test_two_methods_give_one_renewal_function(shape):
    by_steps = expected_renewals_by_steps(lambda t: -np.expm1(-(t**shape)), until=2.0, steps=2000)
    by_panels = expected_renewals(np.linspace(0, 2, 2001), shape=shape)
    assert by_steps == pytest.approx(by_panels, abs=2e-7)


def test_shape_one_renews_at_a_constant_rate():
    times = np.array([0, 1e-9, 0.005, 0.8, 20])
    assert expected_renewals(times, shape=1) == pytest.approx(times, rel=1e-12)


@pytest.mark.parametrize("name", named("F_unit"))
def test_one_position_uses_parts_as_published(name):
    given, row = check(name)["inputs"], check(name)
    chances = forecast_renewals(
        [given["age"]], horizon_hours=given["horizon"], shape=given["shape"], scale_hours=given["scale"]
    ).chances
    assert chances[:5] == pytest.approx(row["expected"]["pmf0_4"], rel=row["rel_tol"], abs=row["abs_tol"])
    assert np.dot(chances, np.arange(chances.size)) == near(name, "mean")
    assert chances.sum() == pytest.approx(1, abs=1e-12)


def test_the_bearing_cages_fail_as_published():
    given, expected = check("F_cage")["inputs"], check("F_cage")["expected"]
    ages, units = zip(*given["ages"], strict=True)
    forecast = first_failures(
        ages, horizon=given["horizon"], shape=given["shape"], scale=given["scale"], units=units
    )
    assert forecast.mean == near("F_cage", "mean")
    assert variance(forecast) == near("F_cage", "variance")
    assert np.cumsum(forecast.chances)[:13].tolist() == near("F_cage", "cdf0_12")
    for name, share in (("q50", 0.5), ("q90", 0.9), ("q95", 0.95), ("q99", 0.99)):
        assert quantile(forecast, share) == expected[name]


def test_renewed_cages_fail_a_little_more_often():
    given = check("F_cage")["inputs"]
    ages, units = zip(*given["ages"], strict=True)
    shape, scale = given["shape"], given["scale"]
    first = first_failures(ages, horizon=300, shape=shape, scale=scale, units=units)
    renewed = forecast_renewals(np.repeat(ages, units), horizon_hours=300, shape=shape, scale_hours=scale)
    assert first.mean < renewed.mean < first.mean * 1.001


@pytest.mark.parametrize("ages", [[0], [0, 0.5, 40], [3] * 7])
def test_shape_one_forgets_the_age_and_gives_poisson(ages):
    forecast = forecast_renewals(ages, horizon_hours=2.3, shape=1, scale_hours=1)
    count = np.arange(forecast.chances.size)
    assert forecast.chances == pytest.approx(stats.poisson.pmf(count, 2.3 * len(ages)), abs=1e-13)
    assert forecast.mean == pytest.approx(2.3 * len(ages), rel=1e-12)
    assert variance(forecast) == pytest.approx(2.3 * len(ages), rel=1e-10)


@pytest.mark.parametrize(
    ("shape", "reach", "tolerance"),
    [
        (0.2, 5, 2e-8),
        (0.5, 5, 4e-9),
        (0.72, 12, 1e-8),
        (1.3, 30, 1e-9),
        (2, 3, 1e-12),
        (4.4, 6, 1e-11),
        (15, 4, 1e-10),
    ],
)
def test_panels_and_steps_give_the_same_chances(shape, reach, tolerance):
    ages = np.array([0, 1e-3, 0.4, 1.1])
    panels = renewal_table(shape, float(reach)).chances(ages)
    steps = chances_over_many_lifetimes(ages, reach=reach, shape=shape)
    width = min(panels.shape[1], steps.shape[1])
    assert panels[:, :width] == pytest.approx(steps[:, :width], abs=tolerance)


def test_a_simulation_of_old_units_agrees():
    rng = np.random.default_rng(7)
    size, shape, age, horizon = 400_000, 0.8, 0.3, 2.5
    at = (age**shape - np.log(rng.random(size))) ** (1 / shape) - age
    used = np.zeros(size, dtype=int)
    while (at <= horizon).any():
        used += at <= horizon
        at += rng.weibull(shape, size)
    seen = np.bincount(used, minlength=12)[:12] / size
    found = forecast_renewals([age], horizon_hours=horizon, shape=shape, scale_hours=1).chances[:12]
    assert seen == pytest.approx(found, abs=5 * np.sqrt(0.25 / size))


def test_too_few_panels_show_in_the_residual():
    coarse = renewal_process._build(8.0, 3.0, 4)
    fine = renewal_table(8.0, 3.0)
    assert coarse.residual > 1e-9
    assert fine.residual < 1e-11
    wrong = np.abs(coarse.chances(np.zeros(1))[:, :6] - fine.chances(np.zeros(1))[:, :6]).max()
    assert wrong < 100 * coarse.residual


@pytest.mark.parametrize("shape", [0.1, 0.35, 0.9, 1, 2.7, 9, 40])
@pytest.mark.parametrize("reach", [1e-4, 0.2, 1.0, 3.0])
def test_the_expected_number_is_the_mean_of_the_chances(shape, reach):
    table = renewal_table(shape, reach)
    assert table.residual < 1e-10
    expected = table.expected(np.array([reach]))[0]
    assert table.chances(np.zeros(1))[0, 1:].sum() == pytest.approx(expected, rel=1e-10)


def test_a_large_fleet_is_near_normal_and_exact_in_its_mean():
    ages = np.linspace(0, 3000, 700)
    law = {"horizon_hours": 500, "shape": 1.8, "scale_hours": 1000}
    forecast = forecast_renewals(np.repeat(ages, 3), **law)
    count = np.arange(forecast.chances.size)
    assert forecast.chances.sum() == pytest.approx(1, abs=1e-9)
    assert np.dot(forecast.chances, count) == pytest.approx(forecast.mean, rel=1e-9)
    assert quantile(forecast, 0.5) == pytest.approx(forecast.mean, abs=1)


def test_very_old_units_end_at_once():
    found = forecast_renewals([1e7], horizon_hours=1000, shape=6, scale_hours=1000).chances
    fresh = forecast_renewals([0], horizon_hours=1000, shape=6, scale_hours=1000).chances
    assert found[0] == 0
    assert found[1:] == pytest.approx(fresh[: found.size - 1], abs=1e-9)


def test_horizons_of_many_lifetimes_go_by_the_steps():
    forecast = forecast_renewals([0], horizon_hours=100_000, shape=2, scale_hours=1000)
    mean = math.gamma(1.5)
    square = 1 / mean**2
    assert forecast.mean == pytest.approx(100 / mean + (square - 2) / 2, abs=1e-4)


def test_without_a_horizon_or_a_unit_nothing_is_needed():
    law = {"shape": 2, "scale_hours": 1000}
    for forecast in (
        forecast_renewals([5, 6], horizon_hours=0, **law),
        forecast_renewals([], horizon_hours=10, **law),
    ):
        assert forecast.chances.tolist() == [1]
        assert (forecast.mean, quantile(forecast, 0.99)) == (0, 0)


@settings(max_examples=some_of(40))
@given(
    st.floats(0.3, 6),
    st.lists(st.floats(0, 4), min_size=1, max_size=6),
    st.floats(0.01, 3),
)
def test_every_forecast_is_a_distribution_that_covers_the_first_failures(shape, ages, reach):
    forecast = forecast_renewals(ages, horizon_hours=reach, shape=shape, scale_hours=1)
    first = first_failures(ages, horizon=reach, shape=shape)
    assert forecast.chances.min() >= 0
    assert forecast.chances.sum() == pytest.approx(1, abs=1e-10)
    assert forecast.chances[0] == pytest.approx(first.chances[0], abs=1e-12)
    assert forecast.mean >= first.mean - 1e-12


@given(st.floats(0.2, 9), st.floats(0, 5), st.floats(0, 5))
def test_the_hazard_from_an_age_is_that_of_another_program(shape, age, horizon):
    found = -np.expm1(-cumulative_hazard(np.array([age]), horizon, shape=shape))[0]
    law = stats.weibull_min(shape)
    expected = -math.expm1(law.logsf(age + horizon) - law.logsf(age))
    assert found == pytest.approx(expected, rel=1e-6, abs=1e-9)


def test_the_hazard_keeps_its_digits_for_a_short_while_at_a_great_age():
    found = cumulative_hazard(np.array([1.0]), 1e-12, shape=2)[0]
    assert found == pytest.approx(2e-12, rel=1e-9)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"ages_hours": [-1]}, r"`ages_hours\[0\]` must be from 0"),
        ({"ages_hours": [math.nan]}, r"`ages_hours\[0\]` must be finite"),
        ({"horizon_hours": -1}, "`horizon_hours` must be from 0"),
        (
            {"horizon_hours": 1e7, "scale_hours": 1},
            "`horizon_hours` must be 886.227 or less for this shape and scale",
        ),
        ({"shape": 0}, "`shape` must be from 0.1 to 1,000"),
        ({"shape": math.inf}, "`shape` must be finite"),
        ({"scale_hours": 0}, "`scale_hours` must be more than 0"),
    ],
)
def test_it_refuses_what_is_out_of_range(change, words):
    base = {"ages_hours": [1], "horizon_hours": 10, "shape": 2, "scale_hours": 10}
    with pytest.raises(ValueError, match=words):
        forecast_renewals(**{**base, **change})
