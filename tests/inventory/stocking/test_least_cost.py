import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.lead_time_demand import compound, from_pmf, poisson
from inventory.stocking.least_cost import (
    StockingCost,
    economic_order_quantity,
    erlang_loss,
    least_cost,
)
from inventory.stocking.service_levels import ServiceProfile

COSTS = st.floats(0.1, 100)


@given(fixed=COSTS, holding=COSTS, demand=COSTS)
def test_the_whole_lot_is_the_cheapest_of_all(fixed, holding, demand):
    quantities = np.arange(1, 400)
    costs = fixed * demand / quantities + holding * quantities / 2
    best = economic_order_quantity(fixed, holding, demand)
    assert costs[best - 1] == pytest.approx(costs.min())


@pytest.mark.parametrize(
    ("arguments", "name"),
    [((0, 1, 1), "order_cost"), ((1, -1, 1), "holding_cost"), ((1, 1, float("nan")), "demand")],
)
def test_it_refuses_costs_out_of_range(arguments, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        economic_order_quantity(*arguments)


@given(stock=st.integers(0, 40), pipeline=st.floats(0.01, 30))
def test_erlang_agrees_with_its_definition(stock, pipeline):
    demand = poisson(pipeline, tail_mass=1e-16)
    pmf = np.append(demand.pmf, np.zeros(60))[: stock + 1]
    assert erlang_loss(stock, pipeline) == pytest.approx(pmf[-1] / pmf.sum(), rel=1e-9, abs=1e-15)


def yearly(demand, rate, point, quantity, cost, sizes=None):
    profile = ServiceProfile(demand, quantity, sizes, most=point)
    orders = cost.order * rate / quantity
    return cost.holding_per_piece * profile.on_hand[-1] + orders + cost.missing * rate * profile.unfilled[-1]


@given(
    pipeline=st.floats(0.001, 8),
    quantity=st.integers(1, 8),
    missing=st.floats(0, 1e5),
    holding=st.floats(0.5, 200),
    several=st.booleans(),
)
def test_least_cost_is_the_least_of_all_reorder_points(pipeline, quantity, missing, holding, several):
    sizes = np.array([0, 0.6, 0.4]) if several else None
    demand = poisson(pipeline) if sizes is None else from_pmf(compound(poisson(pipeline).pmf, sizes))
    cost, rate = StockingCost(holding, 12, missing), 8 * demand.mean
    best = least_cost(demand, rate, quantity, cost, sizes)
    costs = [yearly(demand, rate, point, quantity, cost, sizes) for point in range(40)]
    assert best.cost_of_some == pytest.approx(min(costs), rel=1e-9)
    assert best.annual_cost == pytest.approx(min(min(costs), rate * (12 + missing)), rel=1e-9)
    assert best.stocked == (best.cost_of_some < best.cost_of_none)


@given(pipeline=st.floats(0.01, 5), order=st.floats(0, 200), missing=st.floats(100, 1e4))
def test_the_order_cost_chooses_the_quantity(pipeline, order, missing):
    cost = StockingCost(20, order, missing)
    demand = poisson(pipeline)
    best = least_cost(demand, 8 * pipeline, None, cost)
    every = [least_cost(demand, 8 * pipeline, quantity, cost).cost_of_some for quantity in range(1, 60)]
    assert best.cost_of_some == pytest.approx(min(every), rel=1e-9)


def test_a_rare_cheap_downtime_is_not_worth_an_expensive_piece():
    # D. Troyer, Efficient Plant, 2018-11-20: 0.05 failures a year, 40,000 saved each, price 30,000; at a yearly
    # holding of 22 % the piece costs 6,600 and saves 2,000.
    best = least_cost(poisson(0.05 * 90 / 365), 0.05, 1, StockingCost(6600, 0, 40000))
    assert (best.stocked, best.reorder_point, best.order_up_to) == (False, -1, 0)
    assert best.annual_cost == pytest.approx(2000)


def test_it_refuses_prices_out_of_range():
    with pytest.raises(ValueError, match="`holding_per_piece`"):
        StockingCost(0, 1, 1)
    with pytest.raises(ValueError, match="`missing`"):
        StockingCost(1, 1, float("nan"))
    with pytest.raises(ValueError, match="`order_quantity`"):
        least_cost(poisson(10_000), 1e5, None, StockingCost(1, 1, 1))
