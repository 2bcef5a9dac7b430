"""What was booked while the storeroom was closed; the hours and moments are chosen by hand."""

from datetime import UTC, datetime, time, timedelta
from typing import Any
from unittest import mock

import pytest
from django.utils import timezone

from inventory.models import StockEntry, Storeroom
from inventory.stores.ledger import Movement
from inventory.stores.ledger.booking import book
from inventory.stores.opening_hours import OpenPeriod
from inventory.stores.out_of_hours import not_seen_since
from inventory.stores.recorded_hours import recorded_hours
from tests.factories import ItemFactory, OpeningHoursFactory, SprocketFactory, StoreroomFactory, stock

pytestmark = pytest.mark.django_db
NIGHT = datetime(2026, 11, 24, 1, 12, tzinfo=UTC)
"""A Tuesday, 02:12 in Berlin."""
MORNING = datetime(2026, 11, 24, 7, 0, tzinfo=UTC)


@pytest.fixture
def room() -> Storeroom:
    found: Storeroom = StoreroomFactory(timezone="Europe/Berlin")
    for weekday in range(5):
        OpeningHoursFactory(storeroom=found, weekday=weekday, opens="06:00", closes="22:00")
    return found


@pytest.fixture
def item(room: Storeroom) -> Any:
    part = ItemFactory(stock_number="SPR-1", specification=SprocketFactory())
    with mock.patch.object(timezone, "now", return_value=NIGHT - timedelta(days=3)):
        stock(part, room, 5)
    return part


def booked(item: Any, room: Storeroom, at: datetime, **more: Any) -> Any:
    given = {"kind": "issue", "quantity": 1, **more}
    with mock.patch.object(timezone, "now", return_value=at):
        return book(Movement(item=item, storeroom=room, by="jan", occurred_at=at, **given))


def found(now: datetime = MORNING) -> list[int]:
    entries = not_seen_since(StockEntry.objects.all(), recorded_hours(Storeroom.objects.all()), now)
    return [entry.change for entry in entries]


def test_hours_are_read_by_storeroom(room: Storeroom) -> None:
    other = StoreroomFactory(code="KILN")
    hours = recorded_hours([room, other])
    assert hours[room.pk].periods[0] == OpenPeriod(0, time(6), time(22))
    assert hours[room.pk].is_closed(NIGHT)
    assert not hours[room.pk].is_closed(MORNING)
    assert not hours[other.pk].is_closed(NIGHT)


def test_what_was_issued_at_night_waits_for_a_count(item: Any, room: Storeroom) -> None:
    booked(item, room, NIGHT)
    assert found() == [-1]
    booked(item, room, MORNING - timedelta(hours=1), kind="count", quantity=None, counted=4)
    assert found() == []


def test_what_was_issued_by_day_or_is_old_does_not(item: Any, room: Storeroom) -> None:
    booked(item, room, MORNING - timedelta(hours=1))
    assert found() == []
    booked(item, room, NIGHT)
    assert found(NIGHT + timedelta(days=8)) == []
