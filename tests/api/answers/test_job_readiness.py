from datetime import date, timedelta
from typing import Any

import pytest
from rest_framework.test import APIClient

from drives.models import Position, WorkOrder
from inventory.models import Item
from inventory.stores import ledger
from tests import factories as make
from tests import movements

pytestmark = pytest.mark.django_db
PATH = "/api/v1/work-orders/plan/WO-1/readiness/"
NEEDED_BY = date(2040, 6, 30)


@pytest.fixture
def place(db: None) -> Position:
    return make.PositionFactory()


@pytest.fixture
def item(place: Position) -> Item:
    part = make.SprocketFactory(material="stainless_steel")
    return make.ItemFactory(stock_number="SPR-1", specification=part, lead_time_days=21)


def job(place: Position | None, quantity: int = 2, **more: Any) -> WorkOrder:
    needed = [{"item": "SPR-1", "quantity": quantity}]
    return WorkOrder.objects.create(
        source="plan",
        external_id="WO-1",
        source_updated_at=make.MORNING,
        position=place,
        needed_by=NEEDED_BY,
        **{"parts_needed": needed} | more,
    )


def answer(client: APIClient) -> dict[str, Any]:
    response = client.get(PATH)
    assert response.status_code == 200, response.content
    found: dict[str, Any] = response.json()
    return found


def order(item: Item, promised_on: date | None, quantity: int = 2) -> None:
    room = make.StoreroomFactory()
    make.SupplyOrderFactory(item=item, storeroom=room, quantity=quantity, promised_on=promised_on)


def test_what_is_reserved_issued_or_available_is_ready(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place, 3)
    room = make.StoreroomFactory()
    make.stock(item, room, 3)
    ledger.reserve(item, room, 2, work_order="WO-1", by="Marta Keller")
    movements.issue(item, room, 1, work_order="WO-1", by="Marta Keller")
    found = answer(as_viewer)
    (line,) = found["lines"]
    assert (found["is_ready"], line["state"]) == (True, "ready")
    assert (line["issued"], line["reserved"], line["available"], line["missing"]) == (1, 1, 1, 0)
    assert (line["code"], line["values"]) == ("available_but_not_reserved", {"quantity": 1})
    assert found["order_by"] is None


def test_what_is_missing_says_by_when_to_order(as_viewer: APIClient, place: Position, item: Item) -> None:
    job(place)
    found = answer(as_viewer)
    (line,) = found["lines"]
    assert (found["is_ready"], line["state"], line["missing"]) == (False, "short", 2)
    assert line["order_by"] == found["order_by"] == str(NEEDED_BY - timedelta(days=22))
    assert line["is_late"] is False
    assert (line["code"], line["values"]) == ("missing_and_not_on_order", {"missing": 2})


def test_a_spread_of_lead_times_asks_for_an_earlier_order(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    """Three orders of 10, 20 and 30 days: mean 20, sd 10, so gamma of shape 4 and scale 5, 95 % at 38.77 days."""
    for days in (10, 20, 30):
        make.SupplyOrderFactory(
            item=item,
            storeroom=make.StoreroomFactory(),
            status="received",
            received_quantity=1,
            received_at=make.MORNING + timedelta(days=days),
        )
    job(place)
    assert answer(as_viewer)["order_by"] == str(NEEDED_BY - timedelta(days=1 + 39))


@pytest.mark.parametrize(
    ("promised_on", "state"),
    [(NEEDED_BY - timedelta(days=1), "on_order"), (NEEDED_BY, "short"), (None, "short")],
)
def test_an_order_counts_when_it_comes_before_the_job(
    promised_on: date | None, state: str, as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    order(item, promised_on)
    (line,) = answer(as_viewer)["lines"]
    assert line["state"] == state
    assert line["due_on"] == (str(promised_on) if promised_on else None)


def test_a_part_order_covers_nothing(as_viewer: APIClient, place: Position, item: Item) -> None:
    job(place)
    order(item, NEEDED_BY - timedelta(days=9), quantity=1)
    assert answer(as_viewer)["lines"][0]["state"] == "short"


def test_what_could_serve_is_named(as_viewer: APIClient, place: Position, item: Item) -> None:
    job(place)
    make.stock(make.ItemFactory(stock_number="SPR-2"), make.StoreroomFactory(), 2)
    (line,) = answer(as_viewer)["lines"]
    assert (line["state"], line["substitutes"]) == ("substitute", ["SPR-2"])
    assert line["values"] == {"missing": 2, "substitutes": ["SPR-2"]}
    assert line["explanation"] == "2 missing; SPR-2 could serve."


def test_nothing_serves_in_place_where_people_are_lifted(as_viewer: APIClient, item: Item) -> None:
    job(make.PositionFactory(drive=make.DriveFactory(lifting=True)))
    make.stock(make.ItemFactory(stock_number="SPR-2"), make.StoreroomFactory(), 2)
    assert answer(as_viewer)["lines"][0]["state"] == "short"


def test_an_unknown_number_is_short(as_viewer: APIClient, place: Position) -> None:
    job(place, parts_needed=[{"item": "NOWHERE", "quantity": 1}])
    (line,) = answer(as_viewer)["lines"]
    assert (line["state"], line["code"]) == ("short", "item_number_not_known")


def test_a_job_without_parts_is_ready_and_an_unknown_one_is_not_there(
    as_viewer: APIClient, as_stranger: APIClient, place: Position
) -> None:
    job(place, parts_needed=[])
    assert (answer(as_viewer)["is_ready"], answer(as_viewer)["lines"]) == (True, [])
    assert as_viewer.get(PATH.replace("WO-1", "WO-2")).status_code == 404
    assert as_stranger.get(PATH).status_code == 401
