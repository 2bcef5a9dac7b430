"""Which numbers are one part, and which part each position asks for; small graphs by hand."""

from dataclasses import replace
from decimal import Decimal

import pytest

from drives.demand.cover import CoverMap, Edge
from drives.demand.parts import homes, parts_of
from drives.demand.request_matching import Asking
from drives.demand.unit_lives import Life
from inventory.models import Item
from tests.drives.demand.world import day, sprocket
from tests.factories import (
    BushFactory,
    BushItemFactory,
    ChainFactory,
    ChainItemFactory,
    ItemFactory,
    KeyFactory,
    SpecificationFactory,
)

LIFE = Life(1, 7, day(0), None, 10.0, "calendar", "", "", "", is_temporary=False)
ASKING = Asking(day(0), 7, 1, 1, 1, "", is_planned=False, result="filled", source="request")


def cover(*edges):
    """(position, item, grade) each."""
    return CoverMap(tuple(Edge(position, item, grade, 0) for position, item, grade in edges))


def parts(*edges):
    return parts_of(Item.objects.with_specification(), cover(*edges)).part_of


@pytest.mark.django_db
class TestSamePart:
    def test_sprockets_that_drop_into_the_very_same_positions_are_one_part_of_the_lowest_number(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts(
            (1, first.pk, "drop_in"),
            (2, first.pk, "drop_in"),
            (2, second.pk, "drop_in"),
            (1, second.pk, "drop_in"),
        )
        assert found == {first.pk: first.pk, second.pk: first.pk}

    def test_one_position_more_makes_another_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts((1, first.pk, "drop_in"), (2, first.pk, "drop_in"), (1, second.pk, "drop_in"))
        assert found == {first.pk: first.pk, second.pk: second.pk}

    def test_what_goes_on_after_work_only_is_another_part(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        found = parts((1, first.pk, "drop_in"), (1, second.pk, "with_work"))
        assert found[second.pk] == second.pk

    def test_sprockets_that_drop_in_nowhere_stand_alone_however_alike(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        assert parts() == {first.pk: first.pk, second.pk: second.pk}

    def test_a_number_counted_in_another_unit_is_never_added_up(self):
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

    def test_a_thin_record_is_the_same_as_nothing(self):
        for _ in range(2):
            ItemFactory(specification=SpecificationFactory(kind="bush", bush_size="1610"))
            ItemFactory(specification=None)
        assert all(item == part for item, part in parts().items())

    def test_members_are_told_by_part_the_lowest_first(self):
        first, second = sprocket("SPR-A"), sprocket("SPR-B")
        edges = cover((1, second.pk, "drop_in"), (1, first.pk, "drop_in"))
        items = list(Item.objects.with_specification())[::-1]
        assert parts_of(items, edges).members == {first.pk: (first.pk, second.pk)}


def home(lives=(), askings=(), edges=(), positions=(1,), sprockets=(7, 8, 9)):
    return homes(positions, lives=lives, askings=askings, cover=cover(*edges), sprockets=frozenset(sprockets))


def test_a_position_asks_for_what_sits_there_before_what_was_asked_for_and_what_drops_in():
    asked, drops = replace(ASKING, item_id=8), (1, 9, "drop_in")
    assert home([LIFE], [asked], [drops]) == {1: 7}
    assert home([], [asked], [drops]) == {1: 8}
    assert home([], [], [drops]) == {1: 9}


def test_the_last_unit_counts_and_not_the_first_recorded():
    later = replace(LIFE, item_id=8, installed_at=day(5))
    assert home([later, LIFE]) == home([LIFE, later]) == {1: 8}


def test_a_temporary_unit_makes_no_home():
    temporary = replace(LIFE, item_id=8, installed_at=day(5), is_temporary=True)
    assert home([LIFE, temporary]) == {1: 7}
    assert home([temporary]) == {}


def test_a_unit_without_a_number_makes_no_home():
    assert home([replace(LIFE, item_id=None)], [replace(ASKING, item_id=8)]) == {1: 8}


def test_what_was_asked_for_most_counts_in_pieces_and_the_lowest_number_breaks_a_tie():
    eight, nine = replace(ASKING, item_id=8), replace(ASKING, item_id=9)
    assert home(askings=[eight, eight, replace(nine, quantity=3)]) == {1: 9}
    assert home(askings=[nine, eight]) == {1: 8}


def test_chain_asked_for_at_a_position_is_not_its_part():
    assert home(askings=[replace(ASKING, item_id=70)]) == {}


def test_what_goes_on_after_work_makes_no_home():
    assert home(edges=[(1, 9, "with_work"), (1, 8, "needs_review")]) == {}
