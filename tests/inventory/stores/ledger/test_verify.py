from io import StringIO
from uuid import uuid4

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError

from inventory.models import CountTask, Reservation, StockEntry, StockLevel
from inventory.stores import ledger
from inventory.stores.ledger.verify import verify
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
    make.stock(item, room, 5)
    return room


def found_by(**options):
    out = StringIO()
    try:
        call_command("verify_ledger", stdout=out, **options)
    except SystemExit as ended:
        return ended.code, out.getvalue().splitlines()
    return 0, out.getvalue().splitlines()


def entry(item, room, **more):
    """A row that only a hand in the database could write."""
    last = StockEntry.objects.filter(item=item, storeroom=room, condition="new").order_by("-pk").first()
    change = more["change"]
    values = {
        "kind": "receipt",
        "recorded_by_name": MARTA,
        "occurred_at": make.MORNING,
        "balance_after": (last.balance_after if last else 0) + change,
    }
    made = StockEntry.objects.create(item=item, storeroom=room, **values | more)
    StockLevel.objects.filter(item=item, storeroom=room).update(on_hand=made.balance_after)
    return made


def test_everything_that_the_ledger_books_is_consistent(item, main):
    north = make.StoreroomFactory(code="NORTH")
    way = movements.transfer(item, main, north, 2, by=MARTA)
    ledger.reverse(way.entry, by=MARTA, reason="wrong room")
    ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    movements.issue(item, main, 1, by=MARTA, work_order="WO-1")
    movements.count(item, main, 3, by=MARTA, seen=4)
    assert found_by() == (0, ["0 differences"])


@pytest.mark.parametrize(
    ("change", "named"),
    [
        (lambda item, main: StockLevel.objects.update(on_hand=4), "on hand is 4, the ledger says 5"),
        (
            lambda item, main: StockLevel.objects.update(reserved=2),
            "reserved is 2, the open reservations hold 0",
        ),
        (
            lambda item, main: entry(item, main, change=1, recorded_by_name=""),
            "does not name who booked it",
        ),
        (
            lambda item, main: entry(
                item, main, change=1, kind="transfer", transfer=uuid4(), other_storeroom=main
            ),
            "1 leg, 2 are expected",
        ),
        (
            lambda item, main: entry(item, main, change=3, reverses=StockEntry.objects.first()),
            "changes 3, the reversal of its entry is -5",
        ),
        (
            lambda item, main: entry(item, main, change=4, kind="count", counted=3),
            ", 3 were counted",
        ),
        (
            lambda item, main: make.ReservationFactory(
                item=item, storeroom=main, quantity=2, open_quantity=0, state="released", short_quantity=3
            ),
            "holds 3, 2 are reserved",
        ),
    ],
)
def test_it_names_what_does_not_follow(change, named, item, main):
    change(item, main)
    code, lines = found_by()
    assert (code, lines[-1]) == (1, "1 difference")
    assert named in lines[0]


def test_reversals_are_no_more_than_their_entry_together(item, main):
    mistake = movements.receive(item, main, 3, by=MARTA).entry
    for change in (-2, -2):
        entry(item, main, change=change, reverses=mistake)
    (difference,) = verify()
    assert (difference.code, difference.values["booked"], difference.values["found"]) == (
        "reversed_more_than_booked",
        -3,
        -4,
    )


def test_a_counted_task_agrees_with_its_movement(item, main):
    booked = movements.count(item, main, 4, by=MARTA).entry
    CountTask.objects.create(
        item=item,
        storeroom=main,
        cause="value",
        due_on=make.MORNING,
        state="counted",
        booked=6,
        counted=4,
        entry=booked,
    )
    (difference,) = verify()
    assert (difference.code, difference.values["booked"], difference.values["found"]) == (
        "counted_shelf_change_differs",
        -2,
        -1,
    )


def test_one_item_alone_is_looked_at(item, main):
    other = make.ItemFactory(stock_number="SPR-2")
    StockLevel.objects.update(on_hand=1)
    assert found_by(item=other.stock_number) == (0, ["0 differences"])
    assert found_by(item="SPR-1")[0] == 1
    with pytest.raises(CommandError, match="There is no item 'SPR-3'"):
        found_by(item="SPR-3")


def test_a_reservation_that_passes_its_time_is_freed_once(item, main):
    hold = ledger.reserve(item, main, 2, work_order="WO-1", by=MARTA)
    Reservation.objects.filter(pk=hold.pk).update(expires_at=make.MORNING)
    said = []
    for _ in range(2):
        out = StringIO()
        call_command("expire_reservations", stdout=out)
        said.append(out.getvalue().strip())
    assert said == ["1 reservation expired.", "0 reservations expired."]
    assert verify() == ()
