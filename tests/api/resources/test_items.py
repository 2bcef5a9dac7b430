from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Item, Specification
from inventory.stores import ledger
from tests import factories as make
from tests import movements
from tests.api.records import change, errors, names

pytestmark = pytest.mark.django_db
PATH = "/api/v1/items/"
INLINE = {"kind": "sprocket", "chain": "40", "teeth": 17, "bore_type": "tapered", "bush_size": "1210"}


@pytest.fixture
def shelves(db: None) -> dict[str, Item]:
    """Three parts: one in both storerooms, one held back to the last, one nowhere."""
    main, north = make.StoreroomFactory(), make.StoreroomFactory(code="NORTH")
    items = {
        "here": make.ItemFactory(stock_number="SPR-1", maker="Adler", description="SPROCKET 08B-1 Z17"),
        "held": make.ItemFactory(
            stock_number="SPR-2", specification=make.BushedSprocketFactory(), lifecycle="run_down"
        ),
        "none": make.BushItemFactory(stock_number="BSH-3", stocked=False, holding_reason="insurance"),
    }
    make.stock(items["here"], main, 4)
    make.stock(items["here"], north, 2, condition="on_hold")
    make.stock(items["held"], north, 1)
    ledger.reserve(items["held"], north, 1, work_order="WO-1", by="Marta Keller")
    return items


def test_it_shows_the_specification_and_the_totals(as_viewer: APIClient, shelves: Any) -> None:
    found = as_viewer.get(f"{PATH}SPR-1/").json()
    assert (found["on_hand"], found["reserved"], found["available"]) == (6, 0, 4)
    assert found["specification"]["chain"] == "08B"
    assert found["specification"]["geometry"]["pitch_diameter_mm"] == pytest.approx(69.116, abs=0.001)
    assert (found["unit_cost"], found["currency"]) == ("38.50", "EUR")


def test_a_stock_number_of_digits_alone_goes_before_an_id(as_viewer: APIClient) -> None:
    first = make.ItemFactory(stock_number="SPR-1")
    numbered = make.ItemFactory(stock_number=str(first.pk))
    assert as_viewer.get(f"{PATH}{first.pk}/").json()["id"] == numbered.pk


def test_it_is_made_with_a_specification_of_its_own(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"stock_number": "SPR-7", "specification": INLINE})
    assert made.status_code == 201, made.content
    assert made.json()["specification"]["chain"] == "08A"
    assert Item.objects.get(stock_number="SPR-7").specification.bush_size == "1210"


def test_it_is_made_on_a_specification_that_there_is(as_manager: APIClient) -> None:
    behind = make.SprocketFactory()
    made = as_manager.post(PATH, {"stock_number": "SPR-7", "specification": behind.pk})
    assert made.json()["specification"]["id"] == behind.pk


def test_an_item_needs_no_specification(as_manager: APIClient) -> None:
    made = as_manager.post(PATH, {"stock_number": "OIL-1", "specification": None})
    assert (made.status_code, made.json()["specification"]) == (201, None)


def test_every_bad_member_is_named_at_once(as_manager: APIClient) -> None:
    body = {
        "stock_number": "A//B",
        "unit": "box",
        "unit_cost": -1,
        "currency": "euro",
        "lead_time_days": 40_000,
        "stocked": "yes",
        "lifecycle": "gone",
        "replaced_by": "NOWHERE",
        "specification": {"chain": "08BB", "teeth": 5, "bore_mm": 1.9375, "colour": 1},
    }
    found = errors(as_manager.post(PATH, body))
    nested = {f"/specification/{name}" for name in ("chain", "teeth", "bore_mm", "colour")}
    assert set(found) == {f"/{name}" for name in body if name != "specification"} | nested
    assert found["/replaced_by"] == 'There is no item "NOWHERE".'


@pytest.mark.parametrize("given", ["x", True, 1.5, [], 999_999, 10**30, -1])
def test_a_specification_is_an_id_or_an_object(given: Any, as_manager: APIClient) -> None:
    response = as_manager.post(PATH, {"stock_number": "SPR-7", "specification": given})
    assert (response.status_code, set(errors(response))) == (400, {"/specification"})


