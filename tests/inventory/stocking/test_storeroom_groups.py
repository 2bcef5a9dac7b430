"""Storerooms share a part where fetching it costs no more than one piece more; figures worked out by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stocking.storeroom_groups import (
    StoreroomDemand,
    StoreroomGroup,
    fetching_cost,
    storeroom_groups,
)

MAIN, KILN, FAR = 1, 2, 3
SIX_MINUTES = 0.1


def room(number, cost, *, stock=False):
    return StoreroomDemand(storeroom=number, waiting_cost=cost, has_stock=stock)


def both_ways(first, second, hours):
    return {(first, second): hours, (second, first): hours}


# 0.5 stops a year at 400 an hour are 200 for each hour that one waits, 20 for six minutes: a piece of 100 at 20 % costs as much.
@pytest.mark.parametrize(
    ("holding", "groups"),
    [
        (20.0, (StoreroomGroup(MAIN, (KILN,)),)),
        (20.01, (StoreroomGroup(MAIN, (KILN,)),)),
        (19.99, (StoreroomGroup(MAIN), StoreroomGroup(KILN))),
    ],
)
def test_fetching_may_cost_as_much_as_one_piece_more_and_not_a_cent_more(holding, groups):
    rooms = [room(MAIN, 900.0), room(KILN, 200.0)]
    assert storeroom_groups(rooms, both_ways(MAIN, KILN, SIX_MINUTES), holding) == groups


def test_it_is_kept_where_most_waiting_is_saved():
    ways = both_ways(MAIN, KILN, SIX_MINUTES)
    assert storeroom_groups([room(MAIN, 10.0), room(KILN, 200.0)], ways, 50.0) == (
        StoreroomGroup(KILN, (MAIN,)),
    )
    # The way out of the kiln takes an hour: what is saved there is lost here.
    ways[KILN, MAIN] = 3.0
    assert storeroom_groups([room(MAIN, 10.0), room(KILN, 200.0)], ways, 50.0) == (
        StoreroomGroup(MAIN, (KILN,)),
    )


def test_minutes_count_from_where_it_is_kept():
    ways = {(MAIN, KILN): 0.1, (KILN, MAIN): 2.0}
    assert fetching_cost(room(KILN, 200.0), MAIN, ways) == pytest.approx(20.0)
    assert fetching_cost(room(MAIN, 200.0), KILN, ways) == pytest.approx(400.0)


@pytest.mark.parametrize("known", [(), ((MAIN, KILN),), ((KILN, MAIN),)])
def test_without_both_ways_on_record_they_stay_apart(known):
    rooms = [room(MAIN, 0.0), room(KILN, 0.0)]
    apart = (StoreroomGroup(MAIN), StoreroomGroup(KILN))
    assert storeroom_groups(rooms, dict.fromkeys(known, 0.1), 1e9) == apart


def test_where_nothing_is_requested_nothing_has_to_be_fetched():
    ways = both_ways(MAIN, KILN, SIX_MINUTES)
    unknown = room(MAIN, None)
    assert storeroom_groups([unknown, room(KILN, 0.0, stock=True)], ways, None) == (
        StoreroomGroup(MAIN, (KILN,)),
    )
    assert storeroom_groups([unknown, room(KILN, None)], ways, 1e9) == (
        StoreroomGroup(MAIN),
        StoreroomGroup(KILN),
    )


def test_what_nobody_requests_is_kept_where_it_lies():
    ways = both_ways(MAIN, KILN, SIX_MINUTES)
    assert storeroom_groups([room(MAIN, 0.0), room(KILN, 0.0, stock=True)], ways, 5.0) == (
        StoreroomGroup(KILN, (MAIN,)),
    )


def test_one_storeroom_keeps_it_for_all_that_reach_it_and_the_others_stay_apart():
    ways = both_ways(MAIN, KILN, 0.1) | both_ways(MAIN, FAR, 0.5)
    rooms = [room(MAIN, 10.0), room(KILN, 30.0), room(FAR, 20.0)]
    assert storeroom_groups(rooms, ways, 10.0) == (StoreroomGroup(MAIN, (KILN, FAR)),)
    assert storeroom_groups(rooms, ways, 9.0) == (StoreroomGroup(KILN, (MAIN,)), StoreroomGroup(FAR))


def test_what_lies_where_nobody_requests_it_counts_where_it_is_nearest():
    """The piece in the cabinet six minutes away serves the plant it lies in, not the one an hour off that has one itself."""
    ways = both_ways(MAIN, KILN, 0.1) | both_ways(MAIN, FAR, 1.25) | both_ways(KILN, FAR, 1.3)
    rooms = [room(MAIN, 3000.0), room(KILN, 0.0, stock=True), room(FAR, 1000.0, stock=True)]
    assert storeroom_groups(rooms, ways, 974.0) == (StoreroomGroup(MAIN, (KILN,)), StoreroomGroup(FAR))


def test_a_large_group_takes_no_storeroom_from_a_nearer_home():
    cage = 4
    near, far = both_ways(MAIN, KILN, 0.1), both_ways(FAR, cage, 0.1)
    ways = near | far | both_ways(MAIN, FAR, 1.0) | both_ways(KILN, FAR, 1.0)
    ways |= both_ways(MAIN, cage, 1.0) | both_ways(KILN, cage, 1.0)
    rooms = [room(MAIN, 3000.0), room(KILN, 0.0), room(FAR, 3000.0), room(cage, 0.0)]
    assert storeroom_groups(rooms, ways, 900.0) == (
        StoreroomGroup(MAIN, (KILN,)),
        StoreroomGroup(FAR, (cage,)),
    )


costs = st.none() | st.floats(0, 1e6)
worlds = st.tuples(
    st.lists(st.tuples(costs, st.booleans()), min_size=1, max_size=5),
    st.dictionaries(st.tuples(st.integers(0, 4), st.integers(0, 4)), st.floats(0, 100), max_size=20),
    st.none() | st.floats(0, 1e5),
)


@given(worlds)
def test_every_storeroom_is_in_one_group_and_each_that_joined_may(world):
    costs, ways, holding = world
    rooms = {n: room(n, cost, stock=stock) for n, (cost, stock) in enumerate(costs)}
    found = storeroom_groups(list(rooms.values()), ways, holding)
    assert sorted(one for group in found for one in (group.home, *group.others)) == sorted(rooms)
    for group in found:
        for other in group.others:
            assert {(group.home, other), (other, group.home)} <= ways.keys()
            cost = rooms[other].waiting_cost * ways[group.home, other]
            assert cost <= (holding or 0.0) * (1 + 1e-9)
    assert storeroom_groups(list(rooms.values())[::-1], ways, holding) == found


@given(worlds, st.floats(0, 1e5))
def test_dearer_parts_never_need_more_homes_of_two_storerooms(world, more):
    costs, ways, holding = world
    rooms = [room(n, cost, stock=stock) for n, (cost, stock) in enumerate(costs[:2])]
    dear = storeroom_groups(rooms, ways, (holding or 0.0) + more)
    assert len(dear) <= len(storeroom_groups(rooms, ways, holding))
