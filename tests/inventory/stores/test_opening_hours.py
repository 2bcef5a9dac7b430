from datetime import UTC, datetime, time

import pytest

from inventory.stores.opening_hours import OpenPeriod, WeeklyHours

DAY_SHIFT = tuple(OpenPeriod(day, time(7), time(15, 30)) for day in range(5))
SHOP = WeeklyHours("Europe/Berlin", DAY_SHIFT)
CALLED = WeeklyHours("Europe/Berlin", DAY_SHIFT, call_out_minutes=90)


def at(text: str) -> datetime:
    return datetime.fromisoformat(text)


def test_an_open_place_is_attended_at_once():
    assert SHOP.attended_from(at("2026-11-24T10:00+01:00")) == at("2026-11-24T10:00+01:00")


def test_a_shut_place_is_attended_when_it_opens():
    assert SHOP.attended_from(at("2026-11-24T03:00+01:00")) == at("2026-11-24T07:00+01:00")


def test_after_closing_on_friday_it_is_monday():
    assert SHOP.attended_from(at("2026-11-20T16:00+01:00")) == at("2026-11-23T07:00+01:00")


def test_a_call_out_is_taken_when_it_is_sooner():
    assert CALLED.attended_from(at("2026-11-24T03:00+01:00")) == at("2026-11-24T04:30+01:00")
    assert CALLED.attended_from(at("2026-11-24T06:30+01:00")) == at("2026-11-24T07:00+01:00")


def test_without_hours_nobody_knows():
    assert WeeklyHours("UTC", ()).attended_from(at("2026-11-24T03:00+01:00")) is None
    assert WeeklyHours("UTC", ()).done_at(at("2026-11-24T03:00+01:00"), 10) is None


def test_work_rests_over_closing_time():
    assert SHOP.done_at(at("2026-11-24T15:00+01:00"), 60) == at("2026-11-25T07:30+01:00")


def test_work_that_begins_at_night_begins_in_the_morning():
    assert SHOP.done_at(at("2026-11-24T03:00+01:00"), 75) == at("2026-11-24T08:15+01:00")


def test_who_was_called_out_stays_until_it_is_done():
    assert CALLED.done_at(at("2026-11-20T20:00+01:00"), 75) == at("2026-11-20T22:45+01:00")


def test_no_work_takes_no_time():
    assert SHOP.done_at(at("2026-11-22T03:00+01:00"), 0) == at("2026-11-22T03:00+01:00")


def test_a_period_may_run_into_the_next_day():
    night = WeeklyHours("Europe/Berlin", (OpenPeriod(4, time(22), time(6)),))

    assert night.is_open(at("2026-11-21T05:00+01:00"))
    assert not night.is_open(at("2026-11-21T06:00+01:00"))


@pytest.mark.parametrize(
    ("begin", "minutes", "done"),
    [
        # 2026-03-29, clocks go forward: 01:00 to 04:00 local is two hours.
        ("2026-03-29T01:00+01:00", 150, "2026-03-29T04:30+02:00"),
        # 2026-10-25, clocks go back: 02:30 local comes twice.
        ("2026-10-25T01:00+02:00", 240, "2026-10-25T04:00+01:00"),
    ],
)
def test_a_night_is_as_long_as_it_really_is_when_the_clocks_change(begin, minutes, done):
    always = WeeklyHours("Europe/Berlin", tuple(OpenPeriod(day, time(0), time(0)) for day in range(7)))

    assert always.done_at(at(begin), minutes) == at(done)


def test_openings_are_in_order_and_in_utc():
    openings = list(SHOP.openings(at("2026-11-24T10:00+01:00")))

    assert openings == sorted(openings)
    assert all(start.tzinfo is UTC and start < end for start, end in openings)


@pytest.mark.parametrize(
    ("periods", "call_out_minutes", "hours"),
    [
        # Four nights of 15.5 hours and a weekend of 63.5: half of each gap's square, over the 168 hours of a week.
        (DAY_SHIFT, None, (4 * 15.5**2 / 2 + 63.5**2 / 2) / 168),
        # 42.5 hours are open; of the others all but the last 1.5 of each gap wait for the call-out.
        (DAY_SHIFT, 90, (125.5 * 1.5 - 5 * 1.5**2 / 2) / 168),
        (tuple(OpenPeriod(day, time(0), time(0)) for day in range(7)), None, 0.0),
        ((OpenPeriod(2, time(0), time(12)), OpenPeriod(2, time(10), time(0))), None, 144**2 / 2 / 168),
        ((), 45, 0.75),
        ((), None, None),
    ],
)
def test_the_mean_wait_counts_every_hour_of_a_week(periods, call_out_minutes, hours):
    assert WeeklyHours("UTC", periods, call_out_minutes).mean_wait_hours == (
        None if hours is None else pytest.approx(hours)
    )
