"""Jobs that lack parts by the day to order, and what the buyer orders and waits for."""

import re
from datetime import date, timedelta

import pytest
from django.contrib.auth.models import Group
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from drives.models import Position, WorkOrder
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

pytestmark = pytest.mark.django_db


@pytest.fixture
def client() -> Client:
    found, user = Client(), UserFactory()
    user.groups.add(Group.objects.get(name="manager"))
    found.force_login(user)
    return found


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


def test_the_job_to_order_for_first_stands_first_with_what_it_lacks(client: Client) -> None:
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
    before = queries(client)
    for n in range(5, 8):
        job_of(place, f"WO-{n}", "SPR-1", today)
    assert queries(client) - before == 3  # Of each job that is short the bushes and chain near its storeroom.


def test_the_buyer_sees_what_is_late_and_what_to_order_by_supplier_and_takes_it_along(client: Client) -> None:
    today, room = timezone.localdate(), StoreroomFactory()
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
