from typing import Any

import pytest

from drives.feed.quarantine import unblocked_by
from tests.drives.feed.messages import closed, day, order, place, reading, send, used

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def plant() -> None:
    place()


def test_an_order_without_parts_does_not_read_what_waits(django_assert_num_queries: Any) -> None:
    send("WO-1", closed(1, day(700), [used("SPR-A", 9)]))
    message = send("WO-2", order(1)).message
    with django_assert_num_queries(1):
        assert unblocked_by(message) == []


def test_an_order_with_parts_may_have_set_free_who_waits_for_them() -> None:
    short = send("WO-1", closed(1, day(700), [used("SPR-B", 9)])).message
    assert short.outcome == "waiting"
    same, other = (
        send(number, closed(1, day(600), [used(item)])).message
        for number, item in (("WO-2", "SPR-B"), ("WO-3", "SPR-A"))
    )
    assert short.pk in {one.pk for one in unblocked_by(same)}
    assert unblocked_by(other) == []


def test_a_reading_looks_at_those_of_its_position() -> None:
    place("KILN-P1")
    send("R-1", reading(1, day(10), 500.0), "meter_reading")
    here = send("R-2", reading(1, day(11), 100.0), "meter_reading").message
    there = send("R-3", reading(1, day(11), 100.0, position="KILN-P9"), "meter_reading").message
    assert (here.outcome, there.outcome) == ("waiting", "waiting")
    message = send("R-4", reading(1, day(12), 600.0), "meter_reading").message
    assert [one.pk for one in unblocked_by(message)] == [here.pk]
