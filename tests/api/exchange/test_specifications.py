from decimal import Decimal

import pytest

from inventory.models import Item, Specification
from tests.api.exchange.files import load, sentences

pytestmark = pytest.mark.django_db
HEADER = "stock_number,kind,chain,teeth,bore_mm\n"


def test_a_specification_of_its_own_is_changed_in_place() -> None:
    load("items", HEADER + "X1,sprocket,08B,17,20\n")
    before = Specification.objects.get()

    result = load("items", HEADER + "X1,sprocket,08B,17,25\n")

    after = Specification.objects.get()
    assert (result.counts["updated"], after.pk, after.bore_mm) == (1, before.pk, Decimal(25))


def test_a_shared_specification_is_left_to_the_other_item() -> None:
    load("items", HEADER + "X1,sprocket,08B,17,20\nX2,,,,\n")
    shared = Specification.objects.get()
    Item.objects.filter(stock_number="X2").update(specification=shared)

    load("items", HEADER + "X1,sprocket,08B,17,25\n")

    first, second = Item.objects.select_related("specification").order_by("stock_number")
    assert second.specification == shared
    assert first.specification is not None
    assert first.specification.pk != shared.pk
    assert (first.specification.bore_mm, first.specification.teeth) == (Decimal(25), 17)
    shared.refresh_from_db()
    assert shared.bore_mm == Decimal(20)


def test_an_emptied_kind_takes_the_specification_away() -> None:
    load("items", HEADER + "X1,sprocket,08B,17,20\n")

    result = load("items", HEADER + "X1,,,,\n")

    assert result.counts["updated"] == 1
    assert Item.objects.get().specification is None
    assert not Specification.objects.exists()


def test_an_item_without_its_kind_is_asked_for_it() -> None:
    result = load("items", "stock_number,teeth\nX1,17\n")

    assert sentences(result) == [
        (2, "kind", "kind is missing: say what part it is, such as sprocket or bush.")
    ]


def test_successors_may_stand_further_down_in_the_file() -> None:
    text = "stock_number,replaced_by\nOLD,NEW\nNEW,\n"

    result = load("items", text)

    assert result.counts["created"] == 2
    assert Item.objects.get(stock_number="OLD").replaced_by == Item.objects.get(stock_number="NEW")
    assert load("items", text).counts["unchanged"] == 2


def test_a_successor_made_later_changes_the_old_item() -> None:
    load("items", "stock_number,replaced_by\nOLD,\n")

    result = load("items", "stock_number,replaced_by\nOLD,NEW\nNEW,\n")

    assert (result.counts["created"], result.counts["updated"]) == (1, 1)


@pytest.mark.parametrize("text", ["A,A\n", "A,B\nB,A\n", "A,B\nB,C\nC,A\n"])
def test_successors_in_a_circle_are_refused(text: str) -> None:
    result = load("items", "stock_number,replaced_by\n" + text)

    assert result.rejected == len(text.splitlines())
    assert "lead back to it" in sentences(result)[0][2]
    assert not Item.objects.exists()


def test_a_long_chain_of_successors_is_fine() -> None:
    rows = "".join(f"N{n},N{n + 1}\n" for n in range(60)) + "N60,\n"

    assert load("items", "stock_number,replaced_by\n" + rows).counts["created"] == 61


def test_nothing_is_replaced_by_a_rejected_row() -> None:
    text = "stock_number,replaced_by,kind,teeth\nA,B,,\nB,C,,\nC,,sprocket,5\nD,,,\n"

    result = load("items", text, partial=True)

    assert (result.counts["created"], result.rejected) == (1, 3)
    assert [column for _, column, _ in sentences(result)] == ["replaced_by", "replaced_by", "teeth"]
    assert Item.objects.get().stock_number == "D"
