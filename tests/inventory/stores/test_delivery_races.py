"""Many deliveries and decisions at once; no piece is received twice."""

import pytest

from inventory.models import DeliveryCheck, StockLevel, SupplyOrder
from inventory.stores import deliveries, ledger
from inventory.stores.deliveries import IncomingDelivery, record_delivery
from tests.factories import ItemFactory, SupplyOrderFactory
from tests.races import outcomes

pytestmark = [pytest.mark.postgresql, pytest.mark.django_db(transaction=True)]
MARTA = "Marta Keller"


def received(order: SupplyOrder, quantity: int = 1, **more: str) -> ledger.Booked:
    made = IncomingDelivery(order=order, quantity=quantity, by=MARTA, **more)  # type: ignore[arg-type]
    recorded = record_delivery(made, in_words=lambda facts: "wrong")
    entry = recorded.check.movements.get()
    return ledger.Booked((entry,), entry.balance_after, 0, is_replay=recorded.is_known)


def test_no_more_is_received_than_was_ordered() -> None:
    order = SupplyOrderFactory(item=ItemFactory(specification=None), quantity=5)
    assert outcomes([lambda: received(order)] * 12) == {"booked": 5, "OrderNotOpen": 7}
    order.refresh_from_db()
    assert (order.received_quantity, order.status) == (5, "received")
    assert StockLevel.objects.get().on_hand == 5
    assert ledger.replay() == ()


def test_the_same_delivery_sent_by_all_is_recorded_once() -> None:
    order = SupplyOrderFactory(item=ItemFactory(specification=None), quantity=5)
    assert outcomes([lambda: received(order, reference="DEL-1")] * 8) == {"booked": 1, "again": 7}
    assert DeliveryCheck.objects.count() == 1


def test_one_reference_for_two_orders_is_recorded_once() -> None:
    orders = [SupplyOrderFactory(item=ItemFactory(specification=None)) for _ in range(4)]
    acts = [lambda order=order: received(order, reference="DEL-1") for order in orders]
    assert outcomes(acts) == {"booked": 1, "DeliveryKnown": 3}
    assert StockLevel.objects.filter(on_hand__gt=0).count() == 1


def test_held_pieces_are_released_or_sent_back_and_never_both() -> None:
    order = SupplyOrderFactory(item=ItemFactory(specification=None), quantity=6)
    received(order, 6, wrong="rusty")
    check = DeliveryCheck.objects.get()

    def settled(act: object) -> ledger.Booked:
        done = act(check, 1, reason="looked at again", by=MARTA)  # type: ignore[operator]
        entry = done.movements.order_by("-pk").first()
        return ledger.Booked((entry,), entry.balance_after, 0)

    acts = [lambda: settled(deliveries.release), lambda: settled(deliveries.send_back)] * 5
    assert outcomes(acts) == {"booked": 6, "NotSoManyHeld": 4}
    check.refresh_from_db()
    order.refresh_from_db()
    assert (check.held_quantity, order.received_quantity) == (0, check.received_quantity)
    assert StockLevel.objects.get(condition="new").on_hand == check.received_quantity
    assert ledger.replay() == ()
