"""Which items are one part, and which item each position needs; small graphs by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from drives.demand.cover import CoverEdge, CoverMap
from drives.demand.part_groups import group_parts, position_items
from drives.demand.request_matching import DemandEvent
from drives.lessons.unit_lives import UnitLife
from inventory.models import Item
from tests.drives.demand.demand_records import day, sprocket
from tests.factories import (
    BushFactory,
    BushItemFactory,
    ChainFactory,
    ChainItemFactory,
    ItemFactory,
    KeyFactory,
    SpecificationFactory,
    SprocketFactory,
)

LIFE = UnitLife(1, 7, day(0), None, 10.0, "calendar", "", "", "", is_temporary=False)
EVENT = DemandEvent(day(0), 7, 1, 1, 1, "", is_planned=False, result="filled", source="request")


def cover(*edges):
    """(position, item, grade) each."""
    return CoverMap(tuple(CoverEdge(position, item, grade, 0) for position, item, grade in edges))


def parts(*edges):
    return group_parts(Item.objects.all(), cover(*edges)).part_of


@pytest.mark.django_db
class TestSamePart:
    def test_sprockets_that_drop_into_exactly_the_same_positions_are_one_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts(
            (1, first.pk, "drop_in"),
            (2, first.pk, "drop_in"),
            (2, second.pk, "drop_in"),
            (1, second.pk, "drop_in"),
        )
        assert found == {first.pk: first.pk, second.pk: first.pk}

    def test_a_merged_number_is_the_part_of_the_number_that_stays(self):
        old, new = sprocket("SPR-A"), sprocket("SPR-B")
        Item.objects.filter(pk=old.pk).update(merged_into=new, lifecycle="blocked")
        assert parts((1, old.pk, "drop_in")) == {old.pk: old.pk, new.pk: old.pk}

    @pytest.mark.parametrize(
        "more",
        [
            {"hardened_teeth": True},
            {"material": "alloy_steel"},
            {"bush_size": "1610"},
            {"food_contact": True},
            {"non_sparking": True},
        ],
    )
    def test_the_same_positions_do_not_make_one_part_of_what_carries_or_lasts_otherwise(self, more):
        first, second = sprocket("SPR-A"), sprocket("SPR-B", specification=SprocketFactory(**more))
        found = parts((1, first.pk, "drop_in"), (1, second.pk, "drop_in"))
        assert found == {first.pk: first.pk, second.pk: second.pk}

    @pytest.mark.parametrize(("grade", "is_same"), [("1.4401", True), ("AISI 316L", True), ("304", False)])
    def test_stainless_steel_is_compared_by_its_grade_however_it_is_written(self, grade, is_same):
        first, second = (
            sprocket(number, specification=SprocketFactory(material="stainless_steel", material_grade=one))
            for number, one in (("SPR-A", "316"), ("SPR-B", grade))
        )
        found = parts((1, first.pk, "drop_in"), (1, second.pk, "drop_in"))
        assert (found[second.pk] == first.pk) is is_same

    def test_lives_are_kept_apart_where_the_records_say_so(self):
        soft, hard, unknown = (
            sprocket(number, specification=SprocketFactory(hardened_teeth=one))
            for number, one in (("SPR-S", False), ("SPR-H", True), ("SPR-U", None))
        )
        groups = group_parts(Item.objects.all(), cover())
        assert groups.differ_in_duty(soft.pk, hard.pk)
        assert groups.differ_in_duty(unknown.pk, hard.pk)
        assert not groups.differ_in_duty(soft.pk, unknown.pk)

    def test_hardness_that_is_not_recorded_is_taken_for_soft(self):
        soft, hard, unknown = (
            sprocket(number, specification=SprocketFactory(hardened_teeth=one))
            for number, one in (("SPR-S", False), ("SPR-H", True), ("SPR-U", None))
        )
        found = parts(*((1, item.pk, "drop_in") for item in (soft, hard, unknown)))
        assert (found[unknown.pk], found[hard.pk]) == (soft.pk, hard.pk)

    def test_one_position_more_makes_another_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts((1, first.pk, "drop_in"), (2, first.pk, "drop_in"), (1, second.pk, "drop_in"))
        assert found == {first.pk: first.pk, second.pk: second.pk}

    def test_an_item_that_needs_work_is_another_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts((1, first.pk, "drop_in"), (1, second.pk, "with_work"))
        assert found[second.pk] == second.pk

    def test_sprockets_that_drop_in_nowhere_stand_alone_however_alike(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        assert parts() == {first.pk: first.pk, second.pk: second.pk}

    def test_an_item_counted_in_another_unit_is_another_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B", unit="link")
        found = parts((1, first.pk, "drop_in"), (1, second.pk, "drop_in"))
        assert found[second.pk] == second.pk

    def test_bushes_chains_and_keys_of_equal_attributes_are_one_part(self):
        bush, chain = BushItemFactory(), ChainItemFactory()
        key = ItemFactory(specification=KeyFactory())
        twins = BushItemFactory(), ChainItemFactory(), ItemFactory(specification=KeyFactory())
        found = parts()
        assert [found[twin.pk] for twin in twins] == [bush.pk, chain.pk, key.pk]

    @pytest.mark.parametrize(
        ("item_factory", "specification", "changes"),
        [
            (BushItemFactory, BushFactory, {"bore_mm": Decimal("24")}),
            (BushItemFactory, BushFactory, {"material": "stainless_steel"}),
            (ChainItemFactory, ChainFactory, {"strands": 2}),
            (ChainItemFactory, ChainFactory, {"chain_designation": "10B"}),
        ],
    )
    def test_one_attribute_that_differs_makes_another_part(self, item_factory, specification, changes):
        item_factory()
        other = item_factory(specification=specification(**changes))
        assert parts()[other.pk] == other.pk

    def test_items_with_little_recorded_stand_alone(self):
        for _ in range(2):
            ItemFactory(specification=SpecificationFactory(kind="bush", bush_size="1610"))
            ItemFactory(specification=None)
        assert all(item == part for item, part in parts().items())

    def test_members_are_listed_by_part_the_lowest_first(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        edges = cover((1, second.pk, "drop_in"), (1, first.pk, "drop_in"))
        items = Item.objects.order_by("-pk")
        assert group_parts(items, edges).members == {first.pk: (first.pk, second.pk)}


def needed(lives=(), events=(), edges=(), positions=(1,), sprockets=(7, 8, 9)):
    return position_items(
        positions, lives=lives, events=events, cover=cover(*edges), sprockets=frozenset(sprockets)
    )


def test_a_position_needs_the_item_fitted_before_one_requested_and_one_that_drops_in():
    requested, drops = replace(EVENT, item_id=8), (1, 9, "drop_in")
    assert needed([LIFE], [requested], [drops]) == {1: 7}
    assert needed([], [requested], [drops]) == {1: 8}
    assert needed([], [], [drops]) == {1: 9}


def test_the_last_unit_counts_and_not_the_first_recorded():
    later = replace(LIFE, item_id=8, installed_at=day(5))
    assert needed([later, LIFE]) == needed([LIFE, later]) == {1: 8}


def test_a_temporary_unit_does_not_count():
    temporary = replace(LIFE, item_id=8, installed_at=day(5), is_temporary=True)
    assert needed([LIFE, temporary]) == {1: 7}
    assert needed([temporary]) == {}


def test_a_unit_without_an_item_does_not_count():
    assert needed([replace(LIFE, item_id=None)], [replace(EVENT, item_id=8)]) == {1: 8}


def test_the_item_requested_most_counts_in_pieces_and_the_lowest_id_breaks_a_tie():
    eight, nine = replace(EVENT, item_id=8), replace(EVENT, item_id=9)
    assert needed(events=[eight, eight, replace(nine, quantity=3)]) == {1: 9}
    assert needed(events=[nine, eight]) == {1: 8}


def test_chain_requested_for_a_position_is_not_its_item():
    assert needed(events=[replace(EVENT, item_id=70)]) == {}


def test_an_item_that_needs_work_does_not_count():
    assert needed(edges=[(1, 9, "with_work"), (1, 8, "needs_review")]) == {}
