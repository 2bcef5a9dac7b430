import doctest

import pytest

import drives.demand.renewal_demand
from drives.demand.renewal_demand import renewal_demand
from drives.reliability.renewal_forecast import forecast_renewals
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


def test_the_worked_example_runs():
    assert doctest.testmod(drives.demand.renewal_demand).failed == 0
