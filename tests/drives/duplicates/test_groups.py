"""Groups by the verdict in both directions, and what each costs; the pieces to keep are compared with scipy's distributions."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone
from scipy import stats

from drives.duplicates.doubts import MergeRefused
from drives.duplicates.groups import find_duplicates
from drives.duplicates.merging import merge
from inventory.models import DuplicateGroup, DuplicateShelf, Item
from tests import factories as make
from tests.drives.duplicates.merged_plant import twins

pytestmark = pytest.mark.django_db


def groups() -> list[tuple[str, list[str]]]:
    find_duplicates(timezone.now())
    return [
        (group.likeness, sorted(one.item.stock_number for one in group.members.select_related("item")))
        for group in DuplicateGroup.objects.all()
    ]


def item(number: str, **columns: object) -> Item:
    return make.ItemFactory(stock_number=number, specification=make.SprocketFactory(**columns))


def test_equal_specifications_under_two_numbers_are_a_group():
    item("A-1"), item("A-2"), item("B-1", teeth=18)
    assert groups() == [("equal", ["A-1", "A-2"])]


def test_words_play_no_part_where_the_specification_is_known():
    one, other = item("A-1"), item("A-2", bore_mm=Decimal("28"))
    Item.objects.filter(pk__in=[one.pk, other.pk]).update(description="SPKT 08B17 25MM KW8")
    assert groups() == []


def test_one_chain_under_its_two_designations_is_one_part():
    item("A-1", chain_designation="08A"), item("A-2", chain_designation="40")
    assert groups() == [("equal", ["A-1", "A-2"])]


def test_a_size_written_to_two_decimals_is_the_same_size():
    inch = Decimal("25.4") * 7 / 8
    item("A-1", bore_mm=inch), item("A-2", bore_mm=Decimal("22.23"))
    assert groups() == [("equal", ["A-1", "A-2"])]


def test_hardened_teeth_that_only_the_words_say_are_no_equal_part():
    silent = item("A-1", hardened_teeth=None)
    item("A-2", hardened_teeth=False)
    assert groups() == [("equal", ["A-1", "A-2"])]
    Item.objects.filter(pk=silent.pk).update(description="SPROCKET 08B-1 17T BORE 25MM KW 8 C45 HT")
    assert groups() == [("near", ["A-1", "A-2"])]
    (difference,) = DuplicateGroup.objects.get().differences
    assert difference["values"]["because"][0]["code"] == "hardened_in_words"
    with pytest.raises(MergeRefused) as refused:
        merge(silent, Item.objects.get(stock_number="A-2"), by="Ines Okafor", reason="one part")
    assert refused.value.fact.code == "merge_needs_engineer"


def test_what_drops_in_one_way_only_is_nearly_equal_and_says_which_way():
    item("A-1"), item("A-2", material="")
    ((likeness, numbers),) = groups()
    assert (likeness, numbers) == ("near", ["A-1", "A-2"])
    (difference,) = DuplicateGroup.objects.get().differences
    found = {name: difference["values"][name] for name in ("required", "offered", "grade")}
    assert found == {"required": "A-1", "offered": "A-2", "grade": "needs_review"}


def test_a_part_that_takes_work_is_no_duplicate():
    item("A-1")
    make.ItemFactory(stock_number="A-2", specification=make.PilotBoredFactory())
    assert groups() == []


def test_pieces_and_links_are_not_one_part():
    part = make.ChainFactory()
    make.ChainItemFactory(specification=part)
    make.ItemFactory(specification=part)
    assert groups() == []


@pytest.mark.parametrize("factory", [make.BushFactory, make.KeyFactory, make.ChainFactory])
def test_bushes_keys_and_chain_are_found_too(factory: type[make.SpecificationFactory]):
    for number in ("A-1", "A-2"):
        make.ItemFactory(stock_number=number, specification=factory())
    assert groups() == [("equal", ["A-1", "A-2"])]


def test_what_cannot_be_read_is_proposed_by_its_words():
    make.ItemFactory(stock_number="A-1", specification=None, description="SPROCKET 50 T16 BORE 31,75")
    make.ItemFactory(stock_number="A-2", specification=None, description="Sprocket T16 50 bore 31,75")
    make.ItemFactory(stock_number="A-3", specification=None, description="SPROCKET 50 T17 BORE 31,75")
    assert groups() == [("words", ["A-1", "A-2"])]


def test_a_merged_number_is_in_no_group():
    merge(*twins(), by="Ines Okafor", reason="one part")
    assert groups() == []


def test_another_run_replaces_what_was_found():
    item("A-1"), item("A-2")
    assert groups() == groups()
    assert DuplicateGroup.objects.count() == 1


def poisson_stock(mean: float) -> int:
    """Smallest S whose fill rate P(X <= S-1) reaches 0.95, by scipy."""
    return next(s for s in range(1, 50) if stats.poisson.cdf(s - 1, mean) >= 0.95)


def test_holding_apart_costs_the_pieces_that_one_stock_saves():
    pair = twins()
    main, now = make.StoreroomFactory(), timezone.now()
    make.StockPolicyFactory(item=pair[0], storeroom=main)
    for month in range(48):
        for one in pair:
            make.RequestFactory(
                item=one, storeroom=main, at=now - timedelta(days=30 * month + 1), position=None
            )
    for one in pair:
        make.stock(one, main, 5)
    find_duplicates(now)
    shelf, group = DuplicateShelf.objects.get(), DuplicateGroup.objects.get()
    rate = shelf.numbers[0]["demand_per_year"]
    assert rate == pytest.approx(48 / ((30 * 47 + 2) / 365), rel=0.01)
    lead_years = 21 / 365
    assert [one["pieces"] for one in shelf.numbers] == [poisson_stock(rate * lead_years)] * 2
    assert shelf.pieces_together == poisson_stock(2 * rate * lead_years)
    assert group.pieces_together < group.pieces_apart < 10
    assert group.excess_value == (10 - group.pieces_together) * Decimal("38.50")
    assert group.yearly_cost == group.excess_value * Decimal("0.2")
    assert group.worth == float(group.yearly_cost)


def test_what_is_to_be_kept_apart_costs_before_it_is_bought():
    for one in twins(holding_reason="insurance"):
        make.StockPolicyFactory(item=one, storeroom=make.StoreroomFactory(), reorder_point=1, order_up_to=2)
    find_duplicates(timezone.now())
    group = DuplicateGroup.objects.get()
    assert (group.pieces_apart, group.pieces_together, group.excess_value) == (4, 2, 0)
    assert group.yearly_cost == 2 * Decimal("38.50") * Decimal("0.2")


def test_no_less_is_kept_than_the_last_run_recommends():
    pair = twins()
    make.RecommendationFactory(
        item=pair[0], storeroom=make.StoreroomFactory(), reorder_point=2, order_up_to=3
    )
    find_duplicates(timezone.now())
    group = DuplicateGroup.objects.get()
    assert (group.pieces_apart, group.pieces_together) == (3, 3)


def test_without_a_price_no_money_is_named():
    for one in twins(unit_cost=None):
        make.stock(one, make.StoreroomFactory(), 1)
    find_duplicates(timezone.now())
    group = DuplicateGroup.objects.get()
    assert (group.yearly_cost, group.excess_value, group.worth) == (None, None, 0)


def test_of_two_insurance_spares_one_is_enough():
    for one in twins(holding_reason="insurance"):
        make.stock(one, make.StoreroomFactory(), 1)
    find_duplicates(timezone.now())
    group = DuplicateGroup.objects.get()
    assert (group.pieces_apart, group.pieces_together) == (2, 1)


def test_the_cost_does_not_grow_the_queries(django_assert_max_num_queries):
    for size in range(12):
        for _ in range(2):
            make.ItemFactory(specification=make.SprocketFactory(teeth=17 + size))
    with django_assert_max_num_queries(60):
        find_duplicates(timezone.now())


def test_two_designs_of_one_size_are_no_duplicates():
    """A longer hub of another diameter: either difference alone would be for an engineer."""
    item("A-1")
    item("A-2", hub_diameter_mm=Decimal("60"), length_through_bore_mm=Decimal("35"))
    assert groups() == []
