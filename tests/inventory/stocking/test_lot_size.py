import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.lead_time_demand import negative_binomial
from inventory.stocking.lot_size import (
    critical_stock,
    economic_order_quantity,
    economic_order_quantity_with_backorders,
    newsvendor,
    normal_newsvendor,
    whole_order_quantity,
    whole_order_quantity_with_backorders,
)

COSTS = st.floats(0.1, 100)


@given(fixed=COSTS, holding=COSTS, demand=COSTS)
def test_the_whole_lot_is_the_best_of_all(fixed, holding, demand):
    quantities = np.arange(1, 400)
    costs = fixed * demand / quantities + holding * quantities / 2
    best = whole_order_quantity(fixed, holding, demand)
    assert best.cost == pytest.approx(costs.min())
    assert best.cost >= economic_order_quantity(fixed, holding, demand).cost - 1e-9


@given(fixed=COSTS, holding=COSTS, demand=COSTS)
def test_dear_backorders_leave_the_plain_lot(fixed, holding, demand):
    plain = economic_order_quantity(fixed, holding, demand)
    dear = economic_order_quantity_with_backorders(fixed, holding, 1e12, demand)
    assert dear.quantity == pytest.approx(plain.quantity)
    assert whole_order_quantity_with_backorders(fixed, holding, 1e12, demand).cost == pytest.approx(
        whole_order_quantity(fixed, holding, demand).cost
    )


@given(mean=st.floats(0.1, 20), excess=st.floats(0, 3), over=COSTS, under=COSTS)
def test_the_season_buy_is_the_best_of_all(mean, excess, over, under):
    law = negative_binomial(mean, mean * (1 + excess))
    short = law.expected_above_each(300)
    costs = over * (np.arange(301) - mean + short) + under * short
    assert newsvendor(law, over, under).cost == pytest.approx(costs.min(), rel=1e-9)
    assert critical_stock(law, under, over) == newsvendor(law, over, under).quantity


def test_equal_costs_buy_the_mean_of_a_normal_demand():
    assert normal_newsvendor(50, 8, 1, 1).quantity == pytest.approx(50)


@pytest.mark.parametrize(
    ("arguments", "name"),
    [((0, 1, 1), "order_cost"), ((1, -1, 1), "holding_cost"), ((1, 1, float("nan")), "demand")],
)
def test_it_refuses_costs_out_of_range(arguments, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        economic_order_quantity(*arguments)
