from datetime import timedelta

import pytest
from django.utils import timezone

from inventory.models import Reservation, StockLevel
from inventory.stores import ledger
from tests import movements
from tests.factories import ItemFactory, StoreroomFactory, stock

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"


@pytest.fixture
def item():
    return ItemFactory(stock_number="SPR-08B17")


@pytest.fixture
def main():
    return StoreroomFactory(code="MAIN")


def test_what_is_reserved_stays_on_the_shelf_but_is_not_free(item, main):
    stock(item, main, 5)
    hold = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    level = StockLevel.objects.get()
    assert (level.on_hand, level.reserved, level.available) == (5, 2, 3)
    assert hold.reserved_by_name == MARTA


def test_it_refuses_to_reserve_more_than_there_is(item, main):
    stock(item, main, 2)
    with pytest.raises(ledger.StockShort, match=r"stock_short.*available', 2.*requested', 3"):
        ledger.reserve(item, main, 3, work_order="WO-1", by=MARTA)
    assert not Reservation.objects.exists()


def test_it_refuses_to_reserve_what_is_reserved(item, main):
    stock(item, main, 2)
    ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    with pytest.raises(ledger.ReservedForOthers, match=r"stock_reserved.*WO-1.*2"):
        ledger.reserve(item, main, 1, work_order="WO-2", by=MARTA)


@pytest.mark.parametrize(
    ("wrong", "field", "code"),
    [
        ({"work_order": " "}, "work_order", "reservation_without_work_order"),
        ({"condition": "on_hold"}, "condition", "condition_not_reservable"),
        ({"expires_at": timezone.now() - timedelta(days=1)}, "expires_at", "expiry_in_past"),
        ({"expires_at": timezone.now().replace(tzinfo=None)}, "expires_at", "moment_without_offset"),
        ({"quantity": 0}, "quantity", "quantity_out_of_range"),
    ],
)
def test_it_refuses_invalid_reservations(item, main, wrong, field, code):
    asked = {"quantity": 1, "work_order": "WO-1", "by": MARTA} | wrong
    with pytest.raises(ledger.LedgerRefusal, match=code) as refusal:
        ledger.reserve(item, main, asked.pop("quantity"), **asked)
    assert refusal.value.field == field


def test_a_reservation_is_released_once(item, main):
    stock(item, main, 2)
    reservation = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    ledger.release(reservation)
    assert StockLevel.objects.get().available == 2
    assert (reservation.state, reservation.open_quantity) == ("released", 0)
    with pytest.raises(ledger.ReservationEnded, match=r"reservation_ended.*released"):
        ledger.release(reservation)
    assert StockLevel.objects.get().reserved == 0


def test_releasing_frees_only_what_was_not_used(item, main):
    stock(item, main, 4)
    reservation = ledger.reserve(item, main, 3, work_order="WO-1", by=MARTA)
    movements.issue(item, main, 2, by=MARTA, work_order="WO-1")
    ledger.release(reservation)
    level = StockLevel.objects.get()
    assert (level.on_hand, level.reserved) == (2, 0)


def test_reservations_expire_when_their_time_is_over_and_only_then(item, main):
    stock(item, main, 4)
    now = timezone.now()
    short = ledger.reserve(item, main, 1, work_order="WO-1", by=MARTA, expires_at=now + timedelta(hours=1))
    ledger.reserve(item, main, 1, work_order="WO-2", by=MARTA, expires_at=now + timedelta(hours=3))
    ledger.reserve(item, main, 1, work_order="WO-3", by=MARTA)
    later = now + timedelta(hours=2)
    assert ledger.expire_reservations(later) == (short,)
    assert ledger.expire_reservations(later) == ()
    assert StockLevel.objects.get().reserved == 2
    assert Reservation.objects.get(work_order="WO-1").state == "expired"


def test_corrective_work_may_go_before_others_the_newest_first(item, main):
    stock(item, main, 3)
    for work_order in ("WO-1", "WO-2"):
        ledger.reserve(item, main, 1, work_order=work_order, by=MARTA)
    issued = movements.issue(item, main, 2, by=MARTA, work_order="WO-9", override="kiln is down")
    assert issued.reserved == 1
    shortened = Reservation.objects.exclude(state="open")
    assert [(hold.work_order, hold.state) for hold in shortened] == [("WO-2", "released")]


def test_going_before_others_does_not_make_stock(item, main):
    stock(item, main, 1)
    with pytest.raises(ledger.StockShort):
        movements.issue(item, main, 2, by=MARTA, override="kiln is down")
