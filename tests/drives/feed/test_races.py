"""Several senders at once end in the state that one after the other would; none of them meets a lock."""

import pytest
from django.db import transaction

from drives.models import InboundMessage, Installation, Position, WorkOrder
from drives.service_record import history
from inventory.stores.ledger import replay
from tests import factories as make
from tests import movements
from tests.drives.feed.messages import closed, day, on_hand, order, place, send, used
from tests.drives.feed.state_hash import state
from tests.races import outcomes

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]


def test_orders_of_one_position_sent_at_once() -> None:
    position = place()
    make.stock(make.ItemFactory(stock_number="SPR-A"), make.StoreroomFactory(), 50)
    told = [(f"WO-{n}", closed(n, day(10 * n), [used()])) for n in range(1, 17)]
    found = outcomes([lambda one=one: send(*one) for one in told * 2])
    assert set(found) == {"booked"}
    assert (Installation.objects.filter(position=position).count(), WorkOrder.objects.count()) == (17, 16)
    assert (InboundMessage.objects.count(), on_hand("SPR-A")) == (16, 39)
    assert not list(replay())


def test_versions_of_one_order_sent_at_once() -> None:
    place()
    told = [closed(n, day(700 - n), [used(quantity=n % 3 + 1)]) for n in range(1, 16)]
    found = outcomes([lambda body=body: send("WO-1", body) for body in told * 2])
    assert set(found) == {"booked"}
    at_once = state()
    for body in told:
        send("WO-1", body)
    assert state() == at_once
    assert on_hand("SPR-A") == 4


def test_places_that_swap_orders_at_once_and_people_who_replace_there() -> None:
    first, second = place(), place("STEEP-EL2-P1")
    item = make.ItemFactory(stock_number="SPR-B")
    make.stock(item, make.StoreroomFactory(), 50)
    tags = (first.tag, second.tag)
    told = [
        (f"WO-{n}", closed(n + 20 * turn, day(10 * n), [used("SPR-B")], position=tags[(n + turn) % 2]))
        for n in range(1, 9)
        for turn in range(2)
    ]

    @transaction.atomic
    def replaced(position: Position, number: int) -> None:
        history.remove(position, removed_at=day(500 + number), ended_by="preventive")
        issue = movements.issue(item, make.StoreroomFactory(), 1, by="Marta Keller", position=position.tag)
        history.install(position, item=item, installed_at=day(500 + number), stock_entry=issue.entry)

    acts = [lambda one=one: send(*one) for one in told]
    acts += [lambda place=place, n=n: replaced(place, n) for n, place in enumerate((first, second))]
    assert set(outcomes(acts)) == {"booked"}
    assert Installation.objects.filter(removed_at=None).count() == 2
    assert not list(replay())


def test_an_order_opened_by_all_at_once_is_one() -> None:
    place()
    assert set(outcomes([lambda: send("WO-1", order(1)) for _ in range(16)])) == {"booked"}
    assert (WorkOrder.objects.count(), InboundMessage.objects.count()) == (1, 1)
