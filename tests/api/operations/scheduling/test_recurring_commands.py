from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from django.core.management import get_commands

from api.operations.scheduling.recurring_commands import (
    RECURRING_COMMANDS,
    RecurringCommand,
    is_night_due,
    mark_night,
    night_of,
)

pytestmark = pytest.mark.django_db
NIGHTLY = RecurringCommand("recommend_stock")


def nights(begin: datetime, hours: int, step_minutes: int = 10) -> list[str]:
    """When the work of a night is begun, looked at every few minutes."""
    done, now = [], begin
    while now < begin + timedelta(hours=hours):
        if is_night_due(NIGHTLY, now):
            mark_night(NIGHTLY, now)
            done.append(f"{now:%d %H:%M}")
        now += timedelta(minutes=step_minutes)
    return done


@pytest.fixture(autouse=True)
def in_the_plant(settings: Any) -> None:
    settings.TIME_ZONE, settings.NIGHTLY_HOUR = "Europe/Berlin", 2


def test_the_night_begins_at_its_hour_of_the_local_clock() -> None:
    mark_night(NIGHTLY, datetime(2026, 1, 10, 20, tzinfo=UTC))
    assert nights(datetime(2026, 1, 10, 20, tzinfo=UTC), 48) == ["11 01:00", "12 01:00"]


def test_a_night_without_the_hour_still_gets_its_work() -> None:
    # 29 March 2026: the clock goes from 02:00 to 03:00 at 01:00 UTC.
    mark_night(NIGHTLY, datetime(2026, 3, 28, 12, tzinfo=UTC))
    assert nights(datetime(2026, 3, 28, 12, tzinfo=UTC), 48) == ["29 01:00", "30 00:00"]


def test_a_night_with_the_hour_twice_gets_its_work_once() -> None:
    # 25 October 2026: the clock goes from 03:00 back to 02:00 at 01:00 UTC.
    mark_night(NIGHTLY, datetime(2026, 10, 24, 12, tzinfo=UTC))
    assert nights(datetime(2026, 10, 24, 12, tzinfo=UTC), 48) == ["25 00:00", "26 01:00"]


@pytest.mark.parametrize("step", [timedelta(hours=1), timedelta(hours=-1)])
def test_a_clock_that_steps_by_an_hour_fires_no_second_night(step: timedelta) -> None:
    begin = datetime(2026, 1, 10, 20, tzinfo=UTC)
    mark_night(NIGHTLY, begin)
    assert nights(begin, 6) == ["11 01:00"]
    assert nights(begin + timedelta(hours=6) + step, 18) == []


def test_a_clock_that_was_a_year_ahead_stops_no_nights_once_it_is_set_right() -> None:
    mark_night(NIGHTLY, datetime(2027, 1, 10, 5, tzinfo=UTC))
    assert nights(datetime(2026, 1, 10, 20, tzinfo=UTC), 24) == ["10 20:00", "11 01:00"]


def test_a_scheduler_that_slept_through_the_hour_makes_up_for_one_night() -> None:
    mark_night(NIGHTLY, datetime(2026, 1, 7, 5, tzinfo=UTC))
    assert nights(datetime(2026, 1, 10, 9, tzinfo=UTC), 6) == ["10 09:00"]


def test_before_the_hour_the_night_is_not_due() -> None:
    assert night_of(datetime(2026, 1, 10, 0, 59, tzinfo=UTC)) is None
    assert str(night_of(datetime(2026, 1, 10, 1, 0, tzinfo=UTC))) == "2026-01-10"


def test_every_recurring_command_exists() -> None:
    assert {command.name for command in RECURRING_COMMANDS} <= set(get_commands())


def test_each_command_says_how_often() -> None:
    assert [
        RecurringCommand("a", 5).rhythm,
        RecurringCommand("a", 300).rhythm,
        RecurringCommand("a", 7200).rhythm,
        NIGHTLY.rhythm,
    ] == [*("every 5 s", "every 5 min", "every 2 h", "nightly")]
    assert len({command.name for command in RECURRING_COMMANDS}) == len(RECURRING_COMMANDS)
