"""When somebody is there: opening hours, waiting, and work that goes on over closing time. Pure arithmetic on times."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

HORIZON_DAYS = 15
"""How far ahead is looked; a place that is shut for two weeks is not a way to a running drive."""


@dataclass(frozen=True)
class Stretch:
    """One manned stretch of a weekday (Monday is 0), local time; 00:00 as `closes` is the end of the day."""

    weekday: int
    opens: time
    closes: time


@dataclass(frozen=True)
class Hours:
    """Opening hours of a place. No stretches at all: not known when somebody is there."""

    timezone: str
    stretches: tuple[Stretch, ...]
    call_out_minutes: int | None = None

    def open_spans(self, at: datetime) -> Iterator[tuple[datetime, datetime]]:
        """Manned spans from `at` on, in order, in UTC; a daylight-saving night is as long as it really is."""
        at, zone = at.astimezone(UTC), ZoneInfo(self.timezone)
        first_day = at.astimezone(zone).date() - timedelta(days=1)
        for offset in range(HORIZON_DAYS):
            day = first_day + timedelta(days=offset)
            for stretch in sorted(self._of(day.weekday()), key=lambda s: s.opens):
                opens = datetime.combine(day, stretch.opens, zone).astimezone(UTC)
                closing_day = day + timedelta(days=1) if stretch.closes <= stretch.opens else day
                closes = datetime.combine(closing_day, stretch.closes, zone).astimezone(UTC)
                # In a night without 02:30 a stretch from then to 03:15 is over before it begins.
                if closes > max(opens, at):
                    yield max(opens, at), closes

    def _of(self, weekday: int) -> Iterable[Stretch]:
        return (stretch for stretch in self.stretches if stretch.weekday == weekday)

    def is_open(self, at: datetime) -> bool:
        return next((start <= at for start, _ in self.open_spans(at)), False)

    def attended_from(self, at: datetime) -> datetime | None:
        """The first moment from `at` on when somebody is there: open, opening, or called out; None when not known."""
        opening = next((start for start, _ in self.open_spans(at)), None)
        if opening == at or self.call_out_minutes is None:
            return opening
        called = at + timedelta(minutes=self.call_out_minutes)
        return called if opening is None else min(called, opening)

    def done_at(self, at: datetime, minutes: int) -> datetime | None:
        """When work that needs `minutes` is done: over closing time it rests, a called-out man stays."""
        if minutes <= 0:
            return at
        by_hours = self._by_hours(at, timedelta(minutes=minutes))
        if self.call_out_minutes is None or self.is_open(at):
            return by_hours
        called = at + timedelta(minutes=self.call_out_minutes + minutes)
        return called if by_hours is None else min(called, by_hours)

    def _by_hours(self, at: datetime, left: timedelta) -> datetime | None:
        for start, end in self.open_spans(at):
            if end - start >= left:
                return start + left
            left -= end - start
        return None
