"""Jobs that lack parts by the day to order, and what the buyer orders and waits for."""

import re
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.models import Position, WorkOrder
from inventory.models import SupplyOrder
from tests.factories import (
    MORNING,
    ItemFactory,
    PositionFactory,
    SprocketFactory,
    StockPolicyFactory,
    StoreroomFactory,
    SupplyOrderFactory,
    UserFactory,
    stock,
)
from tests.pages import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    return signed_in("manager")


def plain(client: Client, address: str) -> str:
    answer = client.get(address)
    assert answer.status_code == 200
    return " ".join(re.sub(r"<[^>]+>", " ", answer.content.decode()).split())


def job_of(place: Position, number: str, item: str, needed_by: date) -> None:
    WorkOrder.objects.create(
        source="plan",
        external_id=number,
        source_updated_at=MORNING,
        position=place,
        needed_by=needed_by,
        parts_needed=[{"item": item, "quantity": 2}],
    )


def queries(client: Client) -> int:
    with CaptureQueriesContext(connection) as found:
        client.get("/planning/jobs/")
    return len(found)


def test_the_job_to_order_for_first_stands_first_with_what_it_lacks(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    today, place = timezone.localdate(), PositionFactory()
    for number, days in (("SPR-1", 21), ("SPR-2", 200), ("SPR-3", 21)):
        ItemFactory(stock_number=number, specification=SprocketFactory(), lead_time_days=days)
    stock(ItemFactory(stock_number="SPR-4"), StoreroomFactory(), 5)
    for job, number, needed_in in (("WO-1", "SPR-1", 90), ("WO-2", "SPR-2", 120), ("WO-4", "SPR-4", 90)):
        job_of(place, job, number, today + timedelta(days=needed_in))
    text = plain(client, "/planning/jobs/")
    assert text.index("WO-2") < text.index("Too late to order in time.") < text.index("WO-1")
    assert re.search(r"SPR-2 .{0,60}2 of 2 pieces", text)
    told = client.get("/api/v1/work-orders/plan/WO-1/readiness/").json()["order_by"]
    assert f"Order by {timezone.datetime.fromisoformat(told):%-d %b %Y}." in text
    assert "1 job is ready" in text
    assert "WO-2" not in plain(client, f"/planning/jobs/?until={today + timedelta(days=100)}")
    assert "Enter a day such as" in plain(client, "/planning/jobs/?until=soon")
    monkeypatch.setattr("api.screens.planning.jobs.PAGE_SIZE", 1)
    assert "WO-2" not in (first := plain(client, "/planning/jobs/"))
    assert "Page 1 of 2 Next page" in first
    assert "WO-1" not in plain(client, f"/planning/jobs/?job={WorkOrder.objects.get(external_id='WO-2').pk}")
    monkeypatch.undo()
    before = queries(client)
    for n in range(5, 8):
        job_of(place, f"WO-{n}", "SPR-1", today)
    assert queries(client) - before == 3  # Of each job that is short the bushes and chain near its storeroom.


def test_every_job_that_is_ready_can_be_reached_page_by_page(
    client: Client, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("api.screens.planning.jobs.READY_PAGE_SIZE", 2)
    place, day = PositionFactory(), timezone.localdate() + timedelta(days=90)
    stock(ItemFactory(stock_number="SPR-4"), StoreroomFactory(), 50)
    for n in range(1, 6):
        job_of(place, f"WO-{n}", "SPR-4", day)
    shown, address = [], "/planning/jobs/"
    while address:
        text = client.get(address).content.decode()
        assert "5 jobs are ready" in plain(client, address)
        assert ('id="ready" open' in text) == ("ready=" in address)
        shown.append(re.findall(r"jobs/\?q=(WO-\d)", text))
        following = re.search(r'href="([^"]*ready=\d+)#ready" rel="next"', text)
        address = f"/planning/jobs/{following[1]}" if following else ""
    assert shown == [["WO-1", "WO-2"], ["WO-3", "WO-4"], ["WO-5"]]


def test_the_buyer_sees_what_is_late_and_what_to_order_by_supplier_and_takes_it_along(client: Client) -> None:
    room = StoreroomFactory()
    today = timezone.localdate(timezone=ZoneInfo(room.timezone))
    late = ItemFactory(stock_number="SPR-1", maker="Zenner", unit_cost="10.00")
    low = ItemFactory(stock_number="SPR-2", maker="Abel", unit_cost="40.00")
    SupplyOrderFactory(
        item=late, storeroom=room, quantity=3, external_id="PO-1", promised_on=today - timedelta(days=4)
    )
    SupplyOrderFactory(
        item=late, storeroom=room, quantity=3, external_id="PO-2", promised_on=today + timedelta(days=4)
    )
    StockPolicyFactory(item=low, storeroom=room, reorder_point=1, order_up_to=3)
    once = ItemFactory(stock_number="SPR-3", maker="Abel", unit_cost=None)
    StockPolicyFactory(item=once, storeroom=room, reorder_point=1, order_up_to=3)
    SupplyOrderFactory(item=once, storeroom=room, status="received", supplier="Dealer")
    text = plain(client, "/planning/buy/")
    assert (
        text.index("Zenner")
        < text.index("PO-1")
        < text.index("4 days late")
        < text.index("PO-2")
        < text.index("Abel")
    )
    assert "Abel 1 to order, about 120 EUR" in text
    lines = b"".join(client.get("/planning/buy.csv").streaming_content).decode().splitlines()  # type: ignore[attr-defined]
    assert lines[1].startswith("Zenner,on order,PO-1,SPR-1,")
    assert f",{today - timedelta(days=4)},4," in lines[1]
    assert [line[:26] for line in lines if "SPR-3" in line] == ["Dealer,to order,,SPR-3,SPR"]
    (ordered,) = [line for line in lines if line.startswith("Abel,to order")]
    told = client.get("/api/v1/reorder-list/").json()["results"]
    assert [one["item"] for one in told] == ["SPR-2", "SPR-3"]
    assert float(ordered.split(",")[-2]) == float(told[0]["expected_cost"]) == 120
    assert "Zenner" not in plain(client, f"/planning/buy/?storeroom={StoreroomFactory(code='WEST').code}")


def test_what_the_buyer_ordered_is_on_order_until_it_is_taken_back(client: Client) -> None:
    low, room = ItemFactory(stock_number="SPR-1", maker="Abel"), StoreroomFactory()
    StockPolicyFactory(item=low, storeroom=room, reorder_point=1, order_up_to=3)
    named, key = {"item": "SPR-1", "room": room.code}, {"key": "1"}
    page = client.get("/planning/buy/", named).content.decode()
    assert 'name="quantity" value="3"' in page
    assert 'name="supplier" value="Abel"' in page
    wrong = client.post("/planning/buy/", {**named, **key, "external_id": "PO 1/ü", "quantity": "x"})
    assert wrong.status_code == 400
    assert b'href="#quantity"' in wrong.content
    right = {
        **named,
        "external_id": "PO 1/ü",
        "quantity": "3",
        "promised_on": "2027-01-11",
        "supplier": "Abel",
    }
    for sent in ({"key": "2"}, {"key": "2"}):
        assert client.post("/planning/buy/", right | sent).status_code == 302
    order = SupplyOrder.objects.get()
    assert (order.source, order.external_id, order.outstanding) == ("purchasing", "PO 1/ü", 3)
    assert re.search(r"1 on order .* PO 1/ü Take back 3 pieces 11 Jan 2027", plain(client, "/planning/buy/"))
    twice = client.post("/planning/buy/", right | {"key": "3"})
    assert "is on record already" in twice.content.decode()
    assert client.post("/planning/buy/", {"order": order.pk, "key": "4"}).status_code == 302
    assert "1 to order" in plain(client, "/planning/buy/")
    assert client.post("/planning/buy/", {"order": order.pk, "key": "5"}).status_code == 409
    assert client.post("/planning/buy/", right | {"key": "7"}).status_code == 302
    now = timezone.now()
    sent = SupplyOrderFactory(item=low, storeroom=room, ordered_at=now, source_updated_at=now)
    assert plain(client, "/planning/buy/").count("Take back") == 1
    assert client.post("/planning/buy/", {"order": sent.pk, "key": "8"}).status_code == 409
    assert set(SupplyOrder.objects.open()) == {order, sent}
    client.force_login(UserFactory(username="reader"))
    assert client.post("/planning/buy/", right | {"key": "6"}).status_code == 403
