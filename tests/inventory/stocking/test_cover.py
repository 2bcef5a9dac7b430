import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from inventory.stocking import cover as shared_cover
from inventory.stocking import cover_sweep
from inventory.stocking.cover import PiecesLeft, expected_shortage, shared_stock
from inventory.stocking.cover_sweep import UNSEEN_CHANCE, DemandTotals, Sweep, linked, scarce
from inventory.stocking.lead_time_demand import from_pmf, negative_binomial, poisson
from tests.examples import some_of
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


def one_more_unserved(graph, demands, item):
    """Chance that one more piece of a class goes unserved, by enumeration: what it adds to the shortage."""
    more = list(demands)
    more[item] = from_pmf(np.append(0.0, demands[item].pmf))
    return shortage_by_enumeration(graph, more)[0] - shortage_by_enumeration(graph, demands)[0]


def unserved_of(found, demand):
    """Least and largest chance that a demand takes all that is left, or more."""
    if found is None:
        return 0.0, 0.0
    least, most = (
        sum(chance * demand.chance_above(pieces - 1) for pieces, chance in enumerate(left))
        for left in (found.at_most, found.at_least)
    )
    return least, most + found.left_out


@given(graph=graphs(most_classes=4), seed=st.integers(0, 10**6))
@settings(max_examples=some_of(40))
def test_what_is_left_for_a_class_says_whether_one_more_piece_is_served(graph, seed):
    random = np.random.default_rng(seed)
    demands = [from_pmf(random.dirichlet(np.ones(4))) for _ in range(graph.classes)]
    left = PiecesLeft(graph, demands)
    for item in range(graph.classes):
        exact = one_more_unserved(graph, demands, item)
        assert unserved_of(left.of(item), demands[item]) == pytest.approx((exact, exact), abs=1e-9)


@given(graph=graphs(most_classes=4), seed=st.integers(0, 10**6), ranks=st.integers(1, 12))
@settings(max_examples=some_of(40), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_left_out_for_time_is_counted(graph, seed, ranks, monkeypatch):
    random = np.random.default_rng(seed)
    demands = [from_pmf(random.dirichlet(np.ones(5))) for _ in range(graph.classes)]
    monkeypatch.setattr(cover_sweep, "MOST_RANKS", ranks)
    left = PiecesLeft(graph, demands)
    for item in range(graph.classes):
        least, most = unserved_of(left.of(item), demands[item])
        assert least - 1e-9 <= one_more_unserved(graph, demands, item) <= most + 1e-9


@given(graph=graphs(most_classes=5), seed=st.integers(0, 10**6), near=st.integers(1, 3))
@settings(max_examples=some_of(60), suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_what_is_left_out_for_distance_is_bounded(graph, seed, near, monkeypatch):
    random = np.random.default_rng(seed)
    demands = [from_pmf(random.dirichlet(np.ones(4))) for _ in range(graph.classes)]
    monkeypatch.setattr(shared_cover, "MOST_LINKED", 1)
    monkeypatch.setattr(shared_cover, "MOST_NEAR", near)
    left = PiecesLeft(graph, demands)
    for item in range(graph.classes):
        least, most = unserved_of(left.of(item), demands[item])
        assert least - 1e-9 <= one_more_unserved(graph, demands, item) <= most + 1e-9


def test_what_is_far_away_hardly_matters():
    classes = 60
    graph = shared_stock([1] * classes, [{one, min(one + 1, classes - 1)} for one in range(classes)], classes)
    demands = [poisson(0.2)] * classes
    least, most = unserved_of(PiecesLeft(graph, demands).of(30), demands[30])
    assert 0 < most - least < 0.01 * most


def ordinary_stock(seed, classes=30):
    """Eight well-filled shelves; each class may take from up to three of them."""
    random = np.random.default_rng(seed)
    shelves = [random.choice(8, random.integers(1, 4), replace=False) for _ in range(classes)]
    covers = [{item for item, own in enumerate(shelves) if part in own} for part in range(8)]
    stock = random.permutation([4, 9, 10, 12, 16, 50, 99, 175])
    means = random.uniform(0.005, 0.1, classes)
    return shared_stock(stock, covers, classes), [negative_binomial(mean, 1.5 * mean) for mean in means]


@pytest.mark.parametrize("seed", range(1, 4))
def test_ordinary_stock_needs_few_states(seed):
    """The stock alone would leave millions; what is left out for time does not show."""
    graph, demands = ordinary_stock(seed)
    totals = DemandTotals(demands, UNSEEN_CHANCE)
    for group in linked(scarce(graph.stock, graph.parts, totals)):
        sweep = Sweep(graph.stock, group, totals, last=min(group))
        _, left_out = sweep.left()
        assert left_out < 1e-4
        assert sweep.states < 100_000


def test_however_nasty_the_graph_no_more_states_are_carried_than_allowed():
    random = np.random.default_rng(3)
    covers = [set(random.choice(12, 5, replace=False).tolist()) for _ in range(8)]
    graph = shared_stock(random.integers(2, 9, 8), covers, 12)
    demands = [poisson(2.0)] * 12
    sweep = Sweep(graph.stock, graph.parts, DemandTotals(demands), last=0)
    left, left_out = sweep.left()
    assert left_out > 0
    assert left.sum() + left_out == pytest.approx(1, abs=1e-9)
    assert sweep.states < 100_000


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
    assert [set(group) for group in linked(graph.parts)] == [{0, 2, 3}, {1}, {4}]


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
