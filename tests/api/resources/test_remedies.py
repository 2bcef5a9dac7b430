"""Each way out that a refusal offers is sent as it was given."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import WorkOrder
from inventory.models import CountTask, Event, Item, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores import ledger
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests.api.records import errors, post

pytestmark = pytest.mark.django_db
PATH = "/api/v1/movements/"
MARTA = "Marta Keller"


@pytest.fixture
def main(db: None) -> Storeroom:
    return make.StoreroomFactory()


@pytest.fixture
def sprocket(main: Storeroom) -> Item:
    return make.ItemFactory(stock_number="SPR-1")


def issue(quantity: int = 1, **more: Any) -> dict[str, Any]:
    return {"kind": "issue", "item": "SPR-1", "storeroom": "MAIN", "quantity": quantity} | more


def refused(client: APIClient, body: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The remedies of the refusal, by their action."""
    response = post(client, PATH, body)
    assert response.status_code == 409, response.content
    return {remedy["action"]: remedy for remedy in response.json()["remedies"]}


def send(client: APIClient, remedy: dict[str, Any], key: str = "way-out") -> Any:
    assert remedy["method"] == "POST"
    return post(client, remedy["href"], remedy["body"], key=key)


def changes() -> list[tuple[str, int]]:
    return list(StockEntry.objects.order_by("pk").values_list("kind", "change"))


def test_what_is_found_is_counted_and_issued_in_one(as_storeroom: APIClient, sprocket: Item) -> None:
    place = make.PositionFactory()
    asked = issue(work_order="WO-1", position=place.tag, expected_back_on="2030-01-31")
    remedies = refused(as_storeroom, asked)
    assert list(remedies) == ["found", "not_there"]
    response = send(as_storeroom, remedies["found"])
    shown = response.json()
    assert (response.status_code, shown["kind"], shown["balance_after"]) == (201, "issue", 0)
    assert (shown["position"], shown["expected_back_on"]) == (place.tag, "2030-01-31")
    assert (shown["count"]["change"], shown["count"]["reason_code"]) == (1, "found")
    assert changes() == [("count", 1), ("issue", -1)]
    assert CountTask.objects.get(pk=shown["count_task"]).cause == "found"
    assert send(as_storeroom, remedies["found"]).content == response.content
    assert len(changes()) == 2


