"""What a demand says of itself, counted by hand: each figure is shown beside a recommendation."""

import pytest

from inventory.facts import fact
from inventory.stocking.demand_models import (
    CompoundDemand,
    GammaPoissonDemand,
    GivenDemand,
    IntermittentDemand,
    PoissonDemand,
)

JOBS = GammaPoissonDemand(3, 6, 0.8, 4)
SERIES = [0, 2, 0, 1, 0, 11, 0, 0, 0, 0, 2, 0, 6, 3, 0, 0]


def values(demand):
    return dict(demand.as_fact().values)


def test_a_rate_from_few_events_and_a_prior():
    assert values(JOBS) == pytest.approx(
        {
            "events": 3,
            "exposure_years": 6,
            "prior_events": 0.8,
            "prior_exposure_years": 4,
            "rate_per_year": 3.8 / 10,
        }
    )
    assert values(PoissonDemand(2.5)) == {"rate_per_year": 2.5}


def test_jobs_with_the_pieces_of_each():
    """Six pieces in three jobs are two a job."""
    demand = CompoundDemand(JOBS, [1, 4, 1])

    assert values(demand) == pytest.approx(
        {"jobs_per_year": 0.38, "jobs": 3, "least": 1, "most": 4, "rate_per_year": 0.76}
    )
    assert list(demand.sizes()) == pytest.approx([0, 2 / 3, 0, 0, 1 / 3])


def test_a_given_distribution_has_its_rate_or_that_of_the_lead_time():
    """Half a piece in 73 days, a fifth of a year, are two and a half a year."""
    basis = fact("worked_out_elsewhere")

    assert GivenDemand([0.5, 0.5], basis=basis).yearly_pieces(73.0) == pytest.approx(2.5)
    assert GivenDemand([0.5, 0.5], rate_per_year=1.0).yearly_pieces(73.0) == 1.0
    assert GivenDemand([0.5, 0.5], basis=basis).as_fact() == basis
    assert GivenDemand([0.5, 0.5]).sizes() is None


@pytest.mark.parametrize("given", [{}, {"pmf": [1.0], "pmf_over": lambda days: [1.0]}])
def test_one_distribution_is_given_and_not_two(given):
    with pytest.raises(ValueError, match="must be given, and only one of them"):
        GivenDemand(**given)


def test_a_record_by_periods():
    found = values(IntermittentDemand(SERIES, 12, "croston"))

    assert (found["periods"], found["periods_with_demand"], found["method"]) == (16, 6, "croston")
    assert found["rate_per_year"] == pytest.approx(12 * IntermittentDemand(SERIES, 1, "croston").per_period)
    assert IntermittentDemand(SERIES, 12).spread_test()[0] == 10
    assert list(IntermittentDemand([0, 2, 0, 2, 4], 12).sizes()) == pytest.approx([0, 0, 2 / 3, 0, 1 / 3])


def test_a_record_of_nothing_and_one_of_single_pieces():
    assert IntermittentDemand([0, 0, 0], 12).as_fact() == fact("no_demand_in_record", periods=3)
    assert IntermittentDemand([0, 1, 0, 1], 12).sizes() is None
    assert IntermittentDemand([0, 0], 12).sizes() is None


def test_a_steady_record_is_forecast_as_it_is_by_each_method():
    """Two pieces in each third period: Croston 2/3 from the first, SBA a twentieth less (Syntetos and Boylan 2005)."""
    steady = [0, 0, 2] * 8

    assert IntermittentDemand(steady, 12, "croston").per_period == pytest.approx(2 / 3)
    assert IntermittentDemand(steady, 12, "sba").per_period == pytest.approx(0.95 * 2 / 3)
    assert IntermittentDemand([2] * 9, 12, "tsb").per_period == pytest.approx(2.0)
