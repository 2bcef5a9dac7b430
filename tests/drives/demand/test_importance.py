"""How much a part matters; small graphs by hand."""

from decimal import Decimal

import pytest

from drives.demand.cover import Edge
from drives.demand.importance import importances
from tests.drives.demand.made import asking, plant, pool, position


def at(pk, criticality, cost=None):
    return position(pk, criticality=criticality, downtime_cost_per_hour=cost)


def weight(*pools, serves=(), kept=(), part=1):
    """`serves` are (position, item) pairs beside the pools' own parts."""
    edges = [Edge(place.position.pk, one.part, "drop_in", 0) for one in pools for place in one.places]
    edges += [Edge(place, item, "with_work", 30) for place, item in serves]
    return importances(plant(*pools, edges=edges), frozenset(kept))[part]


KILN, STEEP, FAN = at(1, "vital"), at(2, "essential"), at(3, "desirable")
OTHER = pool(9, positions=[position(9)])


def test_the_worst_drive_sets_it_where_nothing_else_serves():
    found = weight(pool(1, positions=[FAN, KILN, STEEP]))
    assert (found.importance, found.drive and found.drive.tag) == ("vital", "D001")
    assert "D001 is vital, and nothing else that is kept can serve it there" in found.reason


def test_a_drive_for_which_another_part_is_kept_does_not_count():
    found = weight(pool(1, positions=[KILN, STEEP]), OTHER, serves=[(1, 9)], kept=[9])
    assert (found.importance, found.drive and found.drive.tag) == ("essential", "D002")


def test_a_candidate_that_is_not_kept_is_none():
    assert weight(pool(1, positions=[KILN]), OTHER, serves=[(1, 9)]).importance == "vital"


def test_an_equal_number_of_the_same_part_is_no_other_candidate():
    twins = pool(1, positions=[KILN], members=(1, 5))
    assert weight(twins, serves=[(1, 5)], kept=[1, 5]).importance == "vital"


def test_with_another_candidate_everywhere_no_drive_hangs_on_it_alone():
    found = weight(pool(1, positions=[KILN, STEEP]), OTHER, serves=[(1, 9), (2, 9)], kept=[9])
    assert (found.importance, found.drive and found.drive.tag) == ("desirable", "D001")
    assert "no drive hangs on it alone" in found.reason


@pytest.mark.parametrize(
    ("criticality", "worst"),
    [("vital", "vital"), ("essential", "essential"), ("desirable", "unknown"), ("", "unknown")],
)
def test_a_drive_without_a_class_stands_between_essential_and_desirable(criticality, worst):
    assert weight(pool(1, positions=[at(1, criticality), at(2, "")])).importance == worst


def test_among_equals_the_dearest_hour_counts_and_then_the_tag():
    cheap, dear, twin = (
        at(1, "vital", Decimal(10)),
        at(2, "vital", Decimal(900)),
        at(3, "vital", Decimal(900)),
    )
    found = weight(pool(1, positions=[twin, cheap, dear]))
    assert found.drive is not None
    assert (found.drive.tag, found.drive.downtime_cost_per_hour) == ("D002", Decimal(900))


def test_chain_and_bushes_matter_as_the_worst_drive_that_asked_for_them():
    bush = pool(5, asked=[asking(1, 3, 5), asking(2, 2, 5)])
    found = weight(pool(1, positions=[STEEP, FAN]), bush, part=5)
    assert (found.importance, found.drive and found.drive.tag) == ("essential", "D002")


def test_what_no_position_ever_asked_for_is_not_known():
    found = weight(pool(5, asked=[asking(1, None, 5)]), part=5)
    assert (found.importance, found.drive) == ("unknown", None)


def test_a_part_in_two_storerooms_is_weighed_once_with_all_its_positions():
    found = weight(pool(1, positions=[FAN]), pool(1, positions=[KILN]))
    assert found.importance == "vital"


def test_a_part_that_could_serve_a_vital_place_counts_where_nothing_else_is_kept():
    steep_part, kiln_part = pool(1, positions=[STEEP]), pool(9, positions=[KILN])
    assert weight(steep_part, kiln_part, serves=[(1, 1)]).importance == "vital"
    assert weight(steep_part, kiln_part, serves=[(1, 1)], kept=[9]).importance == "essential"


def test_a_part_that_no_place_asks_for_matters_as_a_last_candidate():
    pilot, kiln_part = pool(5), pool(9, positions=[KILN])
    assert weight(pilot, kiln_part, serves=[(1, 5)], part=5).importance == "vital"
    assert weight(pilot, kiln_part, serves=[(1, 5)], kept=[9], part=5).importance == "desirable"
