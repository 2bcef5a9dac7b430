import pytest

from inventory.models import Event, Reservation
from inventory.stores import ledger
from tests import factories as make
from tests import movements

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"


@pytest.fixture
def item():
    return make.ItemFactory(stock_number="SPR-1")


@pytest.fixture
def main(item):
    room = make.StoreroomFactory()
    make.stock(item, room, 3)
    return room


def told(prefix):
    return [
        (event.type, event.version, event.data)
        for event in Event.objects.filter(type__startswith=prefix).order_by("id")
    ]


def test_each_entry_has_one_event(item, main):
    make.stock(item, main, 2, reference="D-1")
    make.stock(item, main, 2, reference="D-1")
    moved = told("stock.")
    assert [(version, data["change"], data["balance_after"]) for _, version, data in moved] == [
        (1, 3, 3),
        (2, 2, 5),
    ]
    assert set(Event.objects.values_list("aggregate", "storeroom")) == {("stock/SPR-1/MAIN/new", "MAIN")}


def test_both_legs_of_a_transfer_have_an_event(item, main):
    movements.transfer(item, main, make.StoreroomFactory(code="NORTH"), 1, by=MARTA)
    assert [(data["storeroom"], data["change"]) for _, _, data in told("stock.")][1:] == [
        ("MAIN", -1),
        ("NORTH", 1),
    ]


def test_a_refused_movement_has_no_event(item, main):
    with pytest.raises(ledger.StockShort):
        movements.issue(item, main, 9, by=MARTA)
    assert len(told("stock.")) == 1


def test_a_reservation_has_events_from_start_to_end(item, main):
    hold = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    movements.issue(item, main, 1, by=MARTA, work_order="WO-1")
    ledger.release(Reservation.objects.get(pk=hold.pk))
    assert [(kind, version, data["open_quantity"]) for kind, version, data in told("reservation.")] == [
        ("reservation.made", 1, 2),
        ("reservation.used", 2, 1),
        ("reservation.released", 3, 0),
    ]


def test_an_overridden_reservation_has_an_event_with_who_and_why(item, main):
    ledger.reserve(item, main, 3, work_order="WO-1", by=MARTA)
    movements.issue(item, main, 1, by=MARTA, work_order="WO-9", override="kiln is down")
    kind, _, data = told("reservation.")[-1]
    assert (kind, data["taken_by"], data["taken_reason"]) == ("reservation.short", "WO-9", "kiln is down")
    assert (data["open_quantity"], data["short_quantity"]) == (2, 1)
    assert ledger.replay() == ()
