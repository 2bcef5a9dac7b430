"""How long before its limit wear is seen at a drive: what an order in time can replace needs no stock.

The notice is the time from the inspection at which the trend has passed the warning share of the limit to the limit itself,
less one interval between two inspections: the trend may pass that share on the day after an inspection. How much of it lead
time and planning take is calculated elsewhere.
"""

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import pairwise
from operator import itemgetter

from drives.chain.wear import elongation_limit_percent
from drives.models import Drive, Inspection
from drives.reliability.wear_trend import (
    FEWEST_READINGS,
    ChainReadings,
    HoursToLimit,
    WearTrend,
    fit_wear_trend,
    forecast_limit,
    hours_to_limit,
    median_interval_hours,
    split_by_chain,
)
from drives.service_record.history import HOURS_PER_YEAR
from inventory.catalogue.core_values import engagement_of
from inventory.facts import Fact, fact
from inventory.stocking.demand_settings import SHIPPED, DemandSettings
from inventory.stores import order_dates

NEW_CHAIN_WORDS = ("new chain", "chain renewed", "chain replaced")
LATEST = date(9999, 1, 1)


@dataclass(frozen=True, kw_only=True)
class PositionNotice:
    """What the chain inspections of a position predict; `notice_days` is None where they predict nothing yet."""

    reasons: tuple[Fact, ...]
    notice_days: float | None = None
    limit_on: date | None = None
    """As likely later as earlier."""
    early_limit_on: date | None = None
    early_chance: float | None = None
    """That the limit is reached by `early_limit_on`."""

    def order_by(self, lead_days: float, *, planning_days: float) -> date | None:
        """Last day for an order that comes in time but for the chance of `early_chance`."""
        if self.early_limit_on is None:
            return None
        return order_dates.order_by(self.early_limit_on, lead_days + planning_days)


@dataclass(frozen=True)
class ElongationReading:
    at: datetime
    elongation_percent: float
    running_hours: float | None
    is_first_of_chain: bool


@dataclass(frozen=True)
class _HoursRecord:
    """The readings of one drive against its running hours; `per_day` turns hours into days again."""

    chains: tuple[ChainReadings, ...]
    per_day: float
    basis: Fact

    def trend(self) -> tuple[WearTrend | None, bool]:
        """Of the current chain (True); with too few readings of it, of all chains of this drive (False)."""
        own = fit_wear_trend(self.chains[-1:])
        return (own, True) if own else (fit_wear_trend(self.chains), False)


def wear_notices(
    as_of: datetime, settings: DemandSettings = SHIPPED, *, drives: Collection[int] | None = None
) -> dict[int, PositionNotice]:
    """The notice of every position whose drive's chain was measured by a moment; three queries.

    The chain runs over all sprockets of its drive: a reading at one of them holds for all. `drives` None: of all drives.
    """
    readings = _readings(as_of, settings, drives)
    measured = Drive.objects.filter(pk__in=readings).prefetch_related("positions").order_by("id")
    notices = [(drive, _drive_notice(drive, readings[drive.pk], settings)) for drive in measured]
    return {position.pk: notice for drive, notice in notices for position in drive.positions.all()}


def wear_limit_days(as_of: datetime, settings: DemandSettings = SHIPPED) -> dict[int, date]:
    """By drive, the day on which its chain reaches its limit, as likely later as earlier; those that predict none are left out.

    That of the notice, without what else the notice says; three queries.
    """
    readings = _readings(as_of, settings, None)
    found: dict[int, date] = {}
    for drive in Drive.objects.filter(pk__in=readings).prefetch_related("positions").order_by("id"):
        own, limit = readings[drive.pk], wear_limit_percent(drive)
        if limit is None:
            continue
        record, _meter = _hours_record(drive, own)
        trend, _is_own = record.trend()
        left = hours_to_limit(limit, record.chains[-1], trend) if trend else None
        if left is not None and median_interval_hours(record.chains) is not None:
            found[drive.pk] = _day(own[-1].at, left.hours / record.per_day)
    return found