def test_what_is_held_back_stays_when_something_is_found(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    make.stock(sprocket, main, 2)
    ledger.reserve(sprocket, main, 2, work_order="WO-2", by=MARTA)
    response = send(as_storeroom, refused(as_storeroom, issue(3))["found"])
    assert (response.json()["count"]["change"], response.json()["balance_after"]) == (3, 2)
    assert verify() == ()


def test_a_count_that_is_too_low_books_neither(as_storeroom: APIClient, sprocket: Item) -> None:
    body = {"item": "SPR-1", "storeroom": "MAIN", "quantity": 3, "counted": 2}
    assert post(as_storeroom, f"{PATH}found/", body).status_code == 409
    assert (changes(), CountTask.objects.count()) == ([], 0)
    response = post(as_storeroom, f"{PATH}found/", body | {"counted": 7}, key="k-2")
    assert (response.json()["balance_after"], changes()) == (4, [("count", 7), ("issue", -3)])


def test_a_reference_is_found_once(as_storeroom: APIClient, sprocket: Item) -> None:
    body = {"item": "SPR-1", "storeroom": "MAIN", "quantity": 1, "reference": "N-1"}
    first = post(as_storeroom, f"{PATH}found/", body)
    again = post(as_storeroom, f"{PATH}found/", body, key="k-2")
    assert (again.status_code, again.json()["id"], again.json()["count"]) == (201, first.json()["id"], None)
    assert len(changes()) == 2


def test_corrective_work_takes_what_is_reserved(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    make.stock(sprocket, main, 1)
    ledger.reserve(sprocket, main, 1, work_order="WO-2", by=MARTA)
    remedies = refused(as_storeroom, issue(work_order="WO-1", reason="kiln is down"))
    assert list(remedies) == ["override_reservation", "not_there"]
    response = send(as_storeroom, remedies["override_reservation"])
    assert (response.status_code, response.json()["balance_after"]) == (201, 0)
    robbed = Reservation.objects.get()
    assert (robbed.state, robbed.short_quantity, robbed.taken_by) == ("released", 1, "WO-1")
    told = Event.objects.get(type="reservation.short").data
    assert (told["taken_reason"], told["reserved_by"]) == ("kiln is down", MARTA)
    assert verify() == ()


def test_the_own_reservation_goes_first(as_storeroom: APIClient, sprocket: Item, main: Storeroom) -> None:
    make.stock(sprocket, main, 3)
    for work_order in ("WO-1", "WO-2"):
        ledger.reserve(sprocket, main, 1, work_order=work_order, by=MARTA)
    body = issue(3, work_order="WO-1", override={"reason": "kiln is down"})
    assert post(as_storeroom, PATH, body).status_code == 201
    assert list(Reservation.objects.order_by("pk").values_list("state", "short_quantity")) == [
        ("used", 0),
        ("released", 1),
    ]


def test_work_that_can_wait_does_not_go_first(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    make.stock(sprocket, main, 1)
    ledger.reserve(sprocket, main, 1, work_order="WO-2", by=MARTA)
    WorkOrder.objects.create(
        source="plan", external_id="WO-1", kind="preventive", source_updated_at=make.MORNING
    )
    assert list(refused(as_storeroom, issue(work_order="WO-1"))) == ["not_there"]
    body = issue(work_order="WO-1", override={"reason": "in a hurry"})
    response = post(as_storeroom, PATH, body, key="k-2")
    assert (response.status_code, response.json()["detail"][:25]) == (409, "WO-1 is not corrective wo")


@pytest.mark.parametrize(
    ("override", "named"),
    [
        ({}, "/override/reason"),
        ({"reason": ""}, "/override/reason"),
        ({"reason": "x" * 201}, "/override/reason"),
        ("now", "/override"),
        ({"reason": "x", "by": "me"}, "/override/by"),
    ],
)
def test_going_first_needs_a_reason(
    override: Any, named: str, as_storeroom: APIClient, sprocket: Item
) -> None:
    assert named in errors(post(as_storeroom, PATH, issue(override=override)))


def test_what_is_not_there_is_counted_to_none_and_the_next_best_named(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    make.stock(sprocket, main, 1)
    ledger.reserve(sprocket, main, 1, work_order="WO-2", by=MARTA)
    other = make.ItemFactory(stock_number="SPR-2", specification=sprocket.specification)
    make.stock(other, make.StoreroomFactory(code="NORTH"), 1)
    place = make.PositionFactory()
    remedies = refused(as_storeroom, issue(work_order="WO-1", position=place.tag))
    response = send(as_storeroom, remedies["not_there"])
    shown = response.json()
    assert (response.status_code, shown["change"], shown["balance_after"]) == (201, -1, 0)
    assert shown["reason_code"] == "not_there"
    assert [offer["item"]["stock_number"] for offer in shown["next"]] == ["SPR-2"]
    assert CountTask.objects.get(pk=shown["count_task"]).cause == "not_there"
    assert Reservation.objects.get().short_quantity == 1
    assert verify() == ()


def test_nothing_is_put_forward_where_people_are_lifted(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    other = make.ItemFactory(stock_number="SPR-2", specification=sprocket.specification)
    make.stock(other, main, 1)
    place = make.PositionFactory(drive=make.DriveFactory(lifting=True))
    body = {"item": "SPR-1", "storeroom": "MAIN"}
    without = post(as_storeroom, f"{PATH}not-there/", body).json()
    assert [offer["item"]["stock_number"] for offer in without["next"]] == ["SPR-2"]
    lifting = post(as_storeroom, f"{PATH}not-there/", body | {"position": place.tag}, key="k-2").json()
    assert lifting["next"] == []


def test_a_count_below_what_is_reserved_may_say_that_nothing_is_there(
    as_storeroom: APIClient, sprocket: Item, main: Storeroom
) -> None:
    make.stock(sprocket, main, 2)
    ledger.reserve(sprocket, main, 2, work_order="WO-2", by=MARTA)
    count = {"kind": "count", "item": "SPR-1", "storeroom": "MAIN", "counted": 0}
    assert send(as_storeroom, refused(as_storeroom, count)["not_there"]).status_code == 201
    assert StockLevel.objects.get().on_hand == 0


def test_pieces_of_chain_may_be_joined(as_storeroom: APIClient, main: Storeroom) -> None:
    make.stock(make.ChainItemFactory(stock_number="SPR-1"), main, 100, pieces=[60, 40])
    make.StockingTermsFactory(chain_joints=1)
    response = send(as_storeroom, refused(as_storeroom, issue(80))["join_pieces"])
    assert (response.status_code, response.json()["balance_after"]) == (201, 20)


def test_more_joints_than_the_plant_allows_are_no_way_out(as_storeroom: APIClient, main: Storeroom) -> None:
    make.stock(make.ChainItemFactory(stock_number="SPR-1"), main, 100, pieces=[60, 40])
    assert "join_pieces" not in refused(as_storeroom, issue(80))


def test_a_piece_of_chain_is_found(as_storeroom: APIClient, main: Storeroom) -> None:
    make.stock(make.ChainItemFactory(stock_number="SPR-1"), main, 50, pieces=[30, 20])
    response = send(as_storeroom, refused(as_storeroom, issue(110))["found"])
    assert (response.status_code, response.json()["balance_after"]) == (201, 50)
    assert verify() == ()


@pytest.mark.parametrize("address", ["found/", "not-there/"])
def test_the_ways_out_need_a_key_and_a_role(
    address: str, as_storeroom: APIClient, as_viewer: APIClient, sprocket: Item
) -> None:
    body = {"item": "SPR-1", "storeroom": "MAIN"}
    assert as_storeroom.post(f"{PATH}{address}", body).status_code == 400
    assert post(as_viewer, f"{PATH}{address}", body).status_code == 403
    wrong = {"item": "NOWHERE", "storeroom": 7.5, "condition": "old", "colour": "red", "position": "X"}
    found = errors(post(as_storeroom, f"{PATH}{address}", wrong))
    assert {f"/{name}" for name in wrong} <= set(found)
