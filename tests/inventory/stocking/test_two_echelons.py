from itertools import pairwise, product

import numpy as np
import pytest

from inventory.stocking.lead_time_demand import negative_binomial, poisson
from inventory.stocking.two_echelons import Base, availability, marginal_buys, metric, vari_metric

LAWS = [poisson(1.2), negative_binomial(0.6, 1.1), poisson(2.0)]
PRICES = [700, 300, 450]


def enumerated(budget, weights):
    best = np.inf
    for stock in product(range(9), repeat=3):
        if sum(pieces * price for pieces, price in zip(stock, PRICES, strict=True)) <= budget:
            left = sum(w * law.expected_above(s) for w, law, s in zip(weights, LAWS, stock, strict=True))
            best = min(best, left)
    return best


@pytest.mark.parametrize("weights", [[1, 1, 1], [1, 8, 3]])
def test_every_stop_is_the_best_for_its_money(weights):
    for buy in marginal_buys(LAWS, PRICES, budget=3600, weights=weights):
        assert buy.total_ebo == pytest.approx(enumerated(buy.spend, weights), rel=1e-9)


def test_gains_per_money_never_rise():
    buys = marginal_buys(LAWS, PRICES, budget=6000)
    left = [sum(law.mean for law in LAWS), *(buy.total_ebo for buy in buys)]
    gains = [(a - b) / PRICES[buy.item] for a, b, buy in zip(left, left[1:], buys, strict=False)]
    assert all(first >= second - 1e-12 for first, second in pairwise(gains))


def test_the_list_ends_within_the_budget_and_starts_from_what_is_there():
    assert marginal_buys(LAWS, PRICES, budget=200) == []
    buys = marginal_buys(LAWS, PRICES, budget=1000, start=[3, 3, 0])
    assert [buy.item for buy in buys] == [2, 2]
    assert buys[-1].stock == (3, 3, 2)


def test_the_list_ends_when_no_downtime_is_left():
    assert len(marginal_buys([poisson(0.5)], [1], budget=1e9)) < 40


def test_machines_wait_for_any_missing_part():
    assert availability([0, 0], 4, [1, 2]) == 1
    assert availability([4.0], 4, [1]) == 0
    assert availability([0.4], 4, [1]) == pytest.approx(0.9)


def test_a_depot_with_plenty_leaves_the_bases_their_own_times():
    net = vari_metric([Base(6, 0.5, 0.02, 0.04, 1), Base(3, 0, 0, 0.05, 2)], 0.1, 40)
    assert net.depot_ebo == pytest.approx(0, abs=1e-12)
    assert net.base_ebo[0] == pytest.approx(poisson(0.18).expected_above(1), abs=1e-10)


def test_variance_of_the_depot_delay_adds_backorders():
    bases = [Base(12, 0.3, 0.02, 0.015, 1)] * 4
    assert vari_metric(bases, 0.06, 1).base_ebo[0] > metric(bases, 0.06, 1).base_ebo[0]


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: marginal_buys(LAWS, [1, 2], budget=1), "unit_costs"),
        (lambda: marginal_buys(LAWS, [0, 1, 1], budget=1), "unit_costs"),
        (lambda: marginal_buys(LAWS, PRICES, budget=-1), "budget"),
        (lambda: availability([0.1], 0, [1]), "machines"),
        (lambda: availability([0.1], 1, [0]), "per_machine"),
        (lambda: metric([], 0.1, 1), "bases"),
        (lambda: Base(1, 1.5, 0, 0, 1), "repaired_here"),
    ],
)
def test_it_refuses_figures_out_of_range(call, name):
    with pytest.raises(ValueError, match=f"`{name}`"):
        call()
