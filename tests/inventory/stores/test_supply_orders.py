from datetime import datetime, timedelta, timezone
from decimal import Decimal
from itertools import permutations
from typing import Any

import pytest

from inventory.models import SupplyOrder
from inventory.stores import supply_orders as supply
from inventory.stores.supply_orders import CONTENT, SupplyRefusal, Upserted
from tests.factories import MORNING, ItemFactory, StoreroomFactory, SupplyOrderFactory
from tests.races import TAKERS, outcomes

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
NOW = MORNING + 100 * DAY


def send(source: str = "purchasing", **changes: Any) -> Upserted:
    message = {
        "updated_at": MORNING,
        "item": ItemFactory(stock_number="SPR-A"),
        "storeroom": StoreroomFactory(),
        "quantity": 3,
        "ordered_at": MORNING,
    }
    return supply.upsert(as_sent(source, **{**message, **changes}), now=NOW)


def as_sent(source: str, **values: Any) -> SupplyOrder:
    columns = {"received": "received_quantity", "updated_at": "source_updated_at"}
    named = {columns.get(name, name): value for name, value in values.items()}
    return SupplyOrder(source=source, external_id="PO-1", **named)


def received(day: int, pieces: int, **more: Any) -> dict[str, Any]:
    return {"updated_at": MORNING + day * DAY, "received": pieces, "received_at": MORNING + day * DAY} | more


def state() -> tuple[Any, ...]:
    order = SupplyOrder.objects.get()
    return (*(getattr(order, name) for name in CONTENT), order.source_updated_at)


def test_a_new_order_is_recorded() -> None:
    sent = send(promised_on=(MORNING + 21 * DAY).date(), unit_price=Decimal("12.50"))
    assert (sent.applied, sent.created) == (True, True)
    order = SupplyOrder.objects.get()
    assert (str(order), order.outstanding, order.unit_price) == ("purchasing PO-1", 3, Decimal("12.50"))


def test_a_newer_message_counts_as_a_whole() -> None:
    send(unit_price=Decimal("12.50"))
    sent = send(updated_at=MORNING + DAY, quantity=5)
    order = SupplyOrder.objects.get()
    assert (sent.applied, sent.created) == (True, False)
    assert (order.quantity, order.unit_price) == (5, None)


def test_the_same_message_again_changes_nothing() -> None:
    send()
    before = SupplyOrder.objects.values().get()
    sent = send()
    assert (sent.applied, sent.created, sent.is_same) == (False, False, True)
    assert SupplyOrder.objects.values().get() == before


@pytest.mark.parametrize("age", [timedelta(0), DAY])
def test_what_is_no_newer_and_says_otherwise_changes_nothing(age: timedelta) -> None:
    send()
    before = SupplyOrder.objects.values().get()
    sent = send(updated_at=MORNING - age, quantity=9)
    assert (sent.applied, sent.is_same, sent.order.quantity) == (False, False, 3)
    assert SupplyOrder.objects.values().get() == before


def test_an_order_without_a_version_gives_way_to_any() -> None:
    room = StoreroomFactory()
    SupplyOrderFactory(external_id="PO-1", storeroom=room, source_updated_at=None)
    assert send(quantity=7).applied
    assert SupplyOrder.objects.get().quantity == 7


MESSAGES: list[dict[str, Any]] = [
    {},
    received(9, 1),
    received(12, 4, quantity=4, status="received"),
    {"updated_at": MORNING + 10 * DAY, "status": "cancelled"},
]


def test_messages_in_any_order_end_in_the_same_state() -> None:
    for order in permutations(MESSAGES):
        SupplyOrder.objects.all().delete()
        for message in (*order, order[0]):
            send(**message)
        assert (state()[3:5], state()[-2:]) == ((4, 4), ("received", MORNING + 12 * DAY)), order


def test_a_part_delivery_leaves_the_rest_on_order() -> None:
    order = send(**received(9, 1)).order
    assert (order.status, order.outstanding) == ("open", 2)
    assert SupplyOrder.objects.on_order() == {(order.item_id, order.storeroom_id): 2}


def test_an_order_closed_short_has_nothing_left_to_come() -> None:
    assert send(**received(9, 2, status="received")).order.outstanding == 0


