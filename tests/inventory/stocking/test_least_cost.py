import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.lead_time_demand import compound, from_pmf, poisson
from inventory.stocking.least_cost import (
    StockingCost,
    economic_order_quantity,
    erlang_loss,
    is_tie,
    least_cost,
    none_unless_worth_it,
    spare_value,
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


TROYER = StockingCost(6600, 0, 40_000)
"""A price of 30,000 at 22 % a year, 40,000 saved by a spare that is there."""


@pytest.mark.parametrize(
    ("drives", "years_away", "pays"), [(1, 0.25, False), (4, 0.25, True), (4, 1.5, False)]
)
def test_a_shared_spare_that_is_out_for_long_saves_less_than_rate_times_loss(drives, years_away, pays):
    value = spare_value(0.05 * drives, years_away, TROYER)
    # By hand: with one spare the share m / (1 + m) finds it away, m = rate times years away.
    pipeline = 0.05 * drives * years_away
    assert value.share_away == pytest.approx(pipeline / (1 + pipeline))
    assert value.cost_of_some == pytest.approx(6600 + 0.05 * drives * 40_000 * value.share_away)
    assert (value.cost_of_some < value.cost_of_none) == pays


RATES = st.floats(0.001, 5)


@given(rate=RATES, away=st.floats(0.001, 3), missing=st.floats(10, 1e6), holding=st.floats(1, 1e5))
def test_at_its_break_even_a_single_spare_costs_as_much_as_none(rate, away, missing, holding):
    value = spare_value(rate, away, StockingCost(holding, 7, missing))
    at_price = spare_value(rate, away, StockingCost(value.holding_up_to, 7, missing))
    single = value.holding_up_to + rate * (7 + missing * at_price.share_away)
    assert single == pytest.approx(at_price.cost_of_none)
    if value.rate_from is not None:
        pipeline = value.rate_from * away
        saved = value.rate_from * missing * (1 - erlang_loss(1, pipeline))
        assert saved == pytest.approx(holding)
    else:
        assert all(
            spare_value(10.0**n, away, StockingCost(holding, 0, missing)).holding_up_to <= holding
            for n in range(9)
        )


def test_the_share_that_finds_no_spare_agrees_with_a_simulation():
    random, rate, spares = np.random.default_rng(5), 2.0, 2
    moments = np.cumsum(random.exponential(1 / rate, 200_000))
    away = random.gamma(0.5, 0.6 / 0.5, len(moments))
    back, missed = [0.0] * spares, 0
    for moment, time in zip(moments.tolist(), away.tolist(), strict=True):
        back.sort()
        if back[0] > moment:
            missed += 1
        else:
            back[0] = moment + time
    assert missed / len(moments) == pytest.approx(erlang_loss(spares, rate * 0.6), abs=0.006)


def test_a_tie_does_not_buy():
    # 3.3 drives save in a year exactly what the spare costs.
    value = spare_value(0.165, 0.0, TROYER)
    assert value.cost_of_some == pytest.approx(value.cost_of_none)
    best = least_cost(poisson(0.165 * 0.01), 0.166, 1, TROYER)
    assert best.stocked
    assert not none_unless_worth_it(best, value).stocked
    assert none_unless_worth_it(best, spare_value(0.2, 0.01, TROYER)) == best
    assert is_tie(100.0, 95.0)
    assert not is_tie(100.0, 94.0)


def test_it_refuses_prices_out_of_range():
    with pytest.raises(ValueError, match="`holding_per_piece`"):
        StockingCost(0, 1, 1)
    with pytest.raises(ValueError, match="`missing`"):
        StockingCost(1, 1, float("nan"))
    with pytest.raises(ValueError, match="`order_quantity`"):
        least_cost(poisson(10_000), 1e5, None, StockingCost(1, 1, 1))
