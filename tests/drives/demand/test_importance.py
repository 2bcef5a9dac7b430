"""How important a part is; small graphs by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from drives.demand.cover import CoverEdge
from drives.demand.importance import part_importances
from inventory.facts import fact
from tests.drives.demand.built_pools import demand_pools, event, pool, position


def at(pk, criticality, cost=None):
    return position(pk, criticality=criticality, downtime_cost_per_hour=cost)


def importance(*pools, serves=(), kept=(), part=1):
    """`serves` are (position, item) pairs beside the pools' own parts."""
    edges = [CoverEdge(place.position.pk, one.part, "drop_in", 0) for one in pools for place in one.positions]
    edges += [CoverEdge(place, item, "with_work", 30) for place, item in serves]
    return part_importances(demand_pools(*pools, edges=edges), frozenset(kept))[part]


KILN, STEEP, FAN = at(1, "vital"), at(2, "essential"), at(3, "desirable")
OTHER = pool(9, positions=[position(9)])


def test_the_worst_drive_sets_it_where_nothing_else_serves():
    found = importance(pool(1, positions=[FAN, KILN, STEEP]))
    assert (found.importance, found.drive and found.drive.tag) == ("vital", "D001")
    assert found.reason == fact("importance_of_only_candidate", drive="D001", criticality="vital")


def test_a_drive_for_which_another_part_is_kept_does_not_count():
    found = importance(pool(1, positions=[KILN, STEEP]), OTHER, serves=[(1, 9)], kept=[9])
    assert (found.importance, found.drive and found.drive.tag) == ("essential", "D002")


def test_a_candidate_that_is_not_kept_is_none():
    assert importance(pool(1, positions=[KILN]), OTHER, serves=[(1, 9)]).importance == "vital"


def test_an_equal_number_of_the_same_part_is_no_other_candidate():
    twins = pool(1, positions=[KILN], members=(1, 5))
    assert importance(twins, serves=[(1, 5)], kept=[1, 5]).importance == "vital"


def test_with_another_candidate_everywhere_no_drive_depends_on_it_alone():
    found = importance(pool(1, positions=[KILN, STEEP]), OTHER, serves=[(1, 9), (2, 9)], kept=[9])
    assert (found.importance, found.drive and found.drive.tag) == ("desirable", "D001")
    assert found.reason == fact("importance_lowered_by_substitutes", drive="D001", criticality="vital")


@pytest.mark.parametrize(
    ("criticality", "worst"),
    [("vital", "vital"), ("essential", "essential"), ("desirable", "unknown"), ("", "unknown")],
)
def test_a_drive_without_a_class_stands_between_essential_and_desirable(criticality, worst):
    assert importance(pool(1, positions=[at(1, criticality), at(2, "")])).importance == worst


def test_among_equals_the_dearest_hour_counts_and_then_the_tag():
    cheap, dear, twin = (
        at(1, "vital", Decimal(10)),
        at(2, "vital", Decimal(900)),
        at(3, "vital", Decimal(900)),
    )
    found = importance(pool(1, positions=[twin, cheap, dear]))
    assert found.drive is not None
    assert (found.drive.tag, found.drive.downtime_cost_per_hour) == ("D002", Decimal(900))


def test_chain_and_bushes_are_as_important_as_the_worst_drive_that_requested_them():
    bush = pool(5, events=[event(1, 3, 5), event(2, 2, 5)])
    found = importance(pool(1, positions=[STEEP, FAN]), bush, part=5)
    assert (found.importance, found.drive and found.drive.tag) == ("essential", "D002")
    assert found.reason == fact("importance_of_requesting_drive", drive="D002", criticality="essential")


def test_without_a_position_the_importance_is_not_known():
    found = importance(pool(5, events=[event(1, None, 5)]), part=5)
    assert (found.importance, found.drive, found.reason) == (
        "unknown",
        None,
        fact("importance_without_position"),
    )


def test_a_part_in_two_storerooms_is_weighed_once_with_all_its_positions():
    found = importance(pool(1, positions=[FAN]), pool(1, positions=[KILN]))
    assert found.importance == "vital"


def test_a_part_that_could_serve_a_vital_place_counts_where_nothing_else_is_kept():
    steep_part, kiln_part = pool(1, positions=[STEEP]), pool(9, positions=[KILN])
    assert importance(steep_part, kiln_part, serves=[(1, 1)]).importance == "vital"
    assert importance(steep_part, kiln_part, serves=[(1, 1)], kept=[9]).importance == "essential"


def test_a_part_that_no_place_asks_for_matters_as_a_last_candidate():
    pilot, kiln_part = pool(5), pool(9, positions=[KILN])
    assert importance(pilot, kiln_part, serves=[(1, 5)], part=5).importance == "vital"
    assert importance(pilot, kiln_part, serves=[(1, 5)], kept=[9], part=5).importance == "desirable"


def out_of_use(demand, *gone):
    return replace(demand, in_use=demand.in_use - set(gone))


def test_a_drive_out_of_use_sets_no_importance():
    edges = [CoverEdge(1, 5, "drop_in", 0), CoverEdge(2, 5, "drop_in", 0)]
    demand = demand_pools(pool(5), pool(8, positions=[KILN, STEEP]), edges=edges)
    assert part_importances(demand, frozenset())[5].importance == "vital"
    found = part_importances(out_of_use(demand, KILN.pk), frozenset())[5]
    assert (found.importance, found.position_ids) == ("essential", {STEEP.pk})


def test_requests_of_drives_out_of_use_leave_the_importance_open():
    bush = pool(5, events=[event(1, 1, 5)])
    demand = demand_pools(pool(1, positions=[KILN]), bush)
    found = part_importances(out_of_use(demand, KILN.pk), frozenset())[5]
    assert (found.importance, found.reason) == ("unknown", fact("importance_without_drive_in_use"))
