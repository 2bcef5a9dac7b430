from dataclasses import dataclass

import pytest

from drives.exposure.importance import DriveFacts, importances
from inventory.models import Importance

KILN, ELEVATOR, FAN, OLD = (
    DriveFacts("KILN-D1", "vital"),
    DriveFacts("ELEV-D1", "essential"),
    DriveFacts("FAN-D1", "desirable"),
    DriveFacts("OLD-D1", ""),
)


@dataclass(frozen=True)
class Link:
    position_id: int
    item_id: int


@dataclass(frozen=True)
class Graph:
    edges: tuple[Link, ...]


def graph(serves):
    return Graph(tuple(Link(position, item) for item, positions in serves.items() for position in positions))


def of(item, serves, drives, at_hand=(), groups=None):
    return importances(graph(serves), drives=drives, at_hand=at_hand, groups=groups or {})[item]


def test_the_worst_drive_that_nothing_else_serves_sets_it():
    found = of(7, {7: (1, 2)}, {1: ELEVATOR, 2: KILN})
    assert (found.importance, found.drive) == (Importance.VITAL, "KILN-D1")
    assert found.reason == "KILN-D1 is vital and has nothing else at hand or kept."


def test_a_drive_that_another_part_at_hand_serves_does_not_count():
    found = of(7, {7: (1, 2), 8: (1,)}, {1: KILN, 2: FAN}, at_hand=[8])
    assert (found.importance, found.drive) == (Importance.DESIRABLE, "FAN-D1")


def test_another_part_that_is_neither_free_nor_kept_is_no_candidate():
    assert of(7, {7: (1,), 8: (1,)}, {1: KILN}).importance == Importance.VITAL


def test_an_equal_number_is_the_same_part_and_no_other_candidate():
    found = of(7, {7: (1,), 8: (1,)}, {1: KILN}, at_hand=[7, 8], groups={7: "a", 8: "a"})
    assert found.importance == Importance.VITAL


def test_with_another_candidate_everywhere_it_is_desirable_and_says_why():
    found = of(7, {7: (1, 2), 8: (1, 2)}, {1: KILN, 2: ELEVATOR}, at_hand=[8])
    assert (found.importance, found.drive) == (Importance.DESIRABLE, "")
    assert "serves each of the 2 positions" in found.reason


def test_two_parts_that_stand_in_for_each_other_are_both_less_than_vital():
    serves, drives = {7: (1,), 8: (1,)}, {1: KILN}
    assert {of(item, serves, drives, at_hand=[7, 8]).importance for item in serves} == {Importance.DESIRABLE}


def test_on_a_lifting_drive_no_other_candidate_counts():
    hoist = DriveFacts("HOIST-D1", "essential", is_lifting=True)
    found = of(7, {7: (1,), 8: (1,)}, {1: hoist}, at_hand=[8])
    assert (found.importance, found.drive) == (Importance.ESSENTIAL, "HOIST-D1")
    assert "takes nothing but it" in found.reason


@pytest.mark.parametrize(("other", "expected"), [(FAN, Importance.UNKNOWN), (ELEVATOR, Importance.ESSENTIAL)])
def test_a_drive_without_criticality_may_be_vital_but_is_not_called_so(other, expected):
    assert of(7, {7: (1, 2)}, {1: OLD, 2: other}).importance == expected


def test_an_item_that_serves_no_position_is_not_known():
    found = importances(Graph(()), drives={}, at_hand=[], groups={}, item_ids=[9])[9]
    assert (found.importance, found.drive) == (Importance.UNKNOWN, "")


def test_of_equally_critical_drives_the_first_by_tag_is_named():
    other = DriveFacts("DISP-D1", "vital")
    assert of(7, {7: (1, 2)}, {1: KILN, 2: other}).drive == "DISP-D1"
