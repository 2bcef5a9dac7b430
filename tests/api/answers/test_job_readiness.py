from datetime import date, timedelta
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone
from rest_framework.test import APIClient

from drives.models import Position, WorkOrder
from drives.substitutes.job_watch import announce_readiness
from drives.substitutes.offers import available_substitutes
from inventory.models import Event, Item
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


def another_job(number: str, *needed: tuple[str, int], days: int = -1, place: Position | None = None) -> None:
    WorkOrder.objects.create(
        source="plan",
        external_id=number,
        source_updated_at=make.MORNING,
        position=place,
        needed_by=NEEDED_BY + timedelta(days=days),
        parts_needed=[{"item": item, "quantity": quantity} for item, quantity in needed],
    )


def test_a_missing_bush_is_answered_with_a_bush(as_viewer: APIClient, place: Position) -> None:
    make.BushItemFactory(stock_number="BSH-1")
    other_bore = make.BushFactory(bore_mm=Decimal("28"))
    room = make.StoreroomFactory()
    make.stock(make.ItemFactory(stock_number="SPR-2"), room, 5)
    make.stock(make.BushItemFactory(stock_number="BSH-28", specification=other_bore), room, 5)
    job(place, parts_needed=[{"item": "BSH-1", "quantity": 1}])
    (line,) = answer(as_viewer)["lines"]
    assert (line["state"], line["substitutes"]) == ("short", [])
    make.stock(make.BushItemFactory(stock_number="BSH-2", specification=make.BushFactory()), room, 1)
    (line,) = answer(as_viewer)["lines"]
    assert (line["state"], line["substitutes"]) == ("substitute", ["BSH-2"])


def test_the_other_sprocket_of_the_drive_is_judged_by_its_own_place(
    as_viewer: APIClient, place: Position
) -> None:
    make.PositionFactory(drive=place.drive, tag="STEEP-EL1-DRIVEN", role="driven", teeth=51)
    room = make.StoreroomFactory()
    make.ItemFactory(stock_number="BIG-1", specification=make.SprocketFactory(teeth=51))
    make.stock(make.ItemFactory(stock_number="SPR-2"), room, 2)
    make.stock(make.ItemFactory(stock_number="BIG-2", specification=make.SprocketFactory(teeth=51)), room, 2)
    job(place, parts_needed=[{"item": "BIG-1", "quantity": 1}])
    (line,) = answer(as_viewer)["lines"]
    assert line["substitutes"] == ["BIG-2"]


