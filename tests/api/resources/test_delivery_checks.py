"""Deliveries checked at the door: received, held with the reason, released or sent back, and never twice."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import (
    Condition,
    DeliveryCheck,
    Event,
    StockEntry,
    StockLevel,
    StockPiece,
    SupplyOrder,
    SupplyStatus,
)
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests.api.records import errors

pytestmark = pytest.mark.django_db
PATH = "/api/v1/delivery-checks/"
RIGHT = {"teeth": 21, "strands": 1, "tooth_width_mm": 16.0}
AN_80 = {**RIGHT, "tooth_width_mm": 14.6}


@pytest.fixture
def order() -> SupplyOrder:
    part = make.SprocketFactory(chain_designation="16B", teeth=21, bore_type="plain", bore_mm=20)
    item = make.ItemFactory(stock_number="SPR-16B", specification=part)
    return make.SupplyOrderFactory(item=item, external_id="PO-1", supplier="Weir Chain", quantity=5)


def sent(client: APIClient, key: str = "one", **body: Any) -> Any:
    given = {"source": "purchasing", "external_id": "PO-1", "quantity": 5, "delivered": RIGHT, **body}
    return client.post(PATH, given, format="json", HTTP_IDEMPOTENCY_KEY=key)


def settled(client: APIClient, check: int, act: str, key: str = "two", **body: Any) -> Any:
    given = {"reason": "measured again by the workshop", **body}
    return client.post(f"{PATH}{check}/{act}/", given, format="json", HTTP_IDEMPOTENCY_KEY=key)


def shelves() -> dict[str, int]:
    return {level.condition: level.on_hand for level in StockLevel.objects.filter(on_hand__gt=0)}


def state(order: SupplyOrder) -> tuple[str, int, bool]:
    order.refresh_from_db()
    return order.status, order.received_quantity, order.received_at is not None


def books_agree() -> bool:
    check = DeliveryCheck.objects.get()
    held = StockLevel.objects.filter(condition=Condition.ON_HOLD).first()
    return verify() == () and check.held_quantity == (held.on_hand if held else 0)


def test_what_passes_is_received_for_its_order(as_storeroom: APIClient, order: SupplyOrder) -> None:
    answer = sent(as_storeroom)

    assert answer.status_code == 201, answer.content
    shown = answer.json()
    assert (shown["outcome"], shown["held"], shown["received"]) == ("passes", 0, 5)
    assert (shown["supplier"], shown["checked_by"]) == ("Weir Chain", "the storeroom")
    assert shelves() == {"new": 5}
    assert state(order) == (SupplyStatus.RECEIVED, 5, True)
    assert StockEntry.objects.get().reason == "purchasing PO-1"
    assert shown["movements"] == [StockEntry.objects.get().pk]


def suppliers(client: APIClient, **asked: str) -> list[str | None]:
    return [one["supplier"] for one in client.get("/api/v1/movements/", asked).json()["results"]]


def test_the_movements_of_a_delivery_name_its_supplier_and_are_found_by_it(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    sent(as_storeroom, delivered=AN_80)
    receipt = StockEntry.objects.get()
    make.stock(order.item, order.storeroom, 2)
    settled(as_storeroom, DeliveryCheck.objects.get().pk, "send-back", quantity=5)
    assert suppliers(as_storeroom) == ["Weir Chain", None, "Weir Chain"]
    assert suppliers(as_storeroom, supplier="Weir Chain") == ["Weir Chain", "Weir Chain"]
    assert suppliers(as_storeroom, supplier="Weir Chain", change__gte="1") == ["Weir Chain"]
    assert suppliers(as_storeroom, supplier="Weir") == []
    assert as_storeroom.get(f"/api/v1/movements/{receipt.pk}/").json()["supplier"] == "Weir Chain"
    own = as_storeroom.get(f"/api/v1/items/{order.item.stock_number}/movements/").json()["results"]
    assert [one["supplier"] for one in own] == ["Weir Chain", None, "Weir Chain"]


def test_movements_of_many_deliveries_are_found_by_their_supplier_too(
    as_storeroom: APIClient, order: SupplyOrder, monkeypatch: Any
) -> None:
    monkeypatch.setattr("api.edge.narrowing.MOST_KEYS", 0)
    sent(as_storeroom)
    make.stock(order.item, order.storeroom, 2)
    assert suppliers(as_storeroom, supplier="Weir Chain") == ["Weir Chain"]


def test_another_thing_goes_on_hold_with_its_reason_and_the_order_stays_open(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    shown = sent(as_storeroom, delivered=AN_80).json()

    assert (shown["outcome"], shown["held"], shown["could_be"][0]) == ("something_else", 5, "16A")
    assert shown["ordered"]["chain"] == "16B"
    assert shelves() == {"on_hold": 5}
    assert StockLevel.objects.totals().available == 0
    assert StockEntry.objects.get().reason == (
        "purchasing PO-1: Tooth width 14.6 mm: a new 16B has 15.64 mm to 16.27 mm, reading error included."
    )
    assert state(order) == (SupplyStatus.OPEN, 0, False)
    event = Event.objects.get(type="delivery.checked")
    assert (event.data["outcome"], event.data["supplier"]) == ("something_else", "Weir Chain")
    assert Event.objects.filter(type="stock.moved").count() == 1


def test_without_the_deciding_measurement_it_is_held_as_doubtful(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    shown = sent(as_storeroom, delivered={"teeth": 21, "strands": 1}).json()

    assert (shown["outcome"], shown["held"]) == ("doubtful", 5)
    assert state(order) == (SupplyStatus.OPEN, 0, False)


def test_words_hold_what_no_measurement_shows(as_storeroom: APIClient, order: SupplyOrder) -> None:
    shown = sent(as_storeroom, wrong="Rusty: the box was open").json()

    assert (shown["outcome"], shown["held"]) == ("something_else", 5)
    assert shown["reasons"][0]["explanation"] == "Whoever checked it says: Rusty: the box was open."


def test_what_has_no_teeth_is_judged_by_words_alone(as_storeroom: APIClient, order: SupplyOrder) -> None:
    order.item.specification = None
    order.item.save()
    measured = sent(as_storeroom)
    shown = sent(as_storeroom, delivered=None).json()

    assert errors(measured)["/delivered"].startswith("Item 'SPR-16B' has no chain and teeth")
    assert (shown["outcome"], shown["received"], shown["ordered"]) == ("passes", 5, {})


def test_released_pieces_are_free_and_received(as_storeroom: APIClient, order: SupplyOrder) -> None:
    check = sent(as_storeroom, delivered=AN_80).json()["id"]
    shown = settled(as_storeroom, check, "release", quantity=2).json()

    assert (shown["held"], shown["received"], shown["settled_by"]) == (3, 2, "the storeroom")
    assert shelves() == {"on_hold": 3, "new": 2}
    assert state(order) == (SupplyStatus.OPEN, 2, True)
    assert books_agree()


def test_pieces_sent_back_leave_the_books_and_stay_on_order(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    check = sent(as_storeroom, delivered=AN_80).json()["id"]
    settled(as_storeroom, check, "release", quantity=2)
    shown = settled(as_storeroom, check, "send-back", key="three", quantity=3).json()

    assert (shown["held"], shown["received"], shown["sent_back"]) == (0, 2, 3)
    assert shelves() == {"new": 2}
    assert state(order) == (SupplyStatus.OPEN, 2, True)
    assert books_agree()


def test_no_more_is_settled_than_is_held(as_storeroom: APIClient, order: SupplyOrder) -> None:
    check = sent(as_storeroom, quantity=3, delivered=AN_80).json()["id"]
    refused = settled(as_storeroom, check, "send-back", quantity=4)

    assert (refused.status_code, refused.json()["code"]) == (409, "delivery_not_so_many_held")
    assert shelves() == {"on_hold": 3}


def test_what_is_held_is_not_released_beyond_the_order(as_storeroom: APIClient, order: SupplyOrder) -> None:
    check = sent(as_storeroom, delivered=AN_80).json()["id"]
    sent(as_storeroom, key="replacement")
    refused = settled(as_storeroom, check, "release", quantity=1)

    assert (refused.status_code, refused.json()["code"]) == (409, "delivery_for_closed_order")
    assert shelves() == {"on_hold": 5, "new": 5}


def test_a_reversed_receipt_is_open_again_and_a_reversed_release_held_again(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    right = sent(as_storeroom, quantity=2).json()
    reverse(as_storeroom, right["movements"][0])
    assert state(order) == (SupplyStatus.OPEN, 0, False)

    held = sent(as_storeroom, key="held", delivered=AN_80).json()["id"]
    moves = settled(as_storeroom, held, "release", quantity=5).json()["movements"]
    assert state(order)[1] == 5
    whole = reverse(as_storeroom, moves[0], key="r2")
    assert (whole.status_code, whole.json()["code"]) == (409, "delivery_not_so_many_held")
    assert reverse(as_storeroom, moves[-1], key="r3").status_code == 201
    assert state(order) == (SupplyStatus.OPEN, 0, False)
    assert as_storeroom.get(f"{PATH}{held}/").json()["held"] == 5
    assert verify() == ()


def reverse(client: APIClient, movement: int, key: str = "r1") -> Any:
    body = {"reason": "booked by mistake"}
    address = f"/api/v1/movements/{movement}/reverse/"
    return client.post(address, body, format="json", HTTP_IDEMPOTENCY_KEY=key)


def test_sent_twice_it_is_recorded_once(as_storeroom: APIClient, order: SupplyOrder) -> None:
    first = sent(as_storeroom, quantity=2, reference="D-1")
    again = sent(as_storeroom, quantity=2, reference="D-1")
    elsewhere = sent(as_storeroom, key="another", quantity=2, reference="D-1")
    other = sent(as_storeroom, key="third", quantity=3, reference="D-1")

    assert (first.status_code, again.status_code, elsewhere.status_code) == (201, 201, 200)
    assert again["Idempotency-Replayed"] == "true"
    assert elsewhere.json()["id"] == first.json()["id"]
    assert (other.status_code, other.json()["code"]) == (409, "delivery_already_recorded")
    assert shelves() == {"new": 2}
    assert state(order)[1] == 2


def test_more_than_is_outstanding_is_refused(as_storeroom: APIClient, order: SupplyOrder) -> None:
    refused = sent(as_storeroom, quantity=6)

    assert (refused.status_code, refused.json()["code"]) == (409, "delivery_above_outstanding")
    assert not StockEntry.objects.exists()


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"delivered": {**RIGHT, "tooth_width_mm": 0.63}}, "/delivered/tooth_width_mm"),
        (
            {"delivered": {**RIGHT, "outside_diameter_mm": 160, "caliper_diameter_mm": 190}},
            "/delivered/outside_diameter_mm",
        ),
        ({"delivered": {"teeth": 0, "strands": 1}}, "/delivered/teeth"),
        ({"delivered": None}, "/delivered"),
        ({"quantity": 0}, "/quantity"),
        ({"external_id": "PO-2"}, "/external_id"),
        ({"wrong": "x" * 201}, "/wrong"),
        ({"checked_at": "2019-01-01T00:00:00Z"}, "/checked_at"),
    ],
)
def test_bad_input_names_its_member_and_books_nothing(
    as_storeroom: APIClient, order: SupplyOrder, body: dict[str, Any], pointer: str
) -> None:
    refused = sent(as_storeroom, **body)

    assert (refused.status_code, list(errors(refused))) == (400, [pointer])
    assert not StockEntry.objects.exists()
    assert not DeliveryCheck.objects.exists()


def test_chain_comes_in_by_its_pieces(as_storeroom: APIClient, order: SupplyOrder) -> None:
    order.item.unit = "link"
    order.item.save()
    assert list(errors(sent(as_storeroom))) == ["/delivered"]
    assert list(errors(sent(as_storeroom, "two", delivered=None, wrong="08A"))) == ["/wrong"]
    assert list(errors(sent(as_storeroom, "three", delivered=None, piece_links=[3]))) == ["/piece_links"]
    shown = sent(as_storeroom, "four", delivered=None, piece_links=[3, 2]).json()
    assert (shown["outcome"], shown["received"]) == ("passes", 5)
    assert (sorted(StockPiece.objects.values_list("links", flat=True)), state(order)[1]) == ([2, 3], 5)
    reversed_by = f"/api/v1/movements/{shown['movements'][0]}/reverse/"
    undone = as_storeroom.post(
        reversed_by, {"reason": "other box"}, format="json", HTTP_IDEMPOTENCY_KEY="five"
    )
    assert (undone.status_code, state(order)[1]) == (201, 0)


def test_a_message_that_does_not_know_of_the_check_takes_nothing_back(
    as_storeroom: APIClient, as_integration: APIClient, order: SupplyOrder
) -> None:
    sent(as_storeroom)
    body = {
        "item": "SPR-16B",
        "storeroom": order.storeroom.code,
        "quantity": 5,
        "ordered_at": order.ordered_at.isoformat(),
        "promised_on": "2026-12-24",
        "received": 0,
        "updated_at": "2026-11-01T00:00:00Z",
    }
    shown = as_integration.put("/api/v1/supply-orders/purchasing/PO-1/", body, format="json").json()

    assert (shown["applied"], shown["promised_on"]) == (True, "2026-12-24")
    assert (shown["received"], shown["status"], shown["outstanding"]) == (5, "received", 0)


def test_only_the_storeroom_checks_and_only_its_own(as_viewer: APIClient, order: SupplyOrder) -> None:
    assert sent(as_viewer).status_code == 403


def test_held_deliveries_are_listed(as_storeroom: APIClient, order: SupplyOrder) -> None:
    sent(as_storeroom, quantity=2, delivered=AN_80)
    sent(as_storeroom, key="right", quantity=3)

    def found(query: str) -> list[int]:
        return [one["quantity"] for one in as_storeroom.get(f"{PATH}?{query}").json()["results"]]

    assert found("held__gte=1") == [2]
    assert found("supplier=Weir Chain&outcome=passes") == [3]
    assert found("q=weir&ordering=quantity") == [2, 3]


def test_the_wrong_deliveries_of_a_supplier_are_counted_with_their_rows(
    as_storeroom: APIClient, order: SupplyOrder
) -> None:
    sent(as_storeroom, key="a", quantity=1)
    sent(as_storeroom, key="b", quantity=1)
    wrong = sent(as_storeroom, key="c", quantity=1, delivered=AN_80).json()["id"]
    released = sent(as_storeroom, key="d", quantity=1, delivered=AN_80).json()["id"]
    settled(as_storeroom, released, "release", key="e", quantity=1)
    sent(as_storeroom, key="f", quantity=1, delivered={"teeth": 21, "strands": 1})
    taken_back = sent(as_storeroom, key="g", quantity=1).json()["movements"][0]
    reverse(as_storeroom, taken_back)
    (found,) = as_storeroom.get(f"{PATH}suppliers/").json()["results"]
    figure = as_storeroom.get("/api/v1/figures/wrong_deliveries/").json()

    assert (found["supplier"], found["wrong"], found["checked"]) == ("Weir Chain", 1, 4)
    assert found["undecided"] == 1
    assert found["interval"] == pytest.approx([0.0456, 0.6994], abs=1e-4)  # Wilson, 1 of 4, by hand
    assert found["deliveries"][0]["delivery_check"] == wrong
    assert len(found["deliveries"]) == 5
    assert (figure["count"], figure["out_of"]) == (1, 4)
    assert figure["rows"][0]["reasons"][0]["explanation"] == "Delivered by Weir Chain."
    assert as_storeroom.get(f"{PATH}suppliers/?until=2020-01-01").json()["results"] == []
    assert as_storeroom.get(f"{PATH}suppliers/?since=2030-01-01").status_code == 400
