"""Undoing the issue of a part of a kit leaves the kit as it was before."""

from typing import Any

import pytest

from inventory.models import Event, Item, Kit, Reservation, StockEntry, StockLevel, Storeroom
from inventory.stores import kits, ledger
from inventory.stores.ledger import ReservationLine
from inventory.stores.ledger.verify import verify
from tests import movements
from tests.factories import ChainItemFactory, ItemFactory, StoreroomFactory, stock

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"


@pytest.fixture
def main() -> Storeroom:
    room: Storeroom = StoreroomFactory(code="MAIN")
    for number in ("SPR-1", "SPR-2"):
        stock(ItemFactory(stock_number=number), room, 3)
    return room


def made(room: Storeroom, *lines: tuple[str, int]) -> Kit:
    rows = [ReservationLine(Item.objects.get(stock_number=number), pieces) for number, pieces in lines]
    return kits.make("WO-1", room, rows, by=MARTA)


def issue(room: Storeroom, number: str, quantity: int, work_order: str = "WO-1", **more: Any) -> StockEntry:
    item = Item.objects.get(stock_number=number)
    return movements.issue(item, room, quantity, work_order=work_order, by=MARTA, **more).entry


def undo(entry: StockEntry, quantity: int | None = None) -> None:
    ledger.reverse(entry, by=MARTA, reason="wrong part", quantity=quantity)


def kept(kit: Kit) -> tuple[str, list[tuple[str, int]]]:
    """The state of the kit, and state and open quantity of each line; the books agree."""
    kit.refresh_from_db()
    assert verify() == ()
    return str(kit.state), list(kit.lines.order_by("pk").values_list("state", "open_quantity"))


@pytest.mark.parametrize("is_staged", [False, True])
def test_what_is_undone_is_held_for_the_kit_again(main: Storeroom, is_staged: bool) -> None:
    kit = made(main, ("SPR-1", 2), ("SPR-2", 1))
    if is_staged:
        kits.stage(kit, place="cage 4")
    before = kept(kit)
    first, second = issue(main, "SPR-1", 2), issue(main, "SPR-2", 1)
    assert kept(kit)[0] == "used"
    undo(first)
    assert kept(kit) == (before[0], [("open", 2), ("used", 0)])
    undo(second)
    assert kept(kit) == before
    assert list(StockLevel.objects.order_by("pk").values_list("on_hand", "reserved")) == [(3, 2), (3, 1)]
    told = Event.objects.filter(type="reservation.made").order_by("-pk").first()
    assert told is not None
    assert (told.data["open_quantity"], told.data["state"]) == (1, "open")


def test_a_part_of_an_issue_and_what_went_beyond_the_kit(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 2))
    entry = issue(main, "SPR-1", 3)
    undo(entry, 1)
    assert kept(kit) == ("used", [("used", 0)])
    undo(entry, 1)
    assert kept(kit) == ("open", [("open", 1)])
    undo(entry)
    assert kept(kit) == ("open", [("open", 2)])


def test_what_its_job_took_before_the_kit_was_made_is_not_counted(main: Storeroom) -> None:
    early = issue(main, "SPR-1", 1)
    kit = made(main, ("SPR-1", 2))
    entry = issue(main, "SPR-1", 1)
    undo(entry)
    assert kept(kit) == ("open", [("open", 2)])
    undo(early)
    assert kept(kit) == ("open", [("open", 2)])


def test_another_reservation_of_the_job_is_not_taken_for_the_kit(main: Storeroom) -> None:
    item = Item.objects.get(stock_number="SPR-1")
    ledger.reserve(item, main, 1, work_order="WO-1", by=MARTA)
    kit = made(main, ("SPR-1", 1))
    issue(main, "SPR-1", 1)
    undo(issue(main, "SPR-1", 1))
    assert kept(kit) == ("open", [("open", 1)])
    assert Reservation.objects.get(kit=None).state == "used"


def test_the_issue_of_another_job_holds_nothing(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 2))
    issue(main, "SPR-1", 2)
    undo(issue(main, "SPR-1", 1, work_order="WO-2"))
    assert kept(kit) == ("used", [("used", 0)])


def test_what_urgent_work_took_stays_taken(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 3))
    entry = issue(main, "SPR-1", 1)
    issue(main, "SPR-1", 1, work_order="WO-2", override="the kiln stands")
    undo(entry)
    assert kept(kit) == ("open", [("open", 2)])
    assert Reservation.objects.get().short_quantity == 1


def test_a_kit_that_was_taken_apart_stays_so(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 2), ("SPR-2", 1))
    entry = issue(main, "SPR-1", 2)
    kits.release(kit)
    undo(entry)
    assert kept(kit) == ("used", [("used", 0), ("released", 0)])


def test_a_line_that_was_given_up_before_does_not_keep_the_kit_ended(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 2), ("SPR-2", 1))
    ledger.release(kit.lines.get(item__stock_number="SPR-2"))
    undo(issue(main, "SPR-1", 2))
    assert kept(kit) == ("open", [("open", 2), ("released", 0)])


def test_the_next_kit_of_the_job_keeps_its_place(main: Storeroom) -> None:
    kit = made(main, ("SPR-1", 1))
    entry = issue(main, "SPR-1", 1)
    following = made(main, ("SPR-1", 2))
    undo(entry)
    assert kept(kit) == ("used", [("used", 0)])
    assert kept(following) == ("open", [("open", 2)])
    assert StockLevel.objects.get(item__stock_number="SPR-1").reserved == 2


def test_a_chain_is_held_again() -> None:
    room: Storeroom = StoreroomFactory()
    stock(ChainItemFactory(stock_number="CHAIN-1"), room, 120, pieces=[120])
    kit = made(room, ("CHAIN-1", 50))
    undo(issue(room, "CHAIN-1", 50))
    assert kept(kit) == ("open", [("open", 50)])