def test_a_substitute_next_door_is_named_once_its_way_is_known(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    north = make.StoreroomFactory(code="NORTH")
    make.stock(make.ItemFactory(stock_number="SPR-2"), north, 2)
    assert answer(as_viewer)["lines"][0]["state"] == "short"
    make.TransferTimeFactory(from_storeroom=north, to_storeroom=make.StoreroomFactory(), minutes=6)
    assert answer(as_viewer)["lines"][0]["substitutes"] == ["SPR-2"]


def test_a_substitute_that_another_job_needs_is_not_offered(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    make.stock(make.ItemFactory(stock_number="SPR-2"), make.StoreroomFactory(), 3)
    assert answer(as_viewer)["lines"][0]["substitutes"] == ["SPR-2"]
    another_job("WO-2", ("SPR-2", 2), days=30)
    assert answer(as_viewer)["lines"][0]["state"] == "short"


def test_a_substitute_goes_to_the_earlier_of_two_jobs_that_lack_the_same(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    make.stock(make.ItemFactory(stock_number="SPR-2"), make.StoreroomFactory(), 3)
    another_job("WO-2", ("SPR-1", 2), days=-3, place=place)
    assert answer(as_viewer)["lines"][0]["state"] == "short"


def test_one_piece_is_no_substitute_for_two_lines(as_viewer: APIClient, place: Position, item: Item) -> None:
    make.ItemFactory(stock_number="SPR-3")
    make.stock(make.ItemFactory(stock_number="SPR-2"), make.StoreroomFactory(), 1)
    needed = [{"item": "SPR-1", "quantity": 1}, {"item": "SPR-3", "quantity": 1}]
    job(place, parts_needed=needed)
    assert [line["state"] for line in answer(as_viewer)["lines"]] == ["substitute", "short"]


def test_the_part_in_the_storeroom_next_door_is_there(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    north = make.StoreroomFactory(code="NORTH")
    make.stock(item, north, 2)
    (line,) = answer(as_viewer)["lines"]
    assert line["state"] == "short"
    assert line["in_the_way"][0]["code"] == "transfer_time_not_recorded"
    make.TransferTimeFactory(from_storeroom=north, to_storeroom=make.StoreroomFactory(), minutes=6)
    found = answer(as_viewer)
    (line,) = found["lines"]
    assert (found["is_ready"], line["state"], line["missing"]) == (True, "transfer", 0)
    assert line["sources"] == [{"storeroom": "NORTH", "quantity": 2, "minutes": 6, "piece_links": None}]
    assert line["explanation"] == "To transfer: 2 from NORTH (6 min)."


def test_a_piece_goes_to_the_job_with_the_earlier_date(
    as_viewer: APIClient, place: Position, item: Item
) -> None:
    job(place)
    make.stock(item, make.StoreroomFactory(), 3)
    another_job("WO-2", ("SPR-1", 2), days=5)
    assert answer(as_viewer)["is_ready"] is True
    another_job("WO-3", ("SPR-1", 2), days=-5)
    (line,) = answer(as_viewer)["lines"]
    assert (line["missing"], line["available"]) == (1, 1)
    (way,) = line["in_the_way"]
    assert (way["code"], way["values"]["work_order"]) == ("promised_to_earlier_job", "WO-3")
    WorkOrder.objects.filter(external_id="WO-3").update(status="cancelled")
    assert answer(as_viewer)["is_ready"] is True


def test_the_reservation_in_the_way_is_named(as_viewer: APIClient, place: Position, item: Item) -> None:
    job(place)
    room = make.StoreroomFactory()
    make.stock(item, room, 2)
    ledger.reserve(item, room, 2, work_order="WO-77", by="Marta Keller")
    (line,) = answer(as_viewer)["lines"]
    assert line["state"] == "short"
    (way,) = line["in_the_way"]
    assert (way["code"], way["explanation"]) == (
        "reserved_in_storeroom",
        "2 in MAIN reserved for WO-77.",
    )


def test_the_staging_days_are_the_plants_own(as_viewer: APIClient, place: Position, item: Item) -> None:
    make.StockingTermsFactory(staging_days=4)
    job(place)
    found = answer(as_viewer)
    assert (found["staging_days"], found["order_by"]) == (4, str(NEEDED_BY - timedelta(days=25)))
    order(item, NEEDED_BY - timedelta(days=3))
    assert answer(as_viewer)["lines"][0]["state"] == "short"
    WorkOrder.objects.update(needed_by=NEEDED_BY + timedelta(days=1))
    assert answer(as_viewer)["lines"][0]["state"] == "on_order"


def test_chain_is_there_when_one_piece_is_long_enough(as_viewer: APIClient, place: Position) -> None:
    chain = make.ChainItemFactory(stock_number="CHN-1")
    room = make.StoreroomFactory()
    make.stock(chain, room, 180, pieces=[90, 90])
    job(place, parts_needed=[{"item": "CHN-1", "quantity": 164}])
    found = answer(as_viewer)
    (line,) = found["lines"]
    assert (found["is_ready"], line["state"], line["missing"]) == (False, "short", 164)
    assert (line["code"], line["values"]) == (
        "no_piece_for_chain_job",
        {"links": 164, "piece_links": [90, 90], "joints": 0},
    )
    make.StockingTermsFactory(chain_joints=1)
    found = answer(as_viewer)
    assert found["is_ready"] is True
    assert [(one["quantity"], one["piece_links"]) for one in found["lines"][0]["sources"]] == [
        (90, 90),
        (74, 90),
    ]


def test_a_bush_that_lies_nowhere_is_not_answered_with_a_sprocket_at_the_counter_either(
    place: Position,
) -> None:
    bush, room = make.BushItemFactory(), make.StoreroomFactory()
    make.stock(make.ItemFactory(stock_number="SPR-2"), room, 2)
    assert available_substitutes(bush, place, here=room, at=timezone.now()) == []


def test_other_jobs_and_lines_cost_no_query(as_viewer: APIClient, place: Position, item: Item) -> None:
    room = make.StoreroomFactory()
    make.stock(make.ItemFactory(stock_number="SPR-2"), room, 1)
    make.BushItemFactory(stock_number="BSH-1")
    job(place, parts_needed=[{"item": "SPR-1", "quantity": 1}, {"item": "BSH-1", "quantity": 1}])
    with CaptureQueriesContext(connection) as before:
        answer(as_viewer)
    for number in range(4):
        make.ItemFactory(stock_number=f"MORE-{number}")
        another_job(f"WO-{number + 2}", ("SPR-1", 1), ("BSH-1", 2), ("SPR-2", 1), place=place)
    more = [{"item": f"MORE-{number}", "quantity": 1} for number in range(4)]
    work_order = WorkOrder.objects.get(external_id="WO-1")
    work_order.parts_needed += more
    work_order.save()
    with CaptureQueriesContext(connection) as after:
        answer(as_viewer)
    assert len(after) == len(before)


def test_the_planner_is_told_when_a_ready_job_falls_short(place: Position, item: Item) -> None:
    job(place)
    room = make.StoreroomFactory()
    make.stock(item, room, 2)
    assert announce_readiness() == (0, 0)
    movements.issue(item, room, 1, work_order="WO-9", by="Marta Keller")
    assert announce_readiness() == (1, 0)
    assert announce_readiness() == (0, 0)
    event = Event.objects.get(type="work_order.short")
    assert (event.aggregate, event.plant, event.data["missing"]) == (
        "work-order/plan/WO-1",
        "WEIR",
        ["SPR-1"],
    )
    make.stock(item, room, 1)
    assert announce_readiness() == (0, 1)
    assert Event.objects.filter(type="work_order.ready").count() == 1


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
