import doctest

import numpy as np
import pytest

import inventory.stocking.policy_replay
from inventory.stocking.lead_time_demand import poisson
from inventory.stocking.policy_replay import pieces_met
from inventory.stocking.service_levels import ServiceProfile


@pytest.mark.parametrize(("reorder_point", "order_up_to"), [(0, 1), (1, 4), (3, 8)])
def test_a_poisson_record_is_met_as_its_fill_rate_says(reorder_point, order_up_to):
    random, rate = np.random.default_rng(2), 1 / 20
    days = np.cumsum(random.exponential(1 / rate, 60_000)).tolist()
    met = pieces_met(
        days, [1] * len(days), lead_days=30, reorder_point=reorder_point, order_up_to=order_up_to
    )
    profile = ServiceProfile(poisson(1.5), order_up_to - reorder_point)
    assert met.mean() == pytest.approx(1 - profile.unfilled[reorder_point + 1], abs=0.01)


def test_a_job_larger_than_the_stock_is_met_in_part_and_orders_whole_lots():
    met = pieces_met([0, 10, 31], [5, 1, 4], lead_days=30, reorder_point=1, order_up_to=3)
    # Three of five are there, four are ordered, then two; three pieces wait when the four arrive, so that one is left.
    assert met.tolist() == [3.0, 0.0, 1.0]


def test_the_worked_example_runs():
    assert doctest.testmod(inventory.stocking.policy_replay).failed == 0
