"""From an open order to the verdict, and from there to one button."""

import re
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.test import Client

from inventory.models import DeliveryCheck, StockEntry, StockLevel, StockPiece, SupplyOrder
from tests import factories as make

pytestmark = pytest.mark.django_db
AN_80 = {"quantity": "2", "teeth": "21", "strands": "1", "tooth_width_mm": "14,6"}


@pytest.fixture
def order() -> SupplyOrder:
    part = make.SprocketFactory(chain_designation="16B", teeth=21, bore_type="plain", bore_mm=20)
    item = make.ItemFactory(stock_number="SPR-16B", specification=part)
    return make.SupplyOrderFactory(item=item, external_id="PO-1", supplier="Weir Chain", quantity=2)


def signed_in(*roles: str) -> Client:
    user = make.UserFactory()
    user.groups.add(*(Group.objects.get_or_create(name=role)[0] for role in roles))
    client = Client()
    client.force_login(user)
    return client


@pytest.fixture
def clerk(db: None) -> Client:
    return signed_in("storeroom")


def read(client: Client, address: str, **query: str) -> str:
    answer = client.get(address, query)
    assert answer.status_code == 200, answer.content
    return " ".join(answer.content.decode().split())


def hidden(page: str) -> dict[str, str]:
    return dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)"', page))


def booked(client: Client, order: SupplyOrder, **typed: str) -> Any:
    page = read(client, f"/deliveries/orders/{order.pk}/", **typed)
    return client.post(f"/deliveries/orders/{order.pk}/", hidden(page))


def test_the_open_order_leads_to_the_fewest_measurements(clerk: Client, order: SupplyOrder) -> None:
    listed = read(clerk, "/deliveries/", q="po-1")
    assert clerk.get("/deliveries/", {"q": "STEEP D1"})["Location"] == "/?q=STEEP+D1"
    page = read(clerk, f"/deliveries/orders/{order.pk}/")

    assert f'href="/deliveries/orders/{order.pk}/"' in listed
    assert "Tooth width 16.17 mm, not 14.96 mm as of 16A." in page
    assert 'name="tooth_width_mm"' in page
    assert 'name="outside_diameter_mm"' not in page


def test_another_thing_is_put_on_hold_with_one_button_and_once(clerk: Client, order: SupplyOrder) -> None:
    page = read(clerk, f"/deliveries/orders/{order.pk}/", **AN_80)
    assert "It is something else" in page
    assert "it could be 16A" in page
    assert "Put 2 pieces on hold" in page
    for _ in range(2):
        answer = clerk.post(f"/deliveries/orders/{order.pk}/", hidden(page))
        assert answer.status_code == 302
    assert read(clerk, "/identify/").count("data-report") == 1

    check = DeliveryCheck.objects.get()
    assert (check.held_quantity, StockEntry.objects.count()) == (2, 1)
    shown = read(clerk, answer["Location"])
    assert "Tooth width 14.6 mm: a new 16B has 15.64 mm to 16.27 mm" in shown
    assert "PO-1" in read(clerk, "/deliveries/")


def test_what_was_typed_stays_where_something_is_wrong(clerk: Client, order: SupplyOrder) -> None:
    page = read(clerk, f"/deliveries/orders/{order.pk}/", **AN_80 | {"quantity": "7", "teeth": "0"})

    assert "Please correct" in page
    assert 'value="7"' in page
    assert 'value="14,6"' in page
    assert 'name="reference"' not in page
    assert re.findall(r'<input id="(\w+)"[^>]*autofocus', page) == ["teeth"]


def test_more_than_outstanding_is_refused_before_it_is_booked(clerk: Client, order: SupplyOrder) -> None:
    page = read(clerk, f"/deliveries/orders/{order.pk}/", **AN_80 | {"quantity": "3"})
    assert "only 2 of order purchasing PO-1 are outstanding" in page


def test_held_pieces_are_sent_back_once(clerk: Client, order: SupplyOrder) -> None:
    address = booked(clerk, order, **AN_80)["Location"]
    body = {"seen": "2-0-0", "act": "send_back", "quantity": "1", "reason": "return 77"}
    assert clerk.post(address, body).status_code == 302
    again = clerk.post(address, body)

    assert "Sent back 1 × SPR-16B. That is not undone" in again.content.decode()
    assert "has changed since" in again.content.decode()
    assert StockLevel.objects.get(condition="on_hold").on_hand == 1
    assert "Give a reason" in clerk.post(address, body | {"seen": "1-0-1", "reason": ""}).content.decode()
    script = clerk.post(
        address, body | {"seen": "1-0-1", "act": "release"}, headers={"Sent-By-Script": "yes"}
    )
    assert (script.status_code, script["Location"]) == (204, address)
    undo = re.search(r'name="act" value="(movement-reverse:\d+)"', read(clerk, address))
    assert undo
    clerk.post("/counter/undo/", {"act": undo[1], "key": "k"})
    assert StockLevel.objects.get(condition="on_hold").on_hand == 1


def test_a_receipt_is_undone(clerk: Client, order: SupplyOrder) -> None:
    address = booked(clerk, order, **AN_80 | {"tooth_width_mm": "16"})["Location"]
    order.refresh_from_db()
    assert order.status == "received"
    clerk.post(address, {"seen": "0-2-0", "act": "undo", "reason": "another box"})
    order.refresh_from_db()

    assert (order.status, order.received_quantity) == ("open", 0)
    assert StockLevel.objects.totals().on_hand == 0


def test_a_viewer_sees_the_verdict_and_books_nothing(order: SupplyOrder) -> None:
    viewer = signed_in("viewer")
    page = read(viewer, f"/deliveries/orders/{order.pk}/", **AN_80)

    assert "Only the storeroom may book it." in page
    assert viewer.post(f"/deliveries/orders/{order.pk}/", AN_80).status_code == 403


def test_the_manager_sees_the_share_of_a_supplier_with_its_deliveries(
    clerk: Client, order: SupplyOrder
) -> None:
    booked(clerk, order, **AN_80)
    manager = signed_in("manager")
    page = read(manager, "/planning/suppliers/")

    assert "Weir Chain" in page
    assert "1 of 1" in page
    assert "21 to 100 %" in page
    assert f'href="/deliveries/{DeliveryCheck.objects.get().pk}/"' in page
    assert "No delivery was checked" in read(manager, "/planning/suppliers/", until="2020-01-01")
    assert "must not lie after today" in read(manager, "/planning/suppliers/", until="2999-01-01")
    assert "A date is expected" in read(manager, "/planning/suppliers/", since="soon")


def test_chain_is_received_by_its_pieces_and_its_order_goes_down(clerk: Client, order: SupplyOrder) -> None:
    order.item.unit = "link"
    order.item.save()
    order.quantity = 300
    order.save()
    address, chain = f"/deliveries/orders/{order.pk}/", {"quantity": "230", "piece_links": "120, 110"}
    assert 'name="teeth"' not in read(clerk, address)
    assert 'href="#piece_links"' in read(clerk, address, **chain | {"piece_links": "two"})
    assert 'href="#wrong"' in read(clerk, address, **chain, wrong="08A")
    wrong = booked(clerk, order, **chain | {"piece_links": "120"})
    assert (wrong.status_code, StockEntry.objects.exists()) == (409, False)
    assert 'href="#piece_links"' in wrong.content.decode()
    assert "Receive 230 links" in read(clerk, address, **chain)
    assert booked(clerk, order, **chain).status_code == 302

    order.refresh_from_db()
    assert (order.status, order.outstanding) == ("open", 70)
    assert sorted(StockPiece.objects.values_list("links", flat=True)) == [110, 120]