def worn_chains(
    as_of: datetime, settings: DemandSettings = SHIPPED, *, drives: Collection[int] | None = None
) -> dict[int, list[datetime]]:
    """By position, the moments at which its drive's chain was measured beyond the warning share of its limit; three queries."""
    readings = _readings(as_of, settings, drives)
    found: dict[int, list[datetime]] = {}
    for drive in Drive.objects.filter(pk__in=readings).prefetch_related("positions").order_by("id"):
        limit = wear_limit_percent(drive)
        if limit is not None:
            warning = settings.wear_warning_share * limit
            worn = [one.at for one in readings[drive.pk] if one.elongation_percent >= warning]
            found |= {position.pk: worn for position in drive.positions.all()}
    return found


def wear_limit_percent(drive: Drive) -> float | None:
    """Elongation at which the chain of a drive is worn out; None where no teeth are recorded."""
    chain = engagement_of(drive)
    return _limit_percent(drive, chain is not None and chain.is_double_pitch)


def _readings(
    as_of: datetime, settings: DemandSettings, drives: Collection[int] | None
) -> dict[int, list[ElongationReading]]:
    inspections = Inspection.objects.filter(at__lte=as_of, elongation_percent__isnull=False)
    if drives is not None:
        inspections = inspections.filter(position__drive__in=drives)
    columns = ("at", "id", "position__drive_id", "elongation_percent", "running_hours", "note")
    # Sorted here: asked for an order, SQLite walks the whole plant in it for the readings of one drive.
    rows = sorted(inspections.order_by().values_list(*columns), key=itemgetter(0, 1))
    found: dict[int, list[ElongationReading]] = defaultdict(list)
    for at, _id, drive_id, elongation, hours, note in rows:
        percent = float(elongation or 0)
        is_first = percent <= settings.new_chain_percent and any(
            words in note.lower() for words in NEW_CHAIN_WORDS
        )
        found[drive_id].append(
            ElongationReading(at, percent, None if hours is None else float(hours), is_first)
        )
    return found


def _drive_notice(
    drive: Drive, readings: list[ElongationReading], settings: DemandSettings
) -> PositionNotice:
    chain = engagement_of(drive)
    is_double = chain is not None and chain.is_double_pitch
    limit = _limit_percent(drive, is_double)
    if limit is None:
        return PositionNotice(reasons=(fact("wear_limit_not_known"),))
    record, meter = _hours_record(drive, readings)
    trend, is_own = record.trend()
    interval = median_interval_hours(record.chains)
    if trend is None or interval is None:
        few = fact("too_few_wear_readings", readings=len(readings), needed=FEWEST_READINGS)
        return PositionNotice(reasons=(few,))
    unseen = (fact("double_pitch_wear_limit_unseen", limit_percent=limit),) if is_double else ()
    reasons = (_slope(record, trend, is_own), *meter, *unseen)
    if trend.reached < trend.confidence:
        reasons = (*reasons, fact("wear_slope_uncertain", reached=trend.reached))
    left = hours_to_limit(limit, record.chains[-1], trend)
    if left is None:
        return PositionNotice(reasons=(*reasons, fact("no_wear_growth")))
    warning_share = settings.wear_warning_share
    last, warning, interval_days = readings[-1].at, warning_share * limit, interval / record.per_day
    ahead = fact(
        "wear_limit_passed" if left.is_passed else "wear_limit_ahead",
        limit_percent=limit,
        warning_percent=warning,
        inspection_interval_days=interval_days,
        last_inspection_on=last.date().isoformat(),
    )
    days = (1 - warning_share) * limit / trend.slope_percent_per_hour / record.per_day - interval_days
    early, chance = _early(limit, record.chains[-1], trend, left, settings.early_limit_chance)
    early_on = _day(last, early / record.per_day)
    by_then = fact("wear_limit_chance", early_limit_on=early_on.isoformat(), chance=chance)
    return PositionNotice(
        reasons=(*reasons, ahead) if left.is_passed else (*reasons, ahead, by_then),
        notice_days=round(max(days, 0.0), 1),
        limit_on=_day(last, left.hours / record.per_day),
        early_limit_on=early_on,
        early_chance=chance,
    )


