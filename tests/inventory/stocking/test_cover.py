import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from inventory.stocking.cover import expected_shortage, shared_stock
from inventory.stocking.lead_time_demand import from_pmf, poisson
from tests.inventory.stocking.reference import shortage, shortage_by_enumeration


@st.composite
def graphs(draw, most_classes=5, most_parts=6):
    classes = draw(st.integers(1, most_classes))
    covers = draw(st.lists(st.sets(st.integers(0, classes - 1)), min_size=1, max_size=most_parts))
    stock = draw(st.lists(st.integers(0, 4), min_size=len(covers), max_size=len(covers)))
    return shared_stock(stock, covers, classes)


def shortage_by_flow(graph, demands):
    parts, sink = len(graph.stock), 1 + len(graph.stock) + graph.classes
    capacity = np.zeros((sink + 1, sink + 1), dtype=np.int32)
    for part, (pieces, cover) in enumerate(zip(graph.stock, graph.covers, strict=True)):
        capacity[0, 1 + part] = pieces
        for item in cover:
            capacity[1 + part, 1 + parts + item] = pieces
    capacity[1 + parts : sink, sink] = demands
    return sum(demands) - maximum_flow(csr_array(capacity), 0, sink).flow_value


@given(graph=graphs(), data=st.data())
def test_the_deficiency_equals_the_maximum_flow(graph, data):
    demands = data.draw(st.lists(st.integers(0, 6), min_size=graph.classes, max_size=graph.classes))
    assert shortage(graph, demands) == shortage_by_flow(graph, demands)


@given(graph=graphs(most_classes=4), seed=st.integers(0, 10**6))
def test_the_sweep_equals_the_enumeration(graph, seed):
    random = np.random.default_rng(seed)
    demands = [from_pmf(random.dirichlet(np.ones(7))) for _ in range(graph.classes)]
    swept = expected_shortage(graph, demands)
    listed = shortage_by_enumeration(graph, demands)
    assert (swept.expected_short, swept.no_short) == pytest.approx(listed, abs=1e-12)


def test_a_large_graph_agrees_with_flows_on_drawn_demands():
    random = np.random.default_rng(9)
    classes = 14
    covers = [{item, (item + 1) % classes} for item in range(classes)] + [{0, 5}, {3, 9, 10}]
    graph = shared_stock(random.integers(0, 3, len(covers)), covers, classes)
    means = random.uniform(0.2, 1.5, classes)
    drawn = random.poisson(means, (4000, classes))
    short = np.array([shortage_by_flow(graph, demands.tolist()) for demands in drawn])
    exact = expected_shortage(graph, [poisson(mean) for mean in means])
    assert exact.expected_short == pytest.approx(short.mean(), abs=4 * short.std() / 4000**0.5)
    assert exact.no_short == pytest.approx((short == 0).mean(), abs=0.04)


def test_a_hundred_classes_in_a_row_are_swept():
    graph = shared_stock([1] * 100, [{item, min(item + 1, 99)} for item in range(100)], 100)
    result = expected_shortage(graph, [poisson(0.5)] * 100)
    pooled, apart = 100 * 0.5 - 100, 100 * poisson(0.5).expected_above(1)
    assert max(pooled, 0) < result.expected_short < apart


@given(graph=graphs(), seed=st.integers(0, 10**6))
def test_another_piece_never_hurts_and_saves_one_at_most(graph, seed):
    random = np.random.default_rng(seed)
    demands = random.integers(0, 6, graph.classes).tolist()
    part = int(random.integers(len(graph.stock)))
    more = list(graph.stock)
    more[part] += 1
    saved = shortage(graph, demands) - shortage(shared_stock(more, graph.covers, graph.classes), demands)
    assert saved in (0, 1)


def test_a_shared_piece_is_counted_once():
    graph = shared_stock([1], [[0, 1]], 2)
    assert [shortage(graph, demands) for demands in ([1, 0], [0, 1], [1, 1])] == [0, 0, 1]


def test_cover_is_one_way():
    graph = shared_stock([2, 0], [[0], [0, 1]], 2)
    assert shortage(graph, [2, 0]) == 0
    assert shortage(graph, [0, 1]) == 1


def test_classes_without_common_cover_stand_apart():
    graph = shared_stock([1, 0, 2], [[0, 2], [2, 3], [1]], 5)
    assert graph.linked_classes() == [frozenset({0, 2, 3}), frozenset({1}), frozenset({4})]


def test_full_pooling_is_one_stock():
    """Three storerooms that can all send to each other: Lee 1987, Management Science 33."""
    graph = shared_stock([1, 1, 1], [[0, 1, 2]] * 3, 3)
    result = expected_shortage(graph, [poisson(0.4)] * 3)
    assert result.expected_short == pytest.approx(poisson(1.2).expected_above(3), abs=1e-10)


def test_it_refuses_what_does_not_match():
    graph = shared_stock([1], [[0]], 1)
    with pytest.raises(ValueError, match="`demands`"):
        expected_shortage(graph, [])
    with pytest.raises(ValueError, match="`covers`"):
        shared_stock([1, 1], [[0]], 1)
    with pytest.raises(ValueError, match="`covers`"):
        shared_stock([1], [[2]], 1)
    with pytest.raises(ValueError, match="`stock`"):
        shared_stock([-1], [[0]], 1)
    with pytest.raises(ValueError, match="share more than 12 parts"):
        expected_shortage(shared_stock([1] * 13, [[0, 1]] * 13, 2), [poisson(1)] * 2)
