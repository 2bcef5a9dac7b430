from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.stores import ledger
from tests import factories as make
from tests import movements
from tests.api.records import names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/stock/"


@pytest.fixture
def shelves(db: None) -> None:
    main, north = make.StoreroomFactory(), make.StoreroomFactory(code="NORTH")
    sprocket, chain = make.ItemFactory(stock_number="SPR-1"), make.ChainItemFactory(stock_number="CHN-1")
    make.stock(sprocket, main, 5, bin=make.BinFactory(storeroom=main, code="A-07"))
    make.stock(sprocket, main, 1, condition="on_hold")
    make.stock(chain, north, 317, pieces=[120, 120, 77])
    ledger.reserve(sprocket, main, 5, work_order="WO-1", by="Marta Keller")


def test_it_shows_what_lies_where(as_viewer: APIClient, shelves: None) -> None:
    chain, sprocket, on_hold = as_viewer.get(PATH).json()["results"]
    assert (sprocket["item"], sprocket["storeroom"], sprocket["bin"]) == ("SPR-1", "MAIN", "A-07")
    assert (sprocket["on_hand"], sprocket["reserved"], sprocket["available"]) == (5, 5, 0)
    assert (on_hold["condition"], on_hold["available"], on_hold["pieces"]) == ("on_hold", 0, [])
    assert (chain["unit"], [piece["links"] for piece in chain["pieces"]]) == ("link", [120, 120, 77])


def test_a_piece_that_is_used_up_is_not_shown(as_viewer: APIClient, shelves: None) -> None:
    chain = make.ChainItemFactory(stock_number="CHN-1")
    movements.issue(chain, make.StoreroomFactory(code="NORTH"), 77, by="Marta Keller")
    found = as_viewer.get(f"{PATH}?item=CHN-1").json()["results"][0]
    assert [piece["links"] for piece in found["pieces"]] == [120, 120]


@pytest.mark.parametrize(
    ("query", "items"),
    [
        ("", ["CHN-1", "SPR-1", "SPR-1"]),
        ("item=CHN-1", ["CHN-1"]),
        ("storeroom=MAIN", ["SPR-1", "SPR-1"]),
        ("condition=on_hold", ["SPR-1"]),
        ("available__gte=1", ["CHN-1"]),
        ("in_stock=false", ["SPR-1", "SPR-1"]),
        ("on_hand__gte=5&on_hand__lte=9", ["SPR-1"]),
        ("bin=A-07", ["SPR-1"]),
        ("unit=link", ["CHN-1"]),
        ("chain=08B&kind=chain", ["CHN-1"]),
        ("q=roller chain", ["CHN-1"]),
        ("ordering=-on_hand", ["CHN-1", "SPR-1", "SPR-1"]),
        ("ordering=available,-item", ["SPR-1", "SPR-1", "CHN-1"]),
    ],
)
def test_it_is_filtered(query: str, items: list[str], as_viewer: APIClient, shelves: None) -> None:
    assert names(as_viewer.get(f"{PATH}?{query}"), "item") == items


@pytest.mark.parametrize("query", ["condition=old", "available__gte=-1", "available=x"])
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400


def test_it_is_changed_by_movements_alone(as_integration: APIClient, shelves: None) -> None:
    response: Any = as_integration.post(PATH, {"on_hand": 7})
    assert (response.status_code, response["Allow"]) == (405, "GET, HEAD, OPTIONS")
