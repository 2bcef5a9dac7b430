from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection
from django.db.models import F
from django.db.models.functions import Length

from inventory.models import Bin, Event, Item, StockLevel, Storeroom
from inventory.plumbing.prepared import PreparedInsert, PreparedQuery
from tests import factories as make
from tests.factories import ItemFactory

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
pytestmark = pytest.mark.django_db


def values(record: Any) -> dict[str, Any]:
    return {field.attname: getattr(record, field.attname) for field in record._meta.concrete_fields}


def test_it_gives_what_the_queryset_gives(django_assert_num_queries: Any) -> None:
    known, other = make.ItemFactory(stock_number="SPR-1", unit_cost="12.50"), make.ChainItemFactory()
    query = PreparedQuery(lambda: Item.objects.select_related("specification"), "stock_number")
    for item in (known, other, known):
        with django_assert_num_queries(1):
            found = query.first(item.stock_number)
            assert found is not None
            assert found.specification == item.specification
        assert values(found) == values(Item.objects.get(pk=item.pk))
        assert values(found.specification) == values(Item.objects.get(pk=item.pk).specification)
        assert found._state.db == "default"
        assert not found._state.adding


def test_it_gives_none_where_there_is_no_such_record() -> None:
    query = PreparedQuery(Item.objects.all, "stock_number")
    make.ItemFactory(stock_number="SPR-1")
    assert [query.first("SPR-2"), query.first("spr-1"), query.first("' OR 1=1 --")] == [None] * 3


def test_a_related_record_that_is_not_there_is_none() -> None:
    make.ItemFactory(stock_number="OIL-1", specification=None)
    found = PreparedQuery(lambda: Item.objects.select_related("specification"), "stock_number").first("OIL-1")
    assert found is not None
    assert found.specification is None


def test_several_columns_take_their_values_in_order() -> None:
    item, rooms = make.ItemFactory(), [make.StoreroomFactory(code=code) for code in ("MAIN", "NORTH")]
    for quantity, room in enumerate(rooms, 3):
        make.stock(item, room, quantity)
    query = PreparedQuery(StockLevel.objects.select_for_update, "condition", "storeroom_id", "item_id")
    found = [query.first("new", room.pk, item.pk) for room in rooms]
    assert [level.on_hand for level in found if level] == [3, 4]
    assert query.first("on_hold", rooms[0].pk, item.pk) is None
    locks = "FOR UPDATE" in query.plans["default"].sql
    assert locks == connection.features.has_select_for_update


def test_a_record_is_written_as_save_writes_it() -> None:
    item = Item(stock_number="SPR-1", unit_cost=Decimal("12.50"), description="Größe ' -- %s")
    assert PreparedInsert(Item).write(item)
    read = Item.objects.get(pk=item.pk)
    assert values(read) == values(item)
    assert not item._state.adding


def test_what_it_refers_to_may_have_been_written_after_it_was_made() -> None:
    room = Storeroom(code="LATE")
    place = Bin(storeroom=room, code="A-1")
    room.save()
    assert PreparedInsert(Bin).write(place)
    assert Bin.objects.get().storeroom == room
    with pytest.raises(ValueError, match="unsaved related object"):
        PreparedInsert(Bin).write(Bin(storeroom=Storeroom(code="NEVER"), code="A-2"))


def test_a_column_may_be_worked_out_by_the_database_and_a_second_of_its_kind_is_not_written() -> None:
    def event() -> Event:
        return Event(type="item.changed", aggregate="item/1", occurred_at=NOON, data={"n": 1})

    counted, stubborn = (
        PreparedInsert(Event, unique="aggregate, version", version=how) for how in ("%s + 1", "%s")
    )
    one, two = event(), event()
    assert counted.write(one, 6)
    assert (one.version, Event.objects.get().version) == (7, 7)
    assert not stubborn.write(two, 7)
    assert (two.pk, Event.objects.count()) == (None, 1)


def test_making_the_sql_leaves_the_query_that_all_threads_share_as_it_was() -> None:
    item = ItemFactory()
    prepared = PreparedQuery(lambda: Item.objects.select_related("specification"), "stock_number")
    before = dict(prepared.query.query.alias_map)
    assert prepared.first(item.stock_number) == item
    assert prepared.query.query.alias_map == before


def test_what_is_worked_out_beside_the_record_is_there_too() -> None:
    item = ItemFactory(stock_number="SPR-1")
    rows = Item.objects.annotate(length=Length("stock_number"), kind=F("specification__kind"))
    found: Any = PreparedQuery(rows.all, "stock_number").first(item.stock_number)
    assert (found.length, found.kind) == (5, item.specification.kind if item.specification else None)
