import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from inventory.stocking.lead_time_demand import compound, from_pmf, negative_binomial, poisson
from inventory.stocking.service_levels import ServiceProfile

DEMANDS = st.builds(
    lambda mean, excess: negative_binomial(mean, mean * (1 + excess)), st.floats(0.01, 20), st.floats(0, 4)
)
SIZES = np.array([0, 0.5, 0.2, 0.3])


def several_at_once(jobs):
    return from_pmf(compound(poisson(jobs).pmf, SIZES))


def filled(demand, stock, sizes=None):
    """Fill rate of a base stock."""
    return 1 - ServiceProfile(demand, 1, sizes, most=stock).unfilled[stock]


@given(demand=DEMANDS, stock=st.integers(0, 30))
def test_pieces_are_conserved(demand, stock):
    profile = ServiceProfile(demand, 1, most=stock)
    net = profile.on_hand[stock] - profile.expected_backorders[stock]
    assert net == pytest.approx(stock - demand.mean, abs=1e-9)


@given(demand=DEMANDS, point=st.integers(-1, 30))
def test_with_quantity_one_fill_rate_and_cycle_service_are_the_same_number(demand, point):
    assert filled(demand, point + 1) == pytest.approx(demand.chance_within(point), abs=1e-12)


@given(demand=DEMANDS, point=st.integers(-1, 20), quantity=st.integers(1, 12))
def test_a_lot_averages_the_base_stocks_under_it(demand, point, quantity):
    single = ServiceProfile(demand, 1, most=point + quantity)
    lot = ServiceProfile(demand, quantity, most=point)
    for measure in ("unfilled", "expected_backorders", "on_hand"):
        mean = getattr(single, measure)[point + 1 : point + quantity + 1].mean()
        assert getattr(lot, measure)[point + 1] == pytest.approx(mean, rel=1e-9, abs=1e-9)


@given(demand=DEMANDS, quantity=st.integers(1, 9), target=st.floats(0.05, 0.999))
def test_the_reorder_point_found_is_the_smallest(demand, quantity, target):
    profile = ServiceProfile(demand, quantity)
    point = profile.smallest_for_fill_rate(target)
    assert 1 - profile.unfilled[point + 1] >= target - 1e-9
    if point:
        assert 1 - profile.unfilled[point] < target


def test_several_pieces_per_demand_are_filled_less_often_than_the_chance_says():
    demand = several_at_once(1.5)
    at_least = [1.0, 0.5, 0.3]
    direct = sum(demand.chance_within(4 - piece) * at_least[piece - 1] for piece in (1, 2, 3)) / 1.8
    assert filled(demand, 4, SIZES) == pytest.approx(direct, rel=1e-12)
    assert filled(demand, 4, SIZES) < filled(demand, 4)
    assert filled(demand, 0, SIZES) == 0


def test_several_pieces_per_demand_agree_with_a_simulation():
    random = np.random.default_rng(3)
    jobs = 200_000
    at = np.cumsum(random.exponential(1 / 1.5, jobs))
    pieces = random.choice(4, jobs, p=SIZES)
    total = np.concatenate([[0], np.cumsum(pieces)])
    before = total[:-1] - total[np.searchsorted(at, at - 1.0)]
    served = np.minimum(np.maximum(4 - before, 0), pieces).sum() / pieces.sum()
    assert filled(several_at_once(1.5), 4, SIZES) == pytest.approx(served, abs=0.006)


def test_long_distributions_are_summed_by_transform_to_the_same_figure():
    demand, sizes = poisson(30_000), np.full(900, 1 / 900)
    at_least = 1 - np.cumsum(sizes)
    within = stats.poisson.cdf(30_200 - np.arange(1, 901), 30_000)
    direct = float(within[:899] @ at_least[:-1] / (np.arange(900) @ sizes))
    assert filled(demand, 30_200, sizes) == pytest.approx(direct, abs=1e-7)
