from datetime import timedelta

import pytest

from inventory.models import CountTask
from inventory.stores.counting.count_requests import request_count
from inventory.stores.counting.counts import drop
from inventory.stores.counting.found_and_missing import book_not_there
from inventory.stores.ledger.verify import verify
from tests import factories as make
from tests.races import TAKERS, outcomes

MARTA = "Marta Keller"
EVENING = make.MORNING.replace(hour=23, minute=30)


@pytest.mark.django_db
def test_the_day_is_that_of_the_storeroom():
    task = request_count(make.ItemFactory(), make.StoreroomFactory(), "new", cause="asked", at=EVENING)
    assert task.due_on == EVENING.date() + timedelta(days=1)


@pytest.mark.django_db
def test_what_presses_brings_a_planned_count_forward():
    item, room = make.ItemFactory(), make.StoreroomFactory()
    later = request_count(item, room, "new", cause="value", at=make.MORNING + timedelta(days=9))
    now = request_count(item, room, "new", cause="not_there", at=make.MORNING)
    assert (now.pk, now.cause, now.due_on) == (later.pk, "not_there", make.MORNING.date())
    assert request_count(item, room, "new", cause="value", at=make.MORNING).cause == "not_there"


@pytest.mark.django_db
def test_a_counted_shelf_can_be_requested_again():
    item, room = make.ItemFactory(), make.StoreroomFactory()
    first = request_count(item, room, "new", cause="asked", at=make.MORNING)
    drop(first, note="no need", by=MARTA)
    assert request_count(item, room, "new", cause="asked", at=make.MORNING).pk != first.pk


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_shelf_is_on_the_list_once_whoever_requests_it():
    item, room = make.ItemFactory(), make.StoreroomFactory()
    make.stock(item, room, 2)
    acts = [lambda: request_count(item, room, "new", cause="asked", at=make.MORNING)] * TAKERS
    acts += [lambda: book_not_there(item, room, by=MARTA)] * TAKERS
    assert outcomes(acts) == {"booked": 2 * TAKERS}
    assert CountTask.objects.get().cause in ("asked", "not_there")
    assert verify() == ()
