import doctest
import itertools

import numpy as np
import pytest

import drives.exposure.unserved_chance
from drives.exposure.unserved_chance import AvailableCover, UnservedChance, chances_unserved
from inventory.stocking.cover import PiecesLeft
from inventory.stocking.lead_time_demand import from_pmf, poisson


def chance_unserved(position, cover, demand_of):
    return chances_unserved([position], cover, demand_of)[position]


def served(free, requests):
    """Most pieces issued when `requests` lists the items that each single request can take: tried one by one."""
    if not requests:
        return 0
    first, rest = requests[0], requests[1:]
    best = served(free, rest)
    for item in first:
        if free.get(item, 0):
            best = max(best, 1 + served({**free, item: free[item] - 1}, rest))
    return best


def tried_one_by_one(position, cover, demands):
    """The definition, without the graph: every combination of demands, every way to hand the pieces out."""
    others = [name for name in cover.serves if name != position]
    chance = 0.0
    for pieces in itertools.product(*(range(len(demands[name])) for name in others)):
        weight = np.prod([demands[name].pmf[count] for name, count in zip(others, pieces, strict=True)])
        requests = [
            cover.serves[name] for name, count in zip(others, pieces, strict=True) for _ in range(count)
        ]
        full = served(dict(cover.pieces), [*requests, cover.serves[position]])
        chance += float(weight) * (1 - (full - served(dict(cover.pieces), requests)))
    return chance * demands[position].chance_above(0)


def small(seed):
    rng = np.random.default_rng(seed)
    positions, items = range(4), range(10, 13)
    serves = {p: tuple(i for i in items if rng.random() < 0.6) for p in positions}
    demands = {p: from_pmf(rng.dirichlet([2, 1, 0.5])) for p in positions}
    return AvailableCover({i: int(rng.integers(0, 3)) for i in items}, serves), demands


@pytest.mark.parametrize("seed", range(12))
def test_it_is_what_every_combination_tried_one_by_one_gives(seed):
    cover, demands = small(seed)
    for position in cover.serves:
        found = chance_unserved(position, cover, demands.__getitem__)
        assert found.is_exact
        assert found.value == pytest.approx(tried_one_by_one(position, cover, demands), abs=1e-10)


def test_a_simulated_plant_is_unserved_as_often():
    cover = AvailableCover({10: 1, 11: 2}, {1: (10,), 2: (10, 11), 3: (11,)})
    rates = {1: 0.5, 2: 0.8, 3: 1.1}
    rng = np.random.default_rng(7)
    runs = 20_000
    requests = {name: rng.poisson(rate, runs) for name, rate in rates.items()}
    stopped = 0
    for run in range(runs):
        if requests[1][run]:
            others = [cover.serves[name] for name in (2, 3) for _ in range(requests[name][run])]
            stopped += served(dict(cover.pieces), [*others, (10,)]) == served(dict(cover.pieces), others)
    found = chance_unserved(1, cover, lambda name: poisson(rates[name]))
    spread = (found.value * (1 - found.value) / runs) ** 0.5
    assert stopped / runs == pytest.approx(found.value, abs=4 * spread)


def test_a_worked_example_by_hand():
    # One piece, two positions: 1 is unserved when it needs one (0.5) and 2 has needed one before (0.2).
    demands = {1: from_pmf([0.5, 0.5]), 2: from_pmf([0.8, 0.1, 0.1])}
    found = chance_unserved(1, AvailableCover({7: 1}, {1: (7,), 2: (7,)}), demands.__getitem__)
    assert found == UnservedChance(pytest.approx(0.1), pytest.approx(0.1), pytest.approx(0.5))


def test_a_position_that_nothing_serves_is_never_served():
    found = chance_unserved(1, AvailableCover({7: 0}, {1: (7,)}), lambda _: from_pmf([0.7, 0.3]))
    assert found.value == found.of_demand == pytest.approx(0.3)


def test_without_demand_the_chance_is_zero():
    assert chance_unserved(1, AvailableCover({7: 1}, {1: (7,)}), lambda _: from_pmf([1.0])).value == 0


def test_its_own_second_request_does_not_count():
    found = chance_unserved(1, AvailableCover({7: 1}, {1: (7,)}), lambda _: from_pmf([0.2, 0.3, 0.5]))
    assert found.value == pytest.approx(0, abs=1e-12)


def test_positions_that_share_only_an_item_out_of_stock_are_not_linked():
    cover = AvailableCover({7: 0, 8: 1}, {1: (7, 8), 2: (7,)})
    assert cover.linked_positions(1) == {1}


@pytest.mark.parametrize("seed", range(6))
def test_one_more_piece_never_makes_it_worse(seed):
    cover, demands = small(seed)
    more = AvailableCover({**cover.pieces, 10: cover.pieces[10] + 1}, cover.serves)
    for position in cover.serves:
        before = chance_unserved(position, cover, demands.__getitem__).value
        assert chance_unserved(position, more, demands.__getitem__).value <= before + 1e-12


def too_large(monkeypatch):
    def refuse(*_):
        raise ValueError("`covers` must not share more than 12 parts at a time")

    monkeypatch.setattr(PiecesLeft, "of", refuse)


@pytest.mark.parametrize("seed", range(12))
def test_where_it_is_too_large_two_bounds_hold_the_exact_chance(seed, monkeypatch):
    cover, demands = small(seed)
    exact = {p: chance_unserved(p, cover, demands.__getitem__).value for p in cover.serves}
    too_large(monkeypatch)
    for position in cover.serves:
        found = chance_unserved(position, cover, demands.__getitem__)
        assert found.at_least - 1e-12 <= exact[position] <= found.value + 1e-12


def test_a_graph_that_is_really_too_large_is_bounded():
    rng = np.random.default_rng(1)
    items = range(40)
    serves = {p: tuple(sorted(rng.choice(items, 14, replace=False))) for p in range(60)}
    found = chance_unserved(0, AvailableCover(dict.fromkeys(items, 1), serves), lambda _: poisson(0.5))
    assert not found.is_exact
    assert 0 <= found.at_least < found.value <= found.of_demand


def test_the_worked_example_runs():
    assert doctest.testmod(drives.exposure.unserved_chance).failed == 0
