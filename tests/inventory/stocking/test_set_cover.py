"""The cover of least cost beside every subset tried (small), and its bound beside a linear program of another library call."""

from itertools import combinations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.number_checks import InvalidNumber
from inventory.stocking.set_cover import least_cost_cover

COLUMNS = range(8)
NEEDS = st.lists(st.frozensets(st.sampled_from(COLUMNS), min_size=1, max_size=4), min_size=1, max_size=10)
COSTS = st.lists(st.integers(0, 40), min_size=8, max_size=8)


def cheapest_by_trying_all(needs, costs):
    subsets = (set(some) for size in range(len(costs) + 1) for some in combinations(costs, size))
    return min(
        sum(costs[one] for one in some)
        for some in subsets
        if all(not some.isdisjoint(need) for need in needs)
    )


def linear_bound(needs, costs):
    """The same problem with shares of columns: no cover is cheaper (weak duality)."""
    rows = np.array([[-1.0 if column in need else 0.0 for column in costs] for need in needs])
    return linprog(list(costs.values()), A_ub=rows, b_ub=-np.ones(len(needs)), bounds=(0, 1)).fun


@given(needs=NEEDS, prices=COSTS)
def test_the_solved_cover_is_the_cheapest_of_all_subsets(needs, prices):
    costs = dict(enumerate(map(float, prices)))
    found = least_cost_cover(needs, costs)
    assert all(not found.chosen.isdisjoint(need) for need in needs)
    assert found.cost == pytest.approx(sum(costs[one] for one in found.chosen))
    assert found.cost == pytest.approx(cheapest_by_trying_all(needs, costs), abs=1e-6)
    assert found.lower_bound == pytest.approx(found.cost, abs=1e-6)


@given(needs=NEEDS, prices=COSTS)
def test_the_greedy_cover_lies_between_its_bound_and_the_guarantee(needs, prices):
    """At most 1 + 1/2 + … + 1/m times the best, m the most needs of one column: Chvátal 1979, theorem 1."""
    costs = dict(enumerate(map(float, prices)))
    found = least_cost_cover(needs, costs, largest_solved=0)
    best = cheapest_by_trying_all(needs, costs)
    most = max(sum(column in need for need in set(needs)) for column in costs)
    assert all(not found.chosen.isdisjoint(need) for need in needs)
    assert found.lower_bound <= best + 1e-9
    assert best - 1e-9 <= found.cost <= best * sum(1 / n for n in range(1, most + 1)) + 1e-9


@pytest.mark.parametrize("seed", range(5))
def test_on_larger_groups_cost_bound_and_linear_program_stand_in_order(seed):
    draw = np.random.default_rng(seed)
    costs = {column: float(draw.integers(5, 60)) for column in range(60)}
    needs = [
        frozenset(map(int, draw.choice(60, size=draw.integers(2, 6), replace=False))) for _ in range(120)
    ]
    solved, greedy = least_cost_cover(needs, costs), least_cost_cover(needs, costs, largest_solved=0)
    linear = linear_bound(needs, costs)
    assert greedy.lower_bound <= linear + 1e-6
    assert linear - 1e-6 <= solved.lower_bound <= solved.cost + 1e-9 <= greedy.cost + 2e-9
    assert solved.gap <= 0.02


def test_a_triangle_of_needs_is_beyond_the_linear_program_and_solved():
    """Three columns, each pair a need: two are needed where shares of a half would do. By hand."""
    needs, costs = [{1, 2}, {2, 3}, {1, 3}], {1: 1.0, 2: 1.0, 3: 1.0}
    assert linear_bound(needs, costs) == pytest.approx(1.5)
    found = least_cost_cover(needs, costs)
    assert (len(found.chosen), found.cost, found.lower_bound, found.gap) == (2, 2.0, 2.0, 0.0)
    greedy = least_cost_cover(needs, costs, largest_solved=0)
    assert (greedy.cost, greedy.lower_bound, greedy.gap) == (2.0, 1.0, 0.5)


def test_one_general_column_takes_the_place_of_many():
    needs = [{n, 99} for n in range(6)]
    costs = dict.fromkeys(range(6), 30.0)
    assert least_cost_cover(needs, costs | {99: 70.0}).chosen == {99}
    assert least_cost_cover(needs, costs | {99: 200.0}).chosen == set(range(6))


def test_nothing_to_cover_costs_nothing():
    found = least_cost_cover([], {1: 3.0})
    assert (found.chosen, found.cost, found.gap) == (frozenset(), 0.0, 0.0)


def test_a_need_without_a_column_and_a_negative_cost_are_refused():
    with pytest.raises(ValueError, match="no column covers"):
        least_cost_cover([set()], {})
    with pytest.raises(InvalidNumber, match="costs"):
        least_cost_cover([{1}], {1: -2.0})
