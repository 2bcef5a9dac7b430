import threading
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from django.db import connection, transaction

from inventory.models import Event
from inventory.plumbing import events
from inventory.plumbing.events import NewEvent
from tests.races import outcomes

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
SHELF = "stock/41-0105/OM-MAIN/new"


def happen(aggregate: str = SHELF, **data: Any) -> Event:
    with transaction.atomic():
        return events.record("stock.moved", aggregate=aggregate, data=data, occurred_at=NOON)


def numbers() -> list[tuple[int, int | None]]:
    return list(Event.objects.order_by("sequence").values_list("id", "sequence"))


@pytest.mark.django_db
def test_events_of_an_aggregate_are_counted_from_one() -> None:
    assert [happen().version, happen("item/41-0105").version, happen().version] == [1, 1, 2]


@pytest.mark.django_db
def test_decimals_and_dates_become_text() -> None:
    event = happen(price=Decimal("12.50"), on=date(2026, 3, 2))
    event.refresh_from_db()
    assert event.data == {"price": "12.50", "on": "2026-03-02"}


@pytest.mark.django_db
def test_many_are_written_in_few_queries(django_assert_num_queries: Any) -> None:
    news = [NewEvent("item.changed", f"item/{n % 7}", {"n": n}, NOON) for n in range(40)]
    with transaction.atomic(), django_assert_num_queries(4):
        written = events.record_many(news)
    assert len({(event.aggregate, event.version) for event in written}) == 40
    assert [event.data["n"] for event in written if event.aggregate == "item/3"] == [3, 10, 17, 24, 31, 38]


@pytest.mark.django_db(transaction=True)
def test_an_event_outside_a_transaction_is_a_mistake_of_the_caller() -> None:
    with pytest.raises(AssertionError, match="transaction of its change"):
        events.record("stock.moved", aggregate=SHELF, data={}, occurred_at=NOON)


@pytest.mark.django_db(transaction=True)
def test_a_change_that_is_rolled_back_leaves_no_event() -> None:
    with transaction.atomic():
        happen()
        transaction.set_rollback(True)
    assert not Event.objects.exists()


@pytest.mark.django_db
def test_waiting_events_are_numbered_once_and_in_order() -> None:
    first, second = happen(), happen("item/2")
    assert events.sequence_events() == 2
    third = happen()
    assert (events.sequence_events(), events.sequence_events()) == (1, 0)
    assert numbers() == [(first.pk, 1), (second.pk, 2), (third.pk, 3)]


@pytest.mark.django_db
def test_more_than_a_batch_is_numbered_without_gaps(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(events, "BATCH", 3)
    for _ in range(8):
        happen()
    assert events.sequence_events() == 8
    assert [number for _, number in numbers()] == list(range(1, 9))


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_a_long_transaction_with_a_lower_id_is_numbered_after_what_was_seen() -> None:
    written, go_on = threading.Event(), threading.Event()

    def slow() -> None:
        with transaction.atomic():
            happen("item/slow")
            written.set()
            go_on.wait(20)
        connection.close()

    writer = threading.Thread(target=slow)
    writer.start()
    assert written.wait(20)
    quick = happen("item/quick")
    assert events.sequence_events() == 1
    go_on.set()
    writer.join()
    assert events.sequence_events() == 1
    late = Event.objects.get(aggregate="item/slow")
    assert late.pk < quick.pk
    assert numbers() == [(quick.pk, 1), (late.pk, 2)]


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_writers_that_meet_at_one_aggregate_all_succeed() -> None:
    found = outcomes([lambda: happen() and events.sequence_events() for _ in range(40)])
    assert found == {"booked": 40}
    assert sorted(Event.objects.values_list("version", flat=True)) == list(range(1, 41))
    rows = Event.objects.order_by("sequence").values_list("sequence", "version")
    assert list(rows) == [(n, n) for n in range(1, 41)]
