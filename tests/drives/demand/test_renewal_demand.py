import doctest
from math import gamma

import pytest

import drives.demand.renewal_demand
from drives.demand.renewal_demand import renewal_demand
from drives.reliability.renewal_forecast import forecast_renewals
from inventory.facts import fact
from inventory.stocking.mixtures import gamma_lead_time

AGES = [0.0, 3000.0, 9000.0]


def demand(ages=AGES, **changes):
    given = {"shape": 2.5, "scale_hours": 12_000, "hours_per_year": 6000, "lead_time_days": 45}
    return renewal_demand(ages, **{**given, **changes})


def test_calendar_days_become_hours_run():
    found = demand().over(73, 0)
    expected = forecast_renewals(AGES, horizon_hours=1200, shape=2.5, scale_hours=12_000)
    assert found.pmf == pytest.approx(expected.chances)


def test_a_year_has_the_pieces_expected_in_the_coming_year():
    year = forecast_renewals(AGES, horizon_hours=6000, shape=2.5, scale_hours=12_000)
    assert demand().yearly_pieces(45) == pytest.approx(year.mean)
    assert demand([0.0]).yearly_pieces(45) < demand([12_000.0]).yearly_pieces(45)


def test_a_year_of_too_many_lives_has_the_long_run_pace():
    assert demand(shape=1, scale_hours=2, lead_time_days=1).yearly_pieces(1) == pytest.approx(9000)


@pytest.mark.parametrize("spread", [4, 20, 45])
def test_random_failures_in_a_varying_lead_time_are_as_poisson(spread):
    mixed = demand(shape=1, scale_hours=10_000, lead_time_varies=True).over(45, spread)
    closed = gamma_lead_time(1.8 / 365, 45, spread)
    shown = min(len(mixed), len(closed))
    assert mixed.pmf[:shown] == pytest.approx(closed.pmf[:shown], abs=1e-8)


@pytest.mark.parametrize(
    ("changes", "name"),
    [
        ({"ages": []}, "ages_hours"),
        ({"ages": [-1.0]}, "ages_hours"),
        ({"ages": [5.0] * 1001, "lead_time_varies": True}, "ages_hours"),
        ({"shape": 0.05}, "shape"),
        ({"scale_hours": 0}, "scale_hours"),
        ({"hours_per_year": 0}, "hours_per_year"),
        ({"hours_per_year": 8761}, "hours_per_year"),
    ],
)
def test_it_names_what_is_out_of_range(changes, name):
    with pytest.raises(ValueError, match=f"`{name}"):
        demand(**changes)


def test_a_lead_time_of_too_many_lives_is_refused_by_name():
    with pytest.raises(ValueError, match="`lead_time_days` must be shorter"):
        demand(shape=1, scale_hours=0.5).over(45, 0)
    with pytest.raises(ValueError, match="`lead_time_sd_days` must be smaller"):
        demand(scale_hours=100, lead_time_days=10, lead_time_varies=True).over(10, 90)
    with pytest.raises(ValueError, match="`lead_time_days` must be smaller"):
        demand(scale_hours=2, lead_time_varies=True).over(45, 5)


def test_without_a_horizon_it_says_that_it_holds_for_the_first_lead_time():
    assert demand().span(45.0) == fact("holds_for_first_lead_time", lead_time_days=45.0)


@pytest.mark.parametrize("spread", [0.0, 20.0])
def test_within_a_horizon_the_busiest_lead_time_counts(spread):
    ages = [2000.0, 2500.0, 3000.0]
    now, until = demand(ages, shape=5), demand(ages, shape=5, horizon_days=730)
    assert until.over(45.0, spread).mean > 3 * now.over(45.0, spread).mean
    assert until.yearly_pieces(45) == now.yearly_pieces(45)
    said = until.span(45.0).values
    assert (said["horizon_days"], 0 < said["from_day"] <= 730) == (730, True)
    assert said["pieces_then"] == pytest.approx(until.over(45.0, 0.0).mean, rel=1e-3)
    assert said["pieces_now"] == pytest.approx(now.over(45.0, 0.0).mean, abs=1e-3)
    # The elementary renewal theorem: one piece a mean life.
    mean_life_days = 12_000 * gamma(1 + 1 / 5) * 365 / 6000
    assert said["pieces_in_the_long_run"] == pytest.approx(3 * 45 / mean_life_days, rel=1e-6)


def test_a_horizon_without_ageing_changes_nothing():
    now, until = (demand(shape=1, horizon_days=horizon).over(45.0, 0.0) for horizon in (0, 365))
    assert until.pmf[:5] == pytest.approx(now.pmf[:5], abs=1e-4)


def test_the_worked_example_runs():
    assert doctest.testmod(drives.demand.renewal_demand).failed == 0
