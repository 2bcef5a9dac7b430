"""The administration finds items and positions by what they are."""

import pytest

from tests.factories import AdminFactory, BushFactory, ItemFactory, PositionFactory, SprocketFactory

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines(client):
    client.force_login(AdminFactory())
    return client


@pytest.fixture
def parts(db):
    for number, chain, strands, teeth, words in (
        ("61-01", "60", 1, 24, "SPKT 60B24"),
        ("61-02", "60", 2, 24, "ZWEIFACH-KETTENRAD"),
        ("61-03", "40", 1, 17, "RUSTFREI"),
    ):
        part = SprocketFactory(chain_designation=chain, strands=strands, teeth=teeth)
        ItemFactory(stock_number=number, description=words, specification=part)
    ItemFactory(
        stock_number="62-01", description="BUSH", specification=BushFactory(bush_size="2012", bore_mm=35)
    )
    PositionFactory(
        tag="KLN-A-DRV",
        drive__tag="KLN-A",
        drive__chain_designation="12A",
        drive__strands=2,
        drive__pitch_mm="19.05",
        teeth=24,
    )


@pytest.mark.parametrize(
    ("model", "question", "names"),
    [
        ("inventory/item", "60-2", ["61-02"]),
        ("inventory/item", '1/2" 17T', ["61-03"]),
        ("inventory/item", "ANSI 40 17 rustfrei", ["61-03"]),
        ("inventory/item", "bush 2012 35", ["62-01"]),
        ("inventory/item", "kettenrad", ["61-02"]),
        ("inventory/item", "61 02", ["61-02"]),
        ("inventory/item", "61-02", ["61-02"]),
        ("drives/position", "3/4 pitch duplex 24T", ["KLN-A-DRV"]),
        ("drives/position", "kln-a", ["KLN-A-DRV"]),
        ("drives/position", "bush 2012 35", []),
    ],
)
def test_the_list_shows_what_was_asked_for(parts, ines, model, question, names):
    answer = ines.get(f"/admin/{model}/", {"q": question})
    assert [str(one) for one in answer.context["cl"].result_list] == names


def test_a_stock_number_that_looks_like_a_chain_is_a_stock_number(parts, ines):
    ItemFactory(stock_number="60-2", description="V-BELT", specification=None)
    answer = ines.get("/admin/inventory/item/", {"q": "60-2"})
    assert [str(one) for one in answer.context["cl"].result_list] == ["60-2"]
