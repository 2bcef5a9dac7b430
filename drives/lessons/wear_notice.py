"""How long before its limit wear shows at a drive: an order in time needs no shelf.

The notice that the plant gets is the time from the look at which the line has crossed the early-warning share of the
limit to the limit itself, less one gap between two looks: the line may cross that share on the morning after a look.
What of it the lead time and the planning take is worked out elsewhere.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from functools import cached_property
from itertools import pairwise

from drives.chain.wear import elongation_limit_percent
from drives.models import Drive, Inspection
from drives.reliability.wear_trend import (
    FEWEST_READINGS,
    ChainReadings,
    HoursToLimit,
    WearTrend,
    fit_wear_trend,
    hours_to_limit,
    median_interval_hours,
    split_by_chain,
)
from drives.service_record.history import HOURS_A_YEAR
from inventory.catalogue.core_values import engagement_of

WARNING_SHARE = 0.6
"""Of the limit: from here on the line tells more than the scatter of the readings. Judgement of this project."""

NEW_CHAIN_PERCENT = 0.5
"""A note of a new chain beside a larger reading speaks of one that is wanted, not of one that runs."""

NEW_CHAIN_WORDS = ("new chain", "chain renewed", "chain replaced")
HOURS_A_DAY = 24.0
LATEST = date(9999, 1, 1)


@dataclass(frozen=True, kw_only=True)
class PositionNotice:
    """What the looks at the chain of a position foretell; `notice_days` is None where they foretell nothing yet."""

    position_id: int
    drive_tag: str
    readings: int
    basis: str
    limit_percent: float | None = None
    notice_days: float | None = None
    least_notice_days: float | None = None
    limit_on: date | None = None
    limit_between: tuple[date, date | None] | None = None
    is_passed: bool = False

    def order_by(self, lead_days: float, *, planning_days: float) -> date | None:
        """Last day for an order that still comes in time if the wear is as fast as the readings allow."""
        if self.limit_between is None:
            return None
        return self.limit_between[0] - timedelta(days=lead_days + planning_days)


@dataclass(frozen=True)
class Look:
    """One reading of a chain."""

    at: datetime
    elongation_percent: float
    running_hours: float | None
    is_first_of_a_chain: bool


def wear_notices(as_of: datetime) -> dict[int, PositionNotice]:
    """The notice of every position whose drive's chain somebody has measured by a moment; three queries.

    The chain runs over all sprockets of its drive: what is read at one of them speaks for all.
    """
    looks = _looks(as_of)
    drives = Drive.objects.filter(pk__in=looks).prefetch_related("positions").order_by("id")
    found = {}
    for drive in drives:
        told = drive_notice(drive, looks[drive.pk])
        for position in drive.positions.all():
            found[position.pk] = replace(told, position_id=position.pk)
    return found


def _looks(as_of: datetime) -> dict[int, list[Look]]:
    rows = (
        Inspection.objects.filter(at__lte=as_of, elongation_percent__isnull=False)
        .order_by("at", "id")
        .values_list("position__drive_id", "at", "elongation_percent", "running_hours", "note")
    )
    looks: dict[int, list[Look]] = defaultdict(list)
    for drive_id, at, elongation, hours, note in rows:
        seen = float(elongation or 0)
        says_new = seen <= NEW_CHAIN_PERCENT and any(words in note.lower() for words in NEW_CHAIN_WORDS)
        looks[drive_id].append(Look(at, seen, None if hours is None else float(hours), says_new))
    return looks


@dataclass(frozen=True)
class _Record:
    """The looks at one drive against its hours; `per_day` turns hours into days again."""

    lives: tuple[ChainReadings, ...]
    per_day: float
    basis: str

    @cached_property
    def line(self) -> WearTrend | None:
        """Of the chain that runs now; with too few readings of it, of all chains of this drive."""
        return fit_wear_trend(self.lives[-1:]) if self.is_own else fit_wear_trend(self.lives)

    @property
    def is_own(self) -> bool:
        return fit_wear_trend(self.lives[-1:]) is not None

    @property
    def gap_days(self) -> float | None:
        gap = median_interval_hours(self.lives)
        return None if gap is None else gap / self.per_day


def drive_notice(drive: Drive, looks: list[Look]) -> PositionNotice:
    """What the looks at one drive foretell, in the order of time; queries nothing where its positions are loaded."""
    record = _record(drive, looks)
    told = PositionNotice(
        position_id=0, drive_tag=drive.tag, readings=len(record.lives[-1]), basis=record.basis
    )
    limit = limit_percent(drive)
    if limit is None:
        return replace(told, basis="Without a tooth count the limit of this chain is not known.")
    told = replace(told, limit_percent=limit)
    line, gap = record.line, record.gap_days
    if line is None or gap is None:
        return replace(
            told,
            basis=f"{_count(len(looks), 'reading')} of this chain in all: a line needs {FEWEST_READINGS}, two of one chain.",
        )
    left = hours_to_limit(limit, record.lives[-1], line)
    if left is None:
        return replace(told, basis=f"{_said(record, line)}; it does not grow: no limit ahead.")
    return _told(told, record, line, left, gap_days=gap, last=looks[-1].at)


def limit_percent(drive: Drive) -> float | None:
    """Elongation at which the chain of a drive is worn out, by its largest sprocket."""
    teeth = [position.teeth for position in drive.positions.all() if position.teeth]
    if not teeth:
        return None
    chain = engagement_of(drive)
    return elongation_limit_percent(
        max(teeth),
        fixed_centres=bool(drive.fixed_centres),
        double_pitch=bool(chain and chain.is_double_pitch),
    )


def _record(drive: Drive, looks: list[Look]) -> _Record:
    """By the meter where every look at the chain that runs now has it and it never ran backwards, else by the calendar."""
    per_year = drive.hours_per_year or HOURS_A_YEAR
    by_calendar = _by_calendar(looks, per_year / HOURS_A_YEAR)
    basis = f"by the calendar at {per_year:,} hours a year"
    if not drive.hours_per_year:
        basis = "by the calendar, as if it ran day and night: its yearly hours are not recorded"
    current = looks[-len(by_calendar[-1]) :]
    metered = [look.running_hours for look in current if look.running_hours is not None]
    if len(metered) < len(current):
        return _Record(by_calendar, per_year / 365, basis)
    return _by_meter(current, metered) or _Record(
        by_calendar, per_year / 365, f"{basis}, because the meter ran backwards or stood still"
    )


def _by_calendar(looks: list[Look], share: float) -> tuple[ChainReadings, ...]:
    start = looks[0].at
    return split_by_chain(
        [(look.at - start).total_seconds() / 3600 * share for look in looks],
        [look.elongation_percent for look in looks],
        renewed_before=_first_ones(looks),
    )


def _first_ones(looks: Iterable[Look]) -> list[int]:
    return [place for place, look in enumerate(looks) if look.is_first_of_a_chain]


def _by_meter(current: list[Look], metered: list[float]) -> _Record | None:
    days = (current[-1].at - current[0].at).total_seconds() / 86_400
    rising = all(later >= earlier for earlier, later in pairwise(metered))
    if not rising or len(current) < FEWEST_READINGS or days <= 0 or metered[-1] <= metered[0]:
        return None
    lives = split_by_chain(metered, [look.elongation_percent for look in current], renewed_before=())
    return _Record(lives, (metered[-1] - metered[0]) / days, "by the meter")


def _told(
    told: PositionNotice,
    record: _Record,
    line: WearTrend,
    left: HoursToLimit,
    *,
    gap_days: float,
    last: datetime,
) -> PositionNotice:
    limit = told.limit_percent or 0.0
    return replace(
        told,
        notice_days=_notice_days(limit, line.slope_percent_per_hour, record.per_day, gap_days),
        least_notice_days=_notice_days(limit, line.slope_high, record.per_day, gap_days),
        limit_on=_day(last, left.hours / record.per_day),
        limit_between=(
            _day(last, left.low / record.per_day),
            None if left.high is None else _day(last, left.high / record.per_day),
        ),
        is_passed=left.is_passed,
        basis=f"{_said(record, line)}; looked at every {gap_days:.0f} days; wear counts as plain from"
        f" {WARNING_SHARE * limit:.3g} % on, the limit is {limit:.3g} %; last look {last:%Y-%m-%d}"
        f"{', limit passed' if left.is_passed else ''}.",
    )


def _notice_days(limit: float, slope: float, per_day: float, gap_days: float) -> float:
    return round(max((1 - WARNING_SHARE) * limit / slope / per_day - gap_days, 0.0), 1)


def _day(last: datetime, days: float) -> date:
    room = (LATEST - last.date()).days
    return last.date() + timedelta(days=min(days, room))


def _said(record: _Record, line: WearTrend) -> str:
    """What the line rests on, so that it can be read aloud."""
    per_thousand = line.slope_percent_per_hour * 1_000
    if record.is_own:
        where = f"{_count(line.readings, 'reading')} of the chain that runs now"
    else:
        where = f"{_count(line.readings, 'reading')} of {_count(line.chains, 'chain')} of this drive (the one that runs now has {_count(len(record.lives[-1]), 'reading')})"
    sure = (
        "" if line.reached >= line.confidence else f", {line.reached:.0%} is all that so few readings carry"
    )
    return (
        f"Median slope of {where}, {record.basis}: {per_thousand:.3g} % per 1,000 h"
        f" ({line.slope_low * 1_000:.3g} to {line.slope_high * 1_000:.3g} at {line.confidence:.0%}{sure})"
    )


def _count(number: int, word: str) -> str:
    return f"{number} {word}{'' if number == 1 else 's'}"
