"""What is on order of an item, and how late."""

from datetime import UTC, date, datetime

import pytest

from inventory.models.access_scope import AccessScope, scoped_to
from inventory.stores.open_orders import open_orders
from tests.factories import ItemFactory, StoreroomFactory, SupplyOrderFactory

pytestmark = pytest.mark.django_db
NOW = datetime(2026, 11, 24, 12, tzinfo=UTC)


def order(item, number, **more):
    return SupplyOrderFactory(
        item=item, external_id=number, ordered_at=datetime(2026, 9, 1, tzinfo=UTC), status="open", **more
    )


def found(item):
    return open_orders([item.pk], NOW).get(item.pk, ())


def test_they_come_by_the_promised_day_and_name_how_late_they_are():
    item = ItemFactory()
    order(item, "PO-3", quantity=2, promised_on=None)
    order(item, "PO-2", quantity=2, promised_on=date(2026, 12, 1))
    order(item, "PO-1", quantity=5, received_quantity=1, promised_on=date(2026, 10, 15))
    assert [(one.external_id, one.pieces, one.overdue_days) for one in found(item)] == [
        ("PO-1", 4, 40),
        ("PO-2", 2, 0),
        ("PO-3", 2, None),
    ]
    codes = [one.reason.code for one in found(item)]
    assert codes == ["on_order_overdue", "on_order_for_day", "on_order_without_date"]


def test_what_has_come_or_was_cancelled_is_not_on_order():
    item = ItemFactory()
    order(item, "PO-1", quantity=1, received_quantity=1)
    SupplyOrderFactory(item=item, external_id="PO-2", status="cancelled")
    assert found(item) == ()


def test_days_are_those_of_the_storeroom():
    """At noon UTC it is the next day in Kiritimati, fourteen hours ahead."""
    item, room = ItemFactory(), StoreroomFactory(timezone="Pacific/Kiritimati")
    order(item, "PO-1", storeroom=room, promised_on=date(2026, 11, 24))
    assert found(item)[0].overdue_days == 1


def test_another_site_sees_none_of_it(django_assert_num_queries):
    item = ItemFactory()
    order(item, "PO-1")
    away = AccessScope(frozenset(), frozenset({StoreroomFactory(code="AWAY").pk}))
    with scoped_to(lambda: away), django_assert_num_queries(1):
        assert found(item) == ()