def _early(
    limit: float, chain: ChainReadings, trend: WearTrend, left: HoursToLimit, chance: float
) -> tuple[float, float]:
    """Hours to the limit in the bad case, and its chance; never later than in the middle case."""
    forecast = forecast_limit(limit, chain, trend)
    if left.is_passed or forecast is None:
        return 0.0, 1.0
    hours, reached = forecast.early(chance)
    return min(hours, left.hours), reached


def _limit_percent(drive: Drive, is_double_pitch: bool) -> float | None:
    """By its largest sprocket."""
    teeth = [position.teeth for position in drive.positions.all() if position.teeth]
    if not teeth:
        return None
    return elongation_limit_percent(
        max(teeth),
        fixed_centres=bool(drive.fixed_centres),
        double_pitch=is_double_pitch,
    )


def _hours_record(drive: Drive, readings: list[ElongationReading]) -> tuple[_HoursRecord, tuple[Fact, ...]]:
    """By the meter where every reading of the current chain has it and it never ran backwards, else by the calendar.

    With it what is to be said of a meter that cannot be used.
    """
    per_year = drive.hours_per_year or HOURS_PER_YEAR
    chains = _chains_by_calendar(readings, per_year / HOURS_PER_YEAR)
    basis = fact("hours_by_calendar", hours_per_year=per_year)
    if not drive.hours_per_year:
        basis = fact("hours_by_calendar_all_year")
    by_calendar = _HoursRecord(chains, per_year / 365, basis)
    current = readings[-len(chains[-1]) :]
    metered = [reading.running_hours for reading in current if reading.running_hours is not None]
    if len(metered) < len(current):
        return by_calendar, ()
    by_meter = _by_meter(current, metered)
    return (by_meter, ()) if by_meter else (by_calendar, (fact("meter_not_usable"),))


def _chains_by_calendar(readings: Sequence[ElongationReading], share: float) -> tuple[ChainReadings, ...]:
    start = readings[0].at
    return split_by_chain(
        [(reading.at - start).total_seconds() / 3600 * share for reading in readings],
        [reading.elongation_percent for reading in readings],
        renewed_before=[index for index, reading in enumerate(readings) if reading.is_first_of_chain],
    )


def _by_meter(current: Sequence[ElongationReading], metered: list[float]) -> _HoursRecord | None:
    days = (current[-1].at - current[0].at).total_seconds() / 86_400
    rising = all(later >= earlier for earlier, later in pairwise(metered))
    if not rising or len(current) < FEWEST_READINGS or days <= 0 or metered[-1] <= metered[0]:
        return None
    chains = split_by_chain(metered, [reading.elongation_percent for reading in current])
    return _HoursRecord(chains, (metered[-1] - metered[0]) / days, fact("hours_by_meter"))


def _slope(record: _HoursRecord, trend: WearTrend, is_own: bool) -> Fact:
    slope = {
        "readings": trend.readings,
        "slope_percent_per_1000_h": trend.slope_percent_per_hour * 1_000,
        "slope_low": trend.slope_low * 1_000,
        "slope_high": trend.slope_high * 1_000,
        "confidence": trend.confidence,
        "hours": record.basis,
    }
    if is_own:
        return fact("wear_slope_of_current_chain", **slope)
    return fact(
        "wear_slope_of_all_chains", **slope, chains=trend.chains, current_readings=len(record.chains[-1])
    )


def _day(last: datetime, days: float) -> date:
    return last.date() + timedelta(days=min(days, (LATEST - last.date()).days))
