import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.stocking.lead_time_demand import compound_poisson, negative_binomial, poisson
from inventory.stocking.service_levels import (
    fill_rate_at,
    holding_and_backorder_cost,
    one_for_one,
    periodic_review,
    reorder_point_order_quantity,
    smallest_reorder_point_for_fill_rate,
)

LAWS = st.builds(
    lambda mean, excess: negative_binomial(mean, mean * (1 + excess)), st.floats(0.01, 20), st.floats(0, 4)
)


@given(law=LAWS, stock=st.integers(0, 30))
def test_pieces_are_conserved(law, stock):
    service = one_for_one(law, stock)
    assert service.on_hand - service.expected_backorders == pytest.approx(stock - law.mean, abs=1e-9)


@given(law=LAWS, point=st.integers(-1, 30))
def test_with_quantity_one_fill_rate_and_cycle_service_are_the_same_number(law, point):
    service = reorder_point_order_quantity(law, point, 1)
    assert service.fill_rate == pytest.approx(service.cycle_service_level, abs=1e-12)
    assert service.ready_rate == pytest.approx(law.chance_within(point + 1), abs=1e-12)


@given(law=LAWS, point=st.integers(-1, 20), quantity=st.integers(1, 12))
def test_a_lot_averages_the_base_stocks_under_it(law, point, quantity):
    levels = [one_for_one(law, stock) for stock in range(point + 1, point + quantity + 1)]
    service = reorder_point_order_quantity(law, point, quantity)
    for measure in ("fill_rate", "ready_rate", "expected_backorders", "on_hand"):
        mean = np.mean([getattr(level, measure) for level in levels])
        assert getattr(service, measure) == pytest.approx(mean, rel=1e-9, abs=1e-9)


@given(law=LAWS, quantity=st.integers(1, 9), target=st.floats(0.05, 0.999))
def test_the_reorder_point_found_is_the_smallest(law, quantity, target):
    point = smallest_reorder_point_for_fill_rate(law, quantity, target)
    assert reorder_point_order_quantity(law, point, quantity).fill_rate >= target - 1e-9
    if point:
        assert reorder_point_order_quantity(law, point - 1, quantity).fill_rate < target


def test_several_pieces_per_demand_are_filled_less_often_than_the_chance_says():
    sizes = [0, 0.5, 0.2, 0.3]
    law = compound_poisson(1.5, sizes)
    at_least = [1.0, 0.5, 0.3]
    direct = sum(law.chance_within(4 - piece) * at_least[piece - 1] for piece in (1, 2, 3)) / 1.8
    assert fill_rate_at(law, 4, sizes) == pytest.approx(direct, rel=1e-12)
    assert fill_rate_at(law, 4, sizes) < fill_rate_at(law, 4)
    assert fill_rate_at(law, 0, sizes) == 0


def test_several_pieces_per_demand_agree_with_a_simulation():
    random = np.random.default_rng(3)
    jobs, sizes = 200_000, np.array([0, 0.5, 0.2, 0.3])
    at = np.cumsum(random.exponential(1 / 1.5, jobs))
    asked = random.choice(4, jobs, p=sizes)
    total = np.concatenate([[0], np.cumsum(asked)])
    before = total[:-1] - total[np.searchsorted(at, at - 1.0)]
    served = np.minimum(np.maximum(4 - before, 0), asked).sum() / asked.sum()
    assert fill_rate_at(compound_poisson(1.5, sizes), 4, sizes) == pytest.approx(served, abs=0.006)


def test_long_laws_are_summed_by_transform_to_the_same_figure():
    law, sizes = poisson(30_000), np.full(900, 1 / 900)
    at_least = 1 - np.cumsum(sizes)
    within = stats.poisson.cdf(30_200 - np.arange(1, 901), 30_000)
    direct = float(within[:899] @ at_least[:-1] / (np.arange(900) @ sizes))
    assert fill_rate_at(law, 30_200, sizes) == pytest.approx(direct, abs=1e-7)


def test_review_without_delay_is_the_newsvendor_of_the_interval():
    service = periodic_review(poisson(0), poisson(3), 4)
    assert service.cycle_service_level == pytest.approx(stats.poisson.cdf(4, 3))
    assert service.fill_rate == pytest.approx(1 - poisson(3).expected_above(4) / 3)


def test_cost_counts_both_sides():
    service = one_for_one(poisson(1.0), 2)
    both = holding_and_backorder_cost(service, 3, 7)
    assert both == pytest.approx(3 * service.on_hand + 7 * service.expected_backorders)


@pytest.mark.parametrize(
    ("point", "quantity", "name"),
    [
        (-2, 1, "reorder_point"),
        (0.5, 1, "reorder_point"),
        (0, 0, "order_quantity"),
        (0, None, "order_quantity"),
    ],
)
def test_it_refuses_levels_out_of_range(point, quantity, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        reorder_point_order_quantity(poisson(1.0), point, quantity)
