"""Dates and times as people write them; what is a moment is put into the zone of its place."""

import re
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from api.edge import parsing
from api.exchange.mapping.misfit import Misfit
from api.wire.cells import Cell

EPOCH_OF_SHEETS = datetime(1899, 12, 30)
"""Day 0 of the 1900 date system of spreadsheets, counted as its days after February 1900 are (ECMA-376 part 1, 18.17.4.1)."""
FIRST_SERIAL, LAST_SERIAL = 15_000, 80_000
MONTHS = {
    name: number
    for number, names in enumerate(
        (
            "jan january januar ene enero", "feb february februar febrero", "mar march marz maerz mrz märz marzo",
            "apr april abr abril", "may mai mayo", "jun june juni junio", "jul july juli julio",
            "aug august ago agosto", "sep sept september septiembre", "oct october okt oktober octubre",
            "nov november noviembre", "dec december dez dezember dic diciembre",
        ),
        1,
    )
    for name in names.split()
}  # fmt: skip
CLOCK = r"(?:[ T,]+(?P<hour>[0-9]{1,2})[:.h](?P<minute>[0-9]{2})(?:[:.](?P<second>[0-9]{2}))?(?:[.,][0-9]+)?\s*(?P<half>am|pm)?(?:\s*(?:uhr|h))?)?"
YEAR_FIRST = re.compile(
    rf"(?P<year>[0-9]{{4}})[-./](?P<month>[0-9]{{1,2}})[-./](?P<day>[0-9]{{1,2}}){CLOCK}", re.I
)
THREE = re.compile(
    rf"(?P<one>[0-9]{{1,2}})(?P<between>[-./ ]+)(?P<two>[0-9]{{1,2}})[-./ ]+(?P<year>[0-9]{{4}}|[0-9]{{2}}){CLOCK}",
    re.I,
)
NAMED = re.compile(
    rf"(?P<day>[0-9]{{1,2}})\.?[-/ ]*(?P<name>[a-zä]{{3,10}})\.?[-/, ]*(?P<year>[0-9]{{4}}|[0-9]{{2}}){CLOCK}",
    re.I,
)
NAMED_FIRST = re.compile(
    rf"(?P<name>[a-z]{{3,10}})\.? (?P<day>[0-9]{{1,2}}),? (?P<year>[0-9]{{4}}){CLOCK}", re.I
)
COMPACT = re.compile(r"(?P<year>(?:19|20)[0-9]{2})(?P<month>0[1-9]|1[0-2])(?P<day>[0-3][0-9])")
NUMBER = re.compile(r"[0-9]+(?:[.,][0-9]+)?")
TIME = re.compile(
    r"(?P<hour>[0-9]{1,2})(?:[:.h](?P<minute>[0-9]{2}))?(?::(?P<second>[0-9]{2}))?\s*(?P<half>am|pm)?\s*(?:uhr|h)?",
    re.I,
)
FOUR_DIGITS = re.compile(r"(?P<hour>[0-2][0-9])(?P<minute>[0-5][0-9])")
WEEKDAY_BEFORE = re.compile(r"(?:mo|di|mi|do|fr|sa|so|mon|tue|wed|thu|fri|sat|sun)[a-z]*[.,]?\s+", re.I)
SECONDS_OF_1990 = 631_152_000
CENTURY_TURNS_AT = 69
"""Two digits from 69 on are of the last century, as POSIX `strptime` reads %y."""


@dataclass(frozen=True)
class ReadMoment:
    """A moment by the clock of its place, or one that says its distance from UTC itself."""

    at: datetime
    has_time: bool

    @property
    def is_aware(self) -> bool:
        return self.at.tzinfo is not None


