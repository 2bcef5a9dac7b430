import numpy as np
import pytest

from inventory.stocking.lead_time_demand import convolve, negative_binomial, poisson
from inventory.stocking.min_max import best_min_max


def cost_by_markov_chain(law, point, top, holding, backorder, fixed):
    """Long-run cost of (s, S) from the stationary law of the position before ordering, no lead time."""
    deepest = point - len(law)
    states = np.arange(deepest, top + 1)
    moves = np.zeros((len(states), len(states)))
    for row, state in enumerate(states):
        start = top if state <= point else state
        for asked, chance in enumerate(law.pmf):
            moves[row, max(start - asked, deepest) - deepest] += chance
    moves /= moves.sum(axis=1, keepdims=True)
    system = np.vstack([moves.T - np.eye(len(states)), np.ones(len(states))])
    stationary = np.linalg.lstsq(system, np.append(np.zeros(len(states)), 1.0), rcond=None)[0]
    money = holding * np.maximum(states, 0) + backorder * np.maximum(-states, 0) + fixed * (states <= point)
    return float(stationary @ money)


@pytest.mark.parametrize("mean", [0.4, 2.0, 5.0])
@pytest.mark.parametrize("fixed", [0.0, 3.0, 25.0])
def test_no_other_pair_is_cheaper(mean, fixed):
    law = poisson(mean, tail_mass=1e-10) if fixed else negative_binomial(mean, 2 * mean, tail_mass=1e-10)
    best = best_min_max(law, holding_cost=1, backorder_cost=6, order_cost=fixed)
    own = cost_by_markov_chain(law, best.order_at, best.order_up_to, 1, 6, fixed)
    assert best.cost == pytest.approx(own, rel=1e-6)
    for point in range(best.order_at - 3, best.order_at + 4):
        for top in range(max(point + 1, best.order_up_to - 3), best.order_up_to + 4):
            assert cost_by_markov_chain(law, point, top, 1, 6, fixed) >= best.cost * (1 - 1e-6)


def test_a_lead_time_raises_both_levels():
    law = poisson(3)
    now = best_min_max(law, holding_cost=1, backorder_cost=9, order_cost=10)
    later = best_min_max(
        law, holding_cost=1, backorder_cost=9, order_cost=10, exposure=convolve(law, law, law)
    )
    assert later.order_at > now.order_at
    assert later.order_up_to > now.order_up_to


@pytest.mark.parametrize("name", ["holding_cost", "backorder_cost"])
def test_it_refuses_a_cost_out_of_range(name):
    costs = {"holding_cost": 1, "backorder_cost": 1, "order_cost": 1, name: 0}
    with pytest.raises(ValueError, match=f"`{name}`"):
        best_min_max(poisson(1), **costs)
    with pytest.raises(ValueError, match="`demand`"):
        best_min_max(poisson(0), holding_cost=1, backorder_cost=1, order_cost=1)
