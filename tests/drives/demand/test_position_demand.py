"""The demand of each position over any time."""

from dataclasses import replace

import numpy as np
import pytest
from django.db import IntegrityError
from scipy import stats

from drives.demand.model_selection import select_model
from drives.demand.position_demand import (
    PositionDemand,
    UnitInService,
    demands_over,
    position_demands,
    store_demands,
    stored_demands,
)
from drives.demand.snapshot import load_demand_snapshot
from drives.models import StoredDemand
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.renewal_windows import mixture
from drives.reliability.weibull_uncertainty import LikelyWeibull
from tests.drives.demand.built_pools import demand_pools, event, pool, position, rate_priors
from tests.drives.demand.demand_records import LATER, day, ran, request, sprocket
from tests.drives.demand.test_model_selection import worn_pool
from tests.factories import BushItemFactory, PositionFactory

RATE = PositionDemand(pieces=3.0, years=6.0, prior_shape=0.8, prior_years=4.0)
LAWS = (LikelyWeibull(0.7, 4.0, 10_000.0), LikelyWeibull(0.3, 2.0, 8_000.0))
WORN = replace(RATE, unit=UnitInService(9000.0, 8760.0, LAWS))


def demands(*pools):
    priors = rate_priors(demand_pools(*pools))
    return position_demands(priors, [(one, select_model(one, priors.prior_of(one))) for one in pools])


def test_a_rate_from_few_events_gives_a_negative_binomial_distribution():
    found = RATE.over(365.0)
    assert found.pmf[:5] == pytest.approx(stats.nbinom(3.8, 10 / 11).pmf(np.arange(5)), abs=1e-12)
    assert found.mean == pytest.approx(0.38)


def test_a_unit_of_known_age_adds_its_renewals_under_each_law_that_the_record_leaves_possible():
    found, rate = WORN.over(365.0), RATE.over(365.0)
    under = [
        forecast_renewals(
            [9000.0], horizon_hours=8760.0, shape=law.shape, scale_hours=law.scale_hours
        ).chances
        for law in LAWS
    ]
    renewals = mixture([(law.chance, chances) for law, chances in zip(LAWS, under, strict=True)])
    assert found.pmf[:4] == pytest.approx(np.convolve(rate.pmf, renewals)[:4], abs=1e-5)
    assert found.mean == pytest.approx(rate.mean + np.dot(np.arange(len(renewals)), renewals), abs=1e-4)


def test_many_are_worked_out_together_as_each_by_itself():
    many = [replace(WORN, unit=replace(WORN.unit, age_hours=age)) for age in (0.0, 9000.0, 4000.0)]
    many = [RATE, *many, replace(many[0], pieces=1.0), RATE]
    found = demands_over(many, 90.0)
    assert found[0] is found[-1]
    for one, law in zip(many, found, strict=True):
        assert law.pmf == pytest.approx(one.over(90.0).pmf, abs=1e-12)


@pytest.mark.django_db
def test_they_come_back_as_they_were_stored():
    worn, rate, unknown, later = (PositionFactory().pk for _ in range(4))
    demands = {worn: WORN, rate: RATE}
    store_demands(demands, positions=[worn, rate, unknown], as_of=day(1))
    found = stored_demands()
    assert (found.of, found.as_of, found.calculated) == (demands, day(1), {worn, rate, unknown})
    store_demands({worn: RATE}, positions=[worn], as_of=day(2))
    found = stored_demands([worn, later])
    assert (found.of, found.as_of, found.calculated) == ({worn: RATE}, day(2), {worn})


@pytest.mark.django_db
@pytest.mark.parametrize(
    "part",
    [{"pieces": 1.0}, {"prior_years": 2.0}, {"age_hours": 5.0}, {"age_hours": 5.0, "hours_per_year": 100.0}],
)
def test_the_database_refuses_half_a_demand(part):
    with pytest.raises(IntegrityError, match="stored_demand"):
        StoredDemand.objects.create(position=PositionFactory(), as_of=day(1), **part)


def test_no_time_has_no_demand():
    assert WORN.over(0.0).pmf.tolist() == [1.0]


def test_the_mean_demands_of_the_positions_add_up_to_that_of_the_pool():
    found = pool(1, positions=[position(1), position(2)], events=[event(1, 1), event(2, 1), event(3, 2)])
    priors = rate_priors(demand_pools(found))
    selected = select_model(found, priors.prior_of(found))
    assert sum(one.over(365.0).mean for one in demands(found).values()) == pytest.approx(
        selected.rate_per_year
    )


def test_so_do_worn_ones_each_by_the_age_of_its_own_unit():
    found = worn_pool(sudden=2, ages=(100.0, 9500.0))
    priors = rate_priors(demand_pools(found))
    selected = select_model(found, priors.prior_of(found))
    each = demands(found)
    # The pool has the same laws on wider steps.
    assert sum(one.over(90.0).mean for one in each.values()) == pytest.approx(
        selected.demand.span(90.0).values["pieces_now"], rel=3e-3
    )
    assert each[2].over(90.0).mean > 5 * each[1].over(90.0).mean


def test_without_a_known_unit_the_rate_of_all_events_is_used():
    found = worn_pool(ages=(100.0,))
    found = replace(found, lives=tuple(life for life in found.lives if life.position_id == 1))
    each = demands(found)
    assert (each[2].pieces, each[2].unit) == (24.0, None)


def test_where_the_last_unit_for_good_came_off_a_new_one_begins():
    each = demands(worn_pool(ages=(100.0,)))
    assert (each[1].unit.age_hours, each[2].unit.age_hours) == (100.0, 0.0)


def test_the_unit_in_service_counts_and_not_one_removed():
    found = worn_pool(ages=(100.0, 200.0))
    assert {one.unit and one.unit.age_hours for one in demands(found).values()} == {100.0, 200.0}


def test_without_hours_per_year_the_age_is_not_used():
    worn = worn_pool()
    silent = pool(
        1,
        positions=[position(1, hours_per_year=None), position(2)],
        events=worn.events,
        lives=worn.lives,
        years=40.0,
    )
    assert demands(silent)[1].unit is None


@pytest.mark.django_db
def test_every_position_in_use_whose_part_is_known_has_a_demand():
    known, unknown = PositionFactory(), PositionFactory()
    gone = PositionFactory(in_use_until=day(10).date())
    for place in (known, gone):
        ran(place, sprocket(), 0)
    request(0, BushItemFactory())
    every = [known.pk, unknown.pk, gone.pk]
    found = load_demand_snapshot(day(LATER)).position_demands
    assert found.keys() & {*every} == {known.pk}
    assert found[known.pk].over(365.0).mean > 0
