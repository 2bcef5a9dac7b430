"""`q=` of items and positions understands what a part is."""

import pytest

from tests.factories import BushFactory, ItemFactory, PositionFactory, SprocketFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def parts(db):
    for number, chain, strands, teeth, words in (
        ("61-01", "60", 1, 24, "SPKT 60B24"),
        ("61-02", "60", 2, 24, "ZWEIFACH-KETTENRAD"),
        ("61-03", "40", 1, 17, "RUSTFREI"),
        ("61-04", "08B", 1, 17, "PIGNON"),
    ):
        part = SprocketFactory(chain_designation=chain, strands=strands, teeth=teeth)
        ItemFactory(stock_number=number, description=words, specification=part)
    ItemFactory(
        stock_number="62-01", description="BUSH", specification=BushFactory(bush_size="2012", bore_mm=35)
    )
    for tag, chain, strands, teeth in (("KLN-A-DRV", "12A", 2, 24), ("KLN-B-DRV", "08A", 1, 17)):
        PositionFactory(
            tag=tag, drive__tag=tag[:5], drive__chain_designation=chain, drive__strands=strands, teeth=teeth
        )


@pytest.mark.parametrize(
    ("question", "numbers"),
    [
        ("60-2", ["61-02"]),
        ("17T", ["61-03", "61-04"]),
        ('1/2" 17T', ["61-03", "61-04"]),
        ('1/2" 17T rustfrei', ["61-03"]),
        ("ANSI 40 17", ["61-03"]),
        ("bush 2012 35", ["62-01"]),
        ("61-02", ["61-02"]),
        ("E160B77", []),
    ],
)
def test_items_by_what_they_are(parts, as_viewer, question, numbers):
    answer = as_viewer.get("/api/v1/items/", {"q": question}).json()
    assert [one["stock_number"] for one in answer["results"]] == numbers


def test_a_stock_number_that_looks_like_a_chain_is_a_stock_number(parts, as_viewer):
    ItemFactory(stock_number="60-2", description="V-BELT", specification=None)
    answer = as_viewer.get("/api/v1/items/", {"q": "60-2"}).json()
    assert [one["stock_number"] for one in answer["results"]] == ["60-2"]


@pytest.mark.parametrize(
    ("question", "tags"),
    [
        ("duplex 60 24 teeth", ["KLN-A-DRV"]),
        ("17T", ["KLN-B-DRV"]),
        ("KLN-B", ["KLN-B-DRV"]),
        ("bush 2012 35", []),
    ],
)
def test_positions_by_what_they_ask_for(parts, as_viewer, question, tags):
    answer = as_viewer.get("/api/v1/positions/", {"q": question}).json()
    assert [one["tag"] for one in answer["results"]] == tags


def test_attributes_and_other_filters_hold_together(parts, as_viewer):
    answer = as_viewer.get("/api/v1/items/", {"q": "17T", "chain": "08B"}).json()
    assert [one["stock_number"] for one in answer["results"]] == ["61-04"]
