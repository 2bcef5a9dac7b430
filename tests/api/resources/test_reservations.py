from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Item, Reservation, StockLevel
from inventory.stores import ledger
from tests import factories as make
from tests.api.records import errors, names, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/reservations/"


@pytest.fixture
def sprocket(db: None) -> Item:
    item = make.ItemFactory(stock_number="SPR-1")
    make.stock(item, make.StoreroomFactory(), 5)
    return item


def body(**more: Any) -> dict[str, Any]:
    return {"item": "SPR-1", "storeroom": "MAIN", "quantity": 2, "work_order": "WO-1"} | more


def test_it_holds_back(as_storeroom: APIClient, sprocket: Item) -> None:
    response = post(as_storeroom, PATH, body(expires_at="2100-01-01T06:00:00+01:00"))
    found = response.json()
    assert (response.status_code, found["state"], found["open_quantity"]) == (201, "open", 2)
    assert (found["expires_at"], found["reserved_by"]) == ("2100-01-01T05:00:00Z", "the storeroom")
    assert StockLevel.objects.get().reserved == 2


def test_it_refuses_more_than_is_free(as_storeroom: APIClient, sprocket: Item) -> None:
    post(as_storeroom, PATH, body(quantity=4))
    response = post(as_storeroom, PATH, body(quantity=2, work_order="WO-2"), key="k-2")
    assert (response.status_code, response.json()["available"]) == (409, 1)
    assert response.json()["reservations"][0]["work_order"] == "WO-1"


def test_every_bad_member_is_named_at_once(as_storeroom: APIClient, sprocket: Item) -> None:
    wrong = {
        "item": "NOWHERE",
        "storeroom": "NOWHERE",
        "quantity": 1.5,
        "work_order": "",
        "condition": "on_hold",
        "expires_at": "tomorrow",
        "state": "used",
    }
    response = post(as_storeroom, PATH, wrong)
    assert (response.status_code, set(errors(response))) == (400, {f"/{name}" for name in wrong})


def test_an_expiry_in_the_past_is_refused(as_storeroom: APIClient, sprocket: Item) -> None:
    response = post(as_storeroom, PATH, body(expires_at="2024-01-01T00:00:00Z"))
    assert "expires_at is in the past" in errors(response)["/expires_at"]


def test_release_frees_it_once(as_storeroom: APIClient, sprocket: Item) -> None:
    path = f"{PATH}{post(as_storeroom, PATH, body()).json()['id']}/"
    first = post(as_storeroom, f"{path}release/", {}, key="r-1")
    assert (first.status_code, first.json()["state"], first.json()["open_quantity"]) == (200, "released", 0)
    assert first["ETag"] == as_storeroom.get(path)["ETag"]
    assert post(as_storeroom, f"{path}release/", {}, key="r-1").content == first.content
    again = post(as_storeroom, f"{path}release/", {}, key="r-2")
    assert again.status_code == 409
    assert "has ended already: it is released" in again.json()["detail"]
    assert StockLevel.objects.get().reserved == 0


def test_release_needs_a_key_and_a_role(
    as_storeroom: APIClient, as_viewer: APIClient, sprocket: Item
) -> None:
    path = f"{PATH}{post(as_storeroom, PATH, body()).json()['id']}/release/"
    assert as_storeroom.post(path).status_code == 400
    assert post(as_viewer, path, {}).status_code == 403
    assert errors(post(as_storeroom, path, {"why": "x"}, key="r-1")).keys() == {"/why"}
    assert post(as_storeroom, f"{PATH}999999/release/", {}, key="r-2").status_code == 404
    assert Reservation.objects.get().state == "open"


@pytest.mark.parametrize(
    ("query", "orders"),
    [
        ("", ["WO-2", "WO-1"]),
        ("state=open", ["WO-2"]),
        ("state=released,used", ["WO-1"]),
        ("work_order=WO-1", ["WO-1"]),
        ("item=SPR-1&storeroom=MAIN", ["WO-2", "WO-1"]),
        ("storeroom=NORTH", []),
        ("quantity__gte=2", ["WO-2"]),
        ("q=wo-2", ["WO-2"]),
        ("ordering=work_order", ["WO-1", "WO-2"]),
    ],
)
def test_it_is_filtered(query: str, orders: list[str], as_viewer: APIClient, sprocket: Item) -> None:
    room = make.StoreroomFactory()
    ledger.release(ledger.reserve(sprocket, room, 1, work_order="WO-1", by="Marta Keller"))
    ledger.reserve(sprocket, room, 2, work_order="WO-2", by="Marta Keller")
    assert names(as_viewer.get(f"{PATH}?{query}"), "work_order") == orders
