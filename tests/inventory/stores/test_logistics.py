"""When a piece is on the counter and the shop is done, from the records of storerooms, shops and hours."""

from datetime import UTC, datetime, time, timedelta

import pytest

from inventory.catalogue.stock_on_hand import ShelfStock, load_stock_of_items
from inventory.facts import fact
from inventory.interchange.findings import WorkStep
from inventory.interchange.vocabulary import Operation
from inventory.models import OpeningHours
from inventory.plumbing.joint_statement import Parameters, answers
from inventory.stores.logistics import Logistics, hours_question, minutes_at_the_drive
from tests.factories import (
    ItemFactory,
    MachineShopFactory,
    OpeningHoursFactory,
    StoreroomFactory,
    TransferTimeFactory,
    stock,
)

pytestmark = pytest.mark.django_db
TUESDAY = datetime(2026, 11, 24, 9, tzinfo=UTC)
BORE = WorkStep(operation=Operation.BORE, detail=fact("bore_to_shaft", bore_mm=25.0), minutes=30)
FIT_CHAIN = WorkStep(operation=Operation.FIT_CHAIN, detail=fact("fit_new_chain"), minutes=40)


@pytest.fixture
def main():
    return StoreroomFactory(code="MAIN", timezone="UTC", pick_minutes=10, call_out_minutes=None)


@pytest.fixture
def north():
    return StoreroomFactory(code="NORTH", timezone="UTC", pick_minutes=10, call_out_minutes=30)


def always_open(**place):
    for weekday in range(7):
        OpeningHoursFactory(**{"storeroom": None} | place, weekday=weekday, opens=time(0), closes=time(0))


def logistics_of(storerooms, shop) -> Logistics:
    put = Parameters()
    asked = {"hours": hours_question(put, shop)}
    lying = "WITH lying AS (SELECT id AS storeroom_id FROM inventory_storeroom)"
    return Logistics.of(storerooms, shop, answers(OpeningHours, put, asked, beginning=lying)["hours"])


def shelves(to, *storerooms) -> tuple[tuple[ShelfStock, ...], Logistics]:
    item = ItemFactory()
    for room in storerooms:
        stock(item, room, 1)
    found = load_stock_of_items([item.pk], to_storeroom_id=to.pk)
    return found.of_item(item.pk), logistics_of(found.storerooms, None)


def test_a_piece_here_is_on_the_counter_after_picking(main):
    always_open(storeroom=main)
    (shelf,), logistics = shelves(main, main)

    assert logistics.arrival(shelf, TUESDAY).at == TUESDAY + timedelta(minutes=10)


def test_a_piece_elsewhere_needs_the_call_out_and_the_transfer_too(main, north):
    TransferTimeFactory(from_storeroom=north, to_storeroom=main, minutes=40)
    (shelf,), logistics = shelves(main, north)

    found = logistics.first_arrival([shelf], TUESDAY)

    assert (found.at, found.storeroom) == (TUESDAY + timedelta(minutes=30 + 10 + 40), "NORTH")


def test_a_transfer_time_of_the_other_direction_does_not_count(main, north):
    TransferTimeFactory(from_storeroom=main, to_storeroom=north, minutes=40)
    (shelf,), logistics = shelves(main, north)

    assert shelf.transfer_minutes is None
    assert logistics.first_arrival([shelf], TUESDAY) is None


def test_of_two_storerooms_the_sooner_one_delivers(main, north):
    always_open(storeroom=main)
    TransferTimeFactory(from_storeroom=north, to_storeroom=main, minutes=40)
    both, logistics = shelves(main, main, north)

    assert logistics.first_arrival(both, TUESDAY).storeroom == "MAIN"


def test_only_the_hours_of_the_shop_itself_count():
    shop = MachineShopFactory(code="SHOP", timezone="UTC", call_out_minutes=None)
    other = MachineShopFactory(code="OTHER", timezone="UTC", call_out_minutes=None)
    always_open(machine_shop=other)

    assert logistics_of([], shop).shop_done_at(TUESDAY, [BORE]) is None
    assert logistics_of([], other).shop_done_at(TUESDAY, [BORE]) == TUESDAY + timedelta(minutes=30)


def test_the_shop_does_not_wait_for_work_at_the_drive():
    assert logistics_of([], None).shop_done_at(TUESDAY, [FIT_CHAIN]) == TUESDAY
    assert minutes_at_the_drive([BORE, FIT_CHAIN]) == 40