REFUSED: list[tuple[dict[str, Any], str, str]] = [
    ({"updated_at": None}, "updated_at", "order_version_missing"),
    ({"updated_at": NOW + DAY}, "updated_at", "moment_in_future"),
    ({"updated_at": datetime(2024, 3, 4)}, "updated_at", "moment_without_offset"),
    ({"quantity": 0}, "quantity", "quantity_out_of_range"),
    ({"quantity": 10**10}, "quantity", "quantity_out_of_range"),
    ({"ordered_at": NOW + DAY}, "ordered_at", "moment_in_future"),
    ({"ordered_at": datetime(2024, 3, 4)}, "ordered_at", "moment_without_offset"),
    (received(9, 4), "received", "received_above_ordered"),
    ({"received": -1}, "received", "value_below_least"),
    (received(9, 10**10), "received", "received_above_ordered"),
    ({"status": "received", "received": 3}, "received_at", "received_order_without_date"),
    (received(9, 0, status="received"), "received", "received_order_without_quantity"),
    (received(9, 0), "received", "received_date_without_quantity"),
    (received(9, 3, received_at=MORNING - DAY), "received_at", "received_before_ordered"),
    (received(9, 3, received_at=NOW + timedelta(minutes=6)), "received_at", "moment_in_future"),
    ({"status": "lost"}, "status", "word_not_known"),
    ({"currency": "eur"}, "currency", "currency_not_three_capitals"),
    ({"unit_price": Decimal("-1")}, "unit_price", "value_negative"),
    ({"unit_price": Decimal("1.234")}, "unit_price", "too_many_decimal_places"),
]


@pytest.mark.parametrize(("wrong", "field", "code"), REFUSED)
def test_an_invalid_order_is_refused_with_a_code(wrong: dict[str, Any], field: str, code: str) -> None:
    with pytest.raises(SupplyRefusal) as refusal:
        send(**wrong)
    assert (refusal.value.field, refusal.value.fact.code) == (field, code)
    assert not SupplyOrder.objects.exists()


@pytest.mark.parametrize("name", [" ", "x" * 41, "a\x00b"])
def test_an_order_needs_a_valid_name(name: str) -> None:
    with pytest.raises(SupplyRefusal) as refusal:
        send(name)
    assert refusal.value.field == "source"


def test_a_clock_a_little_ahead_is_taken() -> None:
    assert send(**received(100, 3, received_at=NOW + timedelta(minutes=4))).applied


def drafts(number: int) -> list[SupplyOrder]:
    item, room = ItemFactory(stock_number="SPR-A"), StoreroomFactory()
    return [SupplyOrderFactory.build(external_id=f"PO-{n}", item=item, storeroom=room) for n in range(number)]


def test_many_are_taken_in_few_queries(django_assert_max_num_queries: Any) -> None:
    messages = drafts(300)
    with django_assert_max_num_queries(12):
        answers = supply.upsert_many(messages)
    assert all(isinstance(answer, Upserted) and answer.created for answer in answers)


def test_one_bad_message_among_many_is_answered_for_itself() -> None:
    messages = drafts(3)
    messages[1].quantity = 0
    answers = supply.upsert_many(messages)
    assert [type(answer) for answer in answers] == [Upserted, SupplyRefusal, Upserted]
    assert SupplyOrder.objects.count() == 2


def test_two_messages_of_one_order_in_one_lot_leave_the_newer() -> None:
    old, new = drafts(2)
    new.external_id, new.quantity, new.source_updated_at = old.external_id, 6, MORNING + DAY
    supply.upsert_many([new, old])
    assert SupplyOrder.objects.get().quantity == 6


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_senders_at_once_leave_the_newest() -> None:
    ItemFactory(stock_number="SPR-A"), StoreroomFactory()
    acts = [lambda n=n: send(updated_at=MORNING + n * DAY, quantity=n + 1) for n in range(3 * TAKERS)]
    assert set(outcomes(acts)) == {"booked"}
    assert SupplyOrder.objects.get().quantity == 3 * TAKERS


def test_versions_are_moments_whatever_their_offset() -> None:
    send()
    sent = send(updated_at=MORNING.astimezone(timezone(timedelta(hours=2))))
    assert (sent.applied, sent.is_same) == (False, True)
