"""Reference: every combination of stocks enumerated, and the marginal analysis of the stocking core."""

import random
from decimal import Decimal
from itertools import product

import numpy as np
import pytest

from inventory.planning.budget_plan import BuyOption, hull, plan_buys
from inventory.stocking.lead_time_demand import poisson
from tests.inventory.stocking.reference import marginal_buys

ALL_MONEY = Decimal(10**6)


def options_of(chance: random.Random, *, convex: bool) -> list[BuyOption]:
    made = []
    for _ in range(3):
        drops = [chance.uniform(0.1, 9) for _ in range(5)]
        falls = sorted(drops, reverse=True) if convex else drops
        hours = np.append(np.cumsum(falls[::-1])[::-1], 0.0)
        made.append(BuyOption(Decimal(chance.randrange(1, 40)), chance.uniform(1, 50), hours))
    return made


def least_cost(options: list[BuyOption], money: Decimal) -> float:
    """By trying every combination that the money buys."""
    return min(
        sum(float(one.hours[stock]) * one.cost_per_hour for one, stock in zip(options, stocks, strict=True))
        for stocks in product(*(range(len(one.hours)) for one in options))
        if sum(one.price * stock for one, stock in zip(options, stocks, strict=True)) <= money
    )


@pytest.mark.parametrize("convex", [True, False])
@pytest.mark.parametrize("seed", range(12))
def test_no_combination_for_the_money_of_a_stop_is_better(seed: int, convex: bool) -> None:
    options = options_of(random.Random(seed), convex=convex)
    steps = list(plan_buys(options, ALL_MONEY))
    assert sum(step.pieces for step in steps) == 15
    for step in steps:
        assert step.cost_left == pytest.approx(least_cost(options, step.spend), abs=1e-9)


def test_it_buys_in_the_order_of_the_marginal_analysis() -> None:
    laws, prices, weights = [poisson(0.4), poisson(1.0), poisson(4.0)], [50, 70, 10], [420.0, 90.0, 30.0]
    options = [
        BuyOption(Decimal(price), weight, law.expected_above_each(len(law)))
        for law, price, weight in zip(laws, prices, weights, strict=True)
    ]
    core = marginal_buys(laws, [float(price) for price in prices], budget=600, weights=weights)
    steps = list(plan_buys(options, Decimal(600)))
    assert [(step.option, step.stock) for step in steps] == [(buy.item, buy.stock[buy.item]) for buy in core]
    assert [float(step.spend) for step in steps] == [buy.spend for buy in core]
    assert steps[-1].cost_left == pytest.approx(core[-1].total_ebo, rel=1e-9)


def test_it_ends_before_the_first_step_beyond_the_budget() -> None:
    options = [
        BuyOption(Decimal(30), 1.0, np.array([90.0, 10.0, 0.0])),
        BuyOption(Decimal(1), 1.0, np.array([0.2, 0.0])),
    ]
    assert [(step.option, step.spend) for step in plan_buys(options, Decimal(29))] == []
    assert [(step.option, step.spend) for step in plan_buys(options, Decimal(31))] == [(0, 30)]


def test_a_piece_that_helps_only_with_the_next_is_bought_with_it() -> None:
    option = BuyOption(Decimal(5), 1.0, np.array([10.0, 9.0, 2.0, 0.0]))
    assert hull(option) == [0, 2, 3]
    assert [(step.stock, step.pieces) for step in plan_buys([option], ALL_MONEY)] == [(2, 2), (3, 1)]


def test_what_goes_together_is_bought_together() -> None:
    hours = np.array([10.0, 9.0, 8.0, 2.0, 1.5, 1.0, 0.5, 0.0])
    steps = list(plan_buys([BuyOption(Decimal(5), 1.0, hours, lot=3)], ALL_MONEY))
    assert [(step.stock, step.pieces, step.spend) for step in steps] == [(3, 3, 15), (6, 3, 30)]


def test_it_begins_at_the_stock_that_is_there() -> None:
    hours = np.array([10.0, 4.0, 1.0, 0.0])
    steps = list(plan_buys([BuyOption(Decimal(5), 1.0, hours, start=2)], ALL_MONEY))
    assert [(step.stock, step.spend, step.hours_left) for step in steps] == [(3, 5, 0.0)]
    assert list(plan_buys([BuyOption(Decimal(5), 1.0, hours, start=99)], ALL_MONEY)) == []


def test_an_hour_that_costs_nothing_is_not_bought_off() -> None:
    assert list(plan_buys([BuyOption(Decimal(5), 0.0, np.array([10.0, 0.0]))], ALL_MONEY)) == []
    assert list(plan_buys([], ALL_MONEY)) == []
