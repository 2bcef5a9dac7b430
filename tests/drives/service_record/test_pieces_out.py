"""A piece is on the shelf or in a machine, never both: in either order, and at the same moment."""

from contextlib import suppress
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.utils import timezone

from drives.models import Installation
from drives.service_record import history, pieces_out
from inventory.models import StockEntry, StockLevel
from inventory.stores import ledger
from inventory.stores.ledger import Movement
from inventory.stores.ledger.verify import verify
from tests import movements
from tests.factories import ItemFactory, PositionFactory, StoreroomFactory, stock
from tests.races import outcomes

pytestmark = pytest.mark.django_db
MARTA = "Marta Keller"
DAY = timedelta(days=1)


@pytest.fixture
def item():
    return ItemFactory(stock_number="SPR-08B17")


@pytest.fixture
def main():
    return StoreroomFactory()


@pytest.fixture
def place():
    return PositionFactory(tag="STEEP-EL1-DRV")


def issued(item, main, quantity=1, **more):
    stock(item, main, quantity)
    return movements.issue(item, main, quantity, by=MARTA, **more).entry


def fitted(entry, place):
    return history.install(place, item=entry.item, installed_at=timezone.now(), stock_entry=entry)


def back_to(item, main, quantity, **more):
    return Movement(kind="return", item=item, storeroom=main, quantity=quantity, **more)


def on_hand():
    return sum(StockLevel.objects.values_list("on_hand", flat=True))


def take_back(entry, **more):
    return pieces_out.reverse_movement(entry, by=MARTA, reason="typed twice", **more)


def test_the_issue_of_a_fitted_unit_is_not_reversed(item, main, place):
    entry = issued(item, main)
    unit = fitted(entry, place)
    with pytest.raises(pieces_out.PieceInMachine) as refused:
        take_back(entry)
    assert (refused.value.fact.code, refused.value.installation) == ("issue_unit_fitted", unit)
    assert (on_hand(), pieces_out.differences()) == (0, ())


def test_it_is_reversed_once_the_unit_came_off(item, main, place):
    entry = issued(item, main)
    fitted(entry, place)
    history.remove(place, removed_at=timezone.now(), ended_by="unknown")
    take_back(entry)
    assert (on_hand(), pieces_out.differences()) == (1, ())


def test_it_is_reversed_once_the_unit_was_never_fitted(item, main, place):
    entry = issued(item, main)
    history.withdraw(fitted(entry, place), reason="another line", by=MARTA)
    take_back(entry)
    assert (on_hand(), Installation.objects.count()) == (1, 0)


def test_of_three_issued_pieces_the_two_that_are_not_fitted_are_reversed(item, main, place):
    entry = issued(item, main, 3)
    fitted(entry, place)
    with pytest.raises(pieces_out.PieceInMachine):
        take_back(entry, quantity=3)
    take_back(entry, quantity=2)
    with pytest.raises(pieces_out.PieceInMachine):
        take_back(entry, quantity=1)
    assert (on_hand(), pieces_out.differences(), verify()) == (2, (), ())


@pytest.mark.parametrize("job", [{"work_order": "WO-1"}, {"position": "STEEP-EL1-DRV"}])
def test_a_fitted_piece_is_not_returned(job, item, main, place):
    entry = issued(item, main, **job)
    fitted(entry, place)
    back = back_to(item, main, 1, by=MARTA, **job)
    with pytest.raises(pieces_out.PieceInMachine) as refused:
        pieces_out.book_return(back)
    assert (refused.value.fact.code, on_hand()) == ("returned_unit_fitted", 0)
    history.remove(place, removed_at=timezone.now(), ended_by="unknown")
    pieces_out.book_return(back)
    assert on_hand() == 1


def test_the_old_unit_of_the_job_is_returned_while_the_new_one_is_fitted(item, main, place):
    history.install(place, item=item, installed_at=timezone.now() - 100 * DAY)
    entry = issued(item, main, work_order="WO-1")
    history.remove(place, removed_at=timezone.now(), ended_by="limit_reached")
    fitted(entry, place)
    pieces_out.book_return(back_to(item, main, 1, by=MARTA, work_order="WO-1"))
    assert (on_hand(), pieces_out.differences()) == (1, ())


def test_a_returned_piece_is_not_fitted(item, main, place):
    entry = issued(item, main, work_order="WO-1")
    movements.return_to_stock(item, main, 1, by=MARTA, work_order="WO-1")
    with pytest.raises(history.HistoryRefusal, match="issue_was_returned"):
        fitted(entry, place)


def told():
    out = StringIO()
    with suppress(SystemExit):
        call_command("verify_ledger", stdout=out)
    return out.getvalue().splitlines()


@pytest.mark.parametrize("how", ["reversed", "returned", "other"])
def test_the_ledger_is_compared_with_what_is_fitted(how, item, main, place):
    entry = issued(item, main, work_order="WO-1")
    fitted(entry, place)
    assert told() == ["0 differences"]
    if how == "reversed":
        ledger.reverse(entry, by=MARTA, reason="behind the back of the records")
    elif how == "returned":
        movements.return_to_stock(item, main, 1, by=MARTA, work_order="WO-1")
    else:
        Installation.objects.update(item=ItemFactory(stock_number="SPR-OTHER"))
    code = {"reversed": "on_shelf", "returned": "returned", "other": "not_of_issue"}[how]
    assert [found.code for found in pieces_out.differences()] == [f"fitted_unit_{code}"]
    assert "STEEP-EL1-DRV" in told()[0]
    assert told()[1] == "1 difference"


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", range(5))
def test_of_fitting_and_reversing_at_the_same_moment_one_is_refused(turn):
    item, main, place = ItemFactory(), StoreroomFactory(), PositionFactory()
    entry = issued(item, main)
    ended = outcomes([lambda: fitted(entry, place), lambda: take_back(entry)] * 4)
    assert ended["booked"] == 1
    assert StockEntry.objects.filter(reverses=entry).exists() is not Installation.objects.exists()
    assert pieces_out.differences() == ()


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("turn", range(5))
def test_of_fitting_and_returning_at_the_same_moment_one_is_refused(turn):
    item, main, place = ItemFactory(), StoreroomFactory(), PositionFactory()
    entry = issued(item, main, work_order="WO-1")
    back = back_to(item, main, 1, by=MARTA, work_order="WO-1", condition="on_hold")
    ended = outcomes([lambda: fitted(entry, place), lambda: pieces_out.book_return(back)] * 4)
    assert pieces_out.differences() == ()
    assert (on_hand() >= 1) is not Installation.objects.exists(), ended
