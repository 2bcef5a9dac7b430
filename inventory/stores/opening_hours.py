"""Weekly opening hours: when somebody is there next, and when work is done. Pure arithmetic on times."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

HOURS_A_WEEK = 168.0

HORIZON_DAYS = 15
"""How far ahead openings are searched; a place that is shut for two weeks does not help a stopped drive."""


@dataclass(frozen=True)
class OpenPeriod:
    """One period of a weekday (Monday is 0) in which somebody is there, local time; `closes` at 00:00 is the end of the day."""

    weekday: int
    opens: time
    closes: time


@dataclass(frozen=True)
class WeeklyHours:
    """Opening hours of a storeroom or shop. Without periods it is not known when somebody is there."""

    timezone: str
    periods: tuple[OpenPeriod, ...]
    call_out_minutes: int | None = None

    def openings(self, at: datetime) -> Iterator[tuple[datetime, datetime]]:
        """Open periods from `at` on, in order, in UTC; a night with a change of the clocks has its real length."""
        at, zone = at.astimezone(UTC), ZoneInfo(self.timezone)
        first_day = at.astimezone(zone).date() - timedelta(days=1)
        for offset in range(HORIZON_DAYS):
            day = first_day + timedelta(days=offset)
            for period in sorted(self._of(day.weekday()), key=lambda period: period.opens):
                opens = datetime.combine(day, period.opens, zone).astimezone(UTC)
                closing_day = day + timedelta(days=1) if period.closes <= period.opens else day
                closes = datetime.combine(closing_day, period.closes, zone).astimezone(UTC)
                # In a night without 02:30 a period from then to 03:15 is over before it begins.
                if closes > max(opens, at):
                    yield max(opens, at), closes

    @property
    def mean_wait_hours(self) -> float | None:
        """Until somebody is there, from any moment of a week; None where that is never or not known."""
        called = float("inf") if self.call_out_minutes is None else self.call_out_minutes / 60
        open_hours = {
            (24 * one.weekday + _hour(one.opens), 24 * one.weekday + (_hour(one.closes) or 24.0))
            for one in self.periods
        }
        if not open_hours:
            return None if self.call_out_minutes is None else called
        waited, closes = 0.0, max(end for _, end in open_hours) - HOURS_A_WEEK
        for opens, end in sorted(open_hours):
            shut = max(opens - closes, 0.0)
            at_once = min(shut, called)
            waited += at_once**2 / 2 + (shut - at_once) * (called if shut > called else 0.0)
            closes = max(closes, end)
        return waited / HOURS_A_WEEK

    def _of(self, weekday: int) -> Iterable[OpenPeriod]:
        return (period for period in self.periods if period.weekday == weekday)

    def is_open(self, at: datetime) -> bool:
        return next((start <= at for start, _ in self.openings(at)), False)

    def is_closed(self, at: datetime) -> bool:
        """False where the hours are not known."""
        return bool(self.periods) and not self.is_open(at)

    def attended_from(self, at: datetime) -> datetime | None:
        """The first moment from `at` on when somebody is there: open, opening, or called out; None where not known."""
        opening = next((start for start, _ in self.openings(at)), None)
        if opening == at or self.call_out_minutes is None:
            return opening
        called = at + timedelta(minutes=self.call_out_minutes)
        return called if opening is None else min(called, opening)

    def done_at(self, at: datetime, minutes: int) -> datetime | None:
        """When work of so many minutes is done: it rests while the place is closed; who was called out stays until the end."""
        if minutes <= 0:
            return at
        by_hours = self._by_hours(at, timedelta(minutes=minutes))
        if self.call_out_minutes is None or self.is_open(at):
            return by_hours
        called = at + timedelta(minutes=self.call_out_minutes + minutes)
        return called if by_hours is None else min(called, by_hours)

    def _by_hours(self, at: datetime, left: timedelta) -> datetime | None:
        for start, end in self.openings(at):
            if end - start >= left:
                return start + left
            left -= end - start
        return None


def _hour(moment: time) -> float:
    return moment.hour + moment.minute / 60 + moment.second / 3600
