"""Many takers at once; every race ends as if they had come one after another."""

from collections.abc import Callable
from typing import Any

import pytest

from inventory.models import Reservation, StockEntry, StockLevel, StockPiece
from inventory.stores import ledger
from tests import movements
from tests.factories import ChainItemFactory, ItemFactory, StoreroomFactory, stock
from tests.races import TAKERS, outcomes

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]
MARTA = "Marta Keller"


def test_exactly_as_many_are_issued_as_there_are():
    item, main = ItemFactory(), StoreroomFactory()
    stock(item, main, 40)
    assert outcomes([lambda: movements.issue(item, main, 1, by=MARTA)] * 80) == {
        "booked": 40,
        "StockShort": 40,
    }
    assert StockLevel.objects.get().on_hand == 0
    assert ledger.replay() == ()


def test_exactly_as_many_are_reserved_as_there_are():
    item, main = ItemFactory(), StoreroomFactory()
    stock(item, main, 16)
    acts = [lambda n=n: ledger.reserve(item, main, 1, work_order=f"WO-{n}", by=MARTA) for n in range(32)]
    assert outcomes(acts) == {"booked": 16, "ReservedForOthers": 16}
    assert Reservation.objects.open().count() == 16


def test_the_same_reference_sent_by_all_is_booked_once():
    item, main = ItemFactory(), StoreroomFactory()
    acts = [lambda: movements.receive(item, main, 3, by=MARTA, reference="DEL-1")] * TAKERS
    assert outcomes(acts) == {"booked": 1, "again": TAKERS - 1}
    assert StockLevel.objects.get().on_hand == 3


def test_the_same_reference_for_different_items_is_booked_once():
    items, main = [ItemFactory() for _ in range(TAKERS)], StoreroomFactory()
    acts = [lambda item=item: movements.receive(item, main, 3, by=MARTA, reference="DEL-1") for item in items]
    assert outcomes(acts) == {"booked": 1, "AlreadyBooked": TAKERS - 1}
    assert StockLevel.objects.count() == 1


def test_a_new_shelf_is_made_once():
    item, main = ItemFactory(), StoreroomFactory()
    assert outcomes([lambda: movements.receive(item, main, 1, by=MARTA)] * 16) == {"booked": 16}
    assert StockLevel.objects.get().on_hand == 16


def test_transfers_to_and_fro_do_not_lock_each_other_out():
    item, main, north = ItemFactory(), StoreroomFactory(code="MAIN"), StoreroomFactory(code="NORTH")
    stock(item, main, 50)
    stock(item, north, 50)
    acts = [
        lambda: movements.transfer(item, main, north, 1, by=MARTA),
        lambda: movements.transfer(item, north, main, 1, by=MARTA),
    ] * 32
    assert outcomes(acts) == {"booked": 64}
    assert sum(StockLevel.objects.values_list("on_hand", flat=True)) == 100
    assert ledger.replay() == ()


def test_one_box_of_chain_is_cut_by_one_at_a_time():
    chain, main = ChainItemFactory(), StoreroomFactory()
    stock(chain, main, 100)
    acts = [lambda: movements.issue(chain, main, 10, by=MARTA)] * 16
    assert outcomes(acts) == {"booked": 10, "StockShort": 6}
    assert StockPiece.objects.get().links == 0


def test_an_entry_is_reversed_once_whoever_comes_first():
    item, main = ItemFactory(), StoreroomFactory()
    mistake = stock(item, main, 3).entry
    acts = [lambda: ledger.reverse(mistake, by=MARTA, reason="never came")] * TAKERS
    assert outcomes(acts) == {"booked": 1, "AlreadyReversed": TAKERS - 1}
    assert StockEntry.objects.count() == 2


def test_a_reservation_ends_once_whoever_comes_first():
    item, main = ItemFactory(), StoreroomFactory()
    stock(item, main, 3)
    hold = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    acts: list[Callable[[], Any]] = [lambda: ledger.release(Reservation.objects.get(pk=hold.pk))] * 7
    ended = outcomes([*acts, lambda: movements.issue(item, main, 2, by=MARTA, work_order="WO-1")])
    assert ended["booked"] in (1, 2)
    assert StockLevel.objects.get().reserved == 0
    assert ledger.replay() == ()
