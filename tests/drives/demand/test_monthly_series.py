from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from drives.demand.monthly_series import LeftOutRequests, SeriesItem, monthly_series
from drives.models import RecordStart
from inventory.models.access_scope import AccessScope, scoped_to
from tests.factories import ChainItemFactory, ItemFactory, PositionFactory, RequestFactory, StoreroomFactory

pytestmark = pytest.mark.django_db
UNTIL = datetime(2024, 7, 10, tzinfo=UTC)


def request(month, *, day=15, item=None, **more):
    item = item or ItemFactory(stock_number="SPR-1")
    return RequestFactory(at=datetime(2024, month, day, 9, tzinfo=UTC), item=item, **more)


def series(**more):
    return monthly_series(until=UNTIL, **more)


def test_pieces_are_added_up_by_month_and_quiet_months_are_zero():
    request(2, quantity=2)
    request(2, day=20)
    request(5, quantity=3)
    found = series()
    assert found.months == tuple(date(2024, month, 1) for month in (2, 3, 4, 5))
    assert found.pieces.tolist() == [[3, 0, 0, 3]]
    assert found.items == (SeriesItem("SPR-1", "MAIN", Decimal("38.50"), "EUR"),)


def test_an_old_card_does_not_begin_the_record():
    RequestFactory(at=datetime(2006, 3, 1, tzinfo=UTC), item=ItemFactory(stock_number="SPR-9"))
    for month in range(1, 7):
        for day in (3, 10, 17, 24):
            request(month, day=day)
    found = series()
    assert (found.months[0], len(found.months)) == (date(2024, 1, 1), 6)
    assert found.left_out == LeftOutRequests(before_the_record=1)
    assert [one.stock_number for one in found.items] == ["SPR-1"]


def test_the_record_begins_where_a_person_set_it_in_each_storeroom():
    request(3)
    request(2, storeroom=StoreroomFactory(code="KILN"))
    for code, begin in (("MAIN", date(2023, 11, 1)), ("KILN", date(2024, 2, 20))):
        room = StoreroomFactory(code=code)
        RecordStart.objects.create(storeroom=room, source="movements", complete_from=begin)
    request(4, storeroom=StoreroomFactory(code="KILN"))
    found = series()
    assert (found.months[0], found.months[-1]) == (date(2023, 11, 1), date(2024, 4, 1))
    assert {one.storeroom: begin for one, begin in zip(found.items, found.begins.tolist(), strict=True)} == {
        "KILN": 3,
        "MAIN": 0,
    }
    assert found.left_out == LeftOutRequests(before_the_record=1)


def test_each_storeroom_has_its_own_row_and_the_filter_keeps_one():
    request(2)
    request(3, storeroom=StoreroomFactory(code="KILN"))
    request(3, item=ItemFactory(stock_number="SPR-0"))
    rows = [(one.storeroom, one.stock_number) for one in series().items]
    assert rows == [("KILN", "SPR-1"), ("MAIN", "SPR-0"), ("MAIN", "SPR-1")]
    only = series(storeroom_id=StoreroomFactory(code="KILN").pk)
    assert [one.storeroom for one in only.items] == ["KILN"]


def test_a_month_begins_in_the_time_zone_of_the_storeroom():
    item = ItemFactory(stock_number="SPR-1")
    late = datetime(2024, 2, 29, 23, 30, tzinfo=UTC)
    for code, zone in (("MAIN", "Europe/Berlin"), ("FAR", "America/Halifax")):
        RequestFactory(item=item, at=late, storeroom=StoreroomFactory(code=code, timezone=zone))
    found = series()
    assert found.months == (date(2024, 2, 1), date(2024, 3, 1))
    assert {one.storeroom: row.tolist() for one, row in zip(found.items, found.pieces, strict=True)} == {
        "FAR": [1, 0],
        "MAIN": [0, 1],
    }


def test_the_present_month_is_left_out_until_it_has_ended():
    request(6)
    request(7, day=2)
    found = series()
    assert found.months == (date(2024, 6, 1),)
    assert found.left_out == LeftOutRequests(in_the_present_month=1)
    assert monthly_series(until=datetime(2024, 8, 1, tzinfo=UTC)).months[-1] == date(2024, 7, 1)


def test_the_item_requested_counts_not_the_one_issued():
    request(2, result="filled_by_substitute", issued_item=ItemFactory(stock_number="SPR-2"))
    request(3, result="not_filled", quantity=4)
    assert [one.stock_number for one in series().items] == ["SPR-1"]
    assert series().pieces.tolist() == [[1, 4]]


def test_for_a_position_alone_the_item_issued_counts():
    position = PositionFactory()
    given, at = ItemFactory(stock_number="SPR-3"), datetime(2024, 2, 3, tzinfo=UTC)
    RequestFactory(item=None, position=position, issued_item=given, at=at)
    RequestFactory(item=None, position=position, result="not_filled", at=at)
    found = series()
    assert [one.stock_number for one in found.items] == ["SPR-3"]
    assert found.left_out == LeftOutRequests(without_item=1)


def test_retracted_planned_later_and_chain_by_the_link_are_no_demand():
    request(2)
    request(2, retracted_at=UNTIL)
    request(2, is_planned=True)
    request(9)
    request(2, item=ChainItemFactory(), quantity=114)
    found = series()
    assert found.pieces.tolist() == [[1]]
    assert found.left_out == LeftOutRequests(planned=1, in_links=1)


def test_without_requests_the_record_is_empty():
    found = series()
    assert (found.items, found.months, found.pieces.shape) == ((), (), (0, 0))


def test_only_visible_storerooms_are_read():
    request(2)
    other = StoreroomFactory(code="KILN")
    request(3, storeroom=other)
    with scoped_to(lambda: AccessScope(storerooms=frozenset({other.pk}))):
        assert [one.storeroom for one in series().items] == ["KILN"]


def test_it_takes_three_queries_however_many_rows(django_assert_num_queries):
    for month in (1, 2, 3, 4):
        request(month, item=ItemFactory())
    with django_assert_num_queries(3):
        assert len(series().items) == 4