def read_moment(cell: Cell, order: str) -> ReadMoment:
    """`order` is `dmy` or `mdy`, and matters only where neither the year comes first nor the month has a name."""
    if isinstance(cell, datetime):
        return ReadMoment(cell, cell.time() != time(0))
    if isinstance(cell, date):
        return ReadMoment(datetime.combine(cell, time(0)), False)
    if isinstance(cell, time | bool | list) or cell is None:
        raise Misfit
    text = WEEKDAY_BEFORE.sub("", str(cell).strip(), count=1)
    if NUMBER.fullmatch(text):
        return from_number(text)
    aware = parsing.moment(text)
    if aware is not None:
        return ReadMoment(aware, True)
    found = YEAR_FIRST.fullmatch(text) or named(text) or THREE.fullmatch(text)
    if found is None:
        raise Misfit
    parts = found.groupdict()
    day, month = parts.get("day"), parts.get("month")
    if parts.get("name"):
        month = str(MONTHS[parts["name"].casefold()])
    elif parts.get("one"):
        if parts["between"].strip() == "." and order == "mdy":
            # With points the day comes first: no locale of the Unicode CLDR writes the month first so (from memory).
            raise Misfit
        day, month = (parts["one"], parts["two"]) if order == "dmy" else (parts["two"], parts["one"])
    return with_clock(whole_year(parts["year"]), int(month or 0), int(day or 0), parts)


def named(text: str) -> re.Match[str] | None:
    found = NAMED.fullmatch(text) or NAMED_FIRST.fullmatch(text)
    return found if found and found["name"].casefold() in MONTHS else None


def whole_year(text: str) -> int:
    year = int(text)
    return year if len(text) == 4 else year + (1900 if year >= CENTURY_TURNS_AT else 2000)


def with_clock(year: int, month: int, day: int, parts: dict[str, str | None]) -> ReadMoment:
    try:
        at = datetime(year, month, day)
    except ValueError as error:
        raise Misfit from error
    if parts.get("hour") is None:
        return ReadMoment(at, False)
    return ReadMoment(at + clock(parts), True)


def clock(parts: dict[str, str | None]) -> timedelta:
    """The time since midnight; 24:00 is the end of the day (ISO 8601:2004, 4.2.3, from memory)."""
    hour, minute, second = (int(parts.get(name) or 0) for name in ("hour", "minute", "second"))
    half = (parts.get("half") or "").casefold()
    if half:
        if not 1 <= hour <= 12:
            raise Misfit
        hour = hour % 12 + (12 if half == "pm" else 0)
    if hour > 24 or minute > 59 or second > 59 or (hour == 24 and (minute or second)):
        raise Misfit
    return timedelta(hours=hour, minutes=minute, seconds=second)


def from_number(text: str) -> ReadMoment:
    """A compact date, a day of a spreadsheet with its part of a day, or seconds or milliseconds since 1970."""
    compact = COMPACT.fullmatch(text)
    if compact:
        return with_clock(int(compact["year"]), int(compact["month"]), int(compact["day"]), {})
    number = float(text.replace(",", "."))
    if FIRST_SERIAL <= number < LAST_SERIAL:
        at = EPOCH_OF_SHEETS + timedelta(seconds=round(number * 86_400))
        return ReadMoment(at, not number.is_integer())
    if number >= SECONDS_OF_1990 * 1000:
        number /= 1000
    if not SECONDS_OF_1990 <= number < 10 * SECONDS_OF_1990:
        raise Misfit
    return ReadMoment(datetime.fromtimestamp(number, UTC), True)


def read_hour(cell: Cell) -> str:
    """`6:00`, `6.30`, `0600`, `6 am` or `24:00` as HH:MM; the end of a day is 00:00, as opening hours have it."""
    if isinstance(cell, datetime | time):
        return f"{cell:%H:%M}"
    text = str(cell).strip()
    found = FOUR_DIGITS.fullmatch(text) or TIME.fullmatch(text)
    if found is None:
        raise Misfit
    whole = int(clock(found.groupdict()).total_seconds()) // 60 % 1440
    return f"{whole // 60:02d}:{whole % 60:02d}"


def in_zone(moment: datetime, zone: ZoneInfo) -> datetime:
    """By the clock there. A time that the clocks skip or show twice says nothing."""
    if moment.tzinfo is not None:
        return moment
    first, second = (moment.replace(tzinfo=zone, fold=fold) for fold in (0, 1))
    if first.utcoffset() != second.utcoffset():
        raise Misfit
    return first