def test_a_stock_number_is_given_once(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1")
    response = as_manager.post(PATH, {"stock_number": "SPR-1"})
    assert (response.status_code, set(errors(response))) == (409, {"/stock_number"})


def test_a_patch_of_the_specification_merges_into_what_stands(as_manager: APIClient) -> None:
    make.ItemFactory(stock_number="SPR-1")
    changed = change(as_manager, f"{PATH}SPR-1/", {"specification": {"teeth": 19}})
    assert changed.status_code == 200, changed.content
    behind = changed.json()["specification"]
    assert (behind["teeth"], behind["hub_style"]) == (19, "B")
    assert Specification.objects.count() == 1


def test_a_specification_that_others_stand_on_is_left_to_them(as_manager: APIClient) -> None:
    shared = make.SprocketFactory()
    make.ItemFactory(stock_number="SPR-1", specification=shared)
    other = make.ItemFactory(stock_number="SPR-2", specification=shared)
    change(as_manager, f"{PATH}SPR-1/", {"specification": {"teeth": 19}})
    other.refresh_from_db()
    assert (other.specification.teeth, Item.objects.get(stock_number="SPR-1").specification.teeth) == (17, 19)


def test_successors_do_not_lead_back(as_manager: APIClient) -> None:
    last = make.ItemFactory(stock_number="SPR-3")
    middle = make.ItemFactory(stock_number="SPR-2", replaced_by=last)
    make.ItemFactory(stock_number="SPR-1", replaced_by=middle)
    for successor in ("SPR-1", "SPR-3"):
        response = change(as_manager, f"{PATH}SPR-3/", {"replaced_by": successor})
        assert (response.status_code, set(errors(response))) == (400, {"/replaced_by"})


def test_what_was_booked_keeps_its_unit(as_manager: APIClient, shelves: Any) -> None:
    response = change(as_manager, f"{PATH}SPR-1/", {"unit": "link"})
    assert response.status_code == 409
    assert "has been booked by each already" in response.json()["detail"]


def test_one_with_stock_cannot_be_deleted(as_manager: APIClient, shelves: Any) -> None:
    response = as_manager.delete(f"{PATH}SPR-1/", HTTP_IF_MATCH=as_manager.get(f"{PATH}SPR-1/")["ETag"])
    assert response.status_code == 409
    assert {one["kind"] for one in response.json()["blockers"]} == {"stock entry", "stock level"}


def test_the_tag_changes_with_the_stock(as_viewer: APIClient, shelves: dict[str, Item]) -> None:
    before = as_viewer.get(f"{PATH}SPR-1/")["ETag"]
    make.stock(shelves["here"], make.StoreroomFactory(), 1)
    assert as_viewer.get(f"{PATH}SPR-1/")["ETag"] != before


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("", ["BSH-3", "SPR-1", "SPR-2"]),
        ("in_stock=true", ["SPR-1"]),
        ("in_stock=false", ["BSH-3", "SPR-2"]),
        ("storeroom=NORTH", ["SPR-1", "SPR-2"]),
        ("storeroom=NORTH&in_stock=true", []),
        ("storeroom=MAIN,NORTH&in_stock=true", ["SPR-1"]),
        ("stocked=false", ["BSH-3"]),
        ("lifecycle=run_down,blocked", ["SPR-2"]),
        ("holding_reason=insurance", ["BSH-3"]),
        ("maker=Adler", ["SPR-1"]),
        ("q=08B Z17 adler", ["SPR-1"]),
        ("q=%25", []),
        ("chain=08b&teeth__gte=18", ["SPR-2"]),
        ("chain=08B&teeth=17&bore_type=finished&in_stock=true", ["SPR-1"]),
        ("kind=bush,key", ["BSH-3"]),
        ("bush_size=1610", ["BSH-3", "SPR-2"]),
        ("bore_mm__gte=25&bore_mm__lte=25", ["BSH-3", "SPR-1"]),
        ("strands=2", []),
        ("hub_style=A,B", ["SPR-1", "SPR-2"]),
        ("unit_cost__lte=20", ["BSH-3"]),
        ("stock_number=SPR-1,BSH-3", ["BSH-3", "SPR-1"]),
    ],
)
def test_it_is_filtered(query: str, numbers: list[str], as_viewer: APIClient, shelves: Any) -> None:
    assert names(as_viewer.get(f"{PATH}?{query}"), "stock_number") == numbers


@pytest.mark.parametrize(
    "query",
    [
        "in_stocks=true",
        "available__gte=1",
        "ordering=-on_hand",
        "in_stock=yes",
        "lifecycle=gone",
        "chain=08BB",
        "teeth=17.5",
    ],
)
def test_a_filter_that_is_not_understood_is_refused(query: str, as_viewer: APIClient) -> None:
    assert as_viewer.get(f"{PATH}?{query}").status_code == 400


def test_its_movements_are_listed_newest_first(
    as_viewer: APIClient, shelves: dict[str, Item], django_assert_num_queries: Any
) -> None:
    movements.issue(shelves["here"], make.StoreroomFactory(), 1, by="Marta Keller", work_order="WO-9")
    with django_assert_num_queries(3):
        response = as_viewer.get(f"{PATH}SPR-1/movements/")
    assert names(response, "change") == [-1, 2, 4]
    assert names(as_viewer.get(f"{PATH}SPR-1/movements/?kind=issue&work_order=WO-9"), "balance_after") == [3]
    assert as_viewer.get(f"{PATH}SPR-1/movements/?kind=theft").status_code == 400
    assert as_viewer.get(f"{PATH}NOWHERE/movements/").status_code == 404
