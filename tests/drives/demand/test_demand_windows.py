"""What each position asks for over any time."""

from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from drives.demand.demand_windows import PositionAsk, Wearing, asks_of, position_asks
from drives.demand.families import Families, Prior
from drives.demand.model_selection import choose
from drives.reliability.renewal_forecast import renewal_distributions
from tests.drives.demand.made import asking, plant, pool, position
from tests.drives.demand.test_model_selection import worn_pool
from tests.drives.demand.world import LATER, ask, day, ran, sprocket
from tests.factories import BushItemFactory, PositionFactory

PRIOR = Prior(0.8, 4.0, "a family", 8, "A family lends.")
RATE = PositionAsk(1, pieces=3.0, years=6.0, prior=PRIOR)
WORN = replace(RATE, wearing=Wearing(9000.0, 8760.0, 4.0, 10_000.0))


def asks(*pools):
    made = plant(*pools)
    families = Families(made)
    return asks_of(made, families, [(one, choose(one, families.prior_of(one))) for one in pools])


def test_a_rate_that_few_events_tell_is_a_negative_binomial_law():
    law = RATE.over(365.0)
    assert law.pmf[:5] == pytest.approx(stats.nbinom(3.8, 10 / 11).pmf(np.arange(5)), abs=1e-12)
    assert RATE.rate_per_year == pytest.approx(0.38)


def test_a_unit_of_known_age_adds_its_renewals():
    law, rate = WORN.over(365.0), RATE.over(365.0)
    renewals = renewal_distributions([9000.0], horizon_hours=8760.0, shape=4.0, scale_hours=10_000.0)[0]
    assert law.pmf[:4] == pytest.approx(np.convolve(rate.pmf, renewals)[:4], abs=1e-15)
    assert law.mean == pytest.approx(rate.mean + np.dot(np.arange(len(renewals)), renewals))


def test_no_time_asks_for_nothing():
    assert WORN.over(0.0).pmf.tolist() == [1.0]


def test_the_positions_of_a_pool_ask_for_what_the_pool_asks_for_in_the_mean():
    found = pool(1, positions=[position(1), position(2)], asked=[asking(1, 1), asking(2, 1), asking(3, 2)])
    families = Families(plant(found))
    choice = choose(found, families.prior_of(found))
    assert sum(ask.rate_per_year for ask in asks(found).values()) == pytest.approx(choice.rate_per_year)


def test_so_do_worn_ones_each_by_the_age_of_its_own_unit():
    found = worn_pool(sudden=2, ages=(100.0, 9500.0))
    families = Families(plant(found))
    choice = choose(found, families.prior_of(found))
    each = asks(found)
    assert sum(ask.over(90.0).mean for ask in each.values()) == pytest.approx(
        choice.demand.over(90.0, 0.0).mean
    )
    assert each[2].over(90.0).mean > 5 * each[1].over(90.0).mean


def test_where_no_unit_is_known_to_sit_the_position_asks_at_the_rate_of_all_events():
    found = worn_pool(ages=(100.0,))
    each = asks(found)
    assert (each[1].pieces, each[2].pieces) == (0.0, 24.0)
    assert each[2].wearing is None


def test_the_running_unit_counts_and_not_one_that_came_off():
    found = worn_pool(ages=(100.0, 200.0))
    assert {ask.wearing and ask.wearing.age_hours for ask in asks(found).values()} == {100.0, 200.0}


def test_without_yearly_hours_the_age_says_nothing_of_when():
    worn = worn_pool()
    silent = pool(
        1,
        positions=[position(1, hours_per_year=None), position(2)],
        asked=worn.asked,
        lives=worn.lives,
        years=40.0,
    )
    assert asks(silent)[1].wearing is None


@pytest.mark.django_db
def test_every_position_in_use_whose_part_is_known_asks():
    known, unknown = PositionFactory(), PositionFactory()
    gone = PositionFactory(in_use_until=day(10).date())
    for place in (known, gone):
        ran(place, sprocket(), 0)
    ask(0, BushItemFactory())
    found = position_asks(day(LATER))
    assert set(found) == {known.pk}
    assert found[known.pk].rate_per_year > 0
    assert unknown.pk not in found
