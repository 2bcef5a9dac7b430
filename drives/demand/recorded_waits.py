"""How long drives stood for lack of a part while the record ran, from each request that found none to the issue of the part."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal

from drives.demand.downtime import PricedPosition
from drives.demand.pools import DemandPools, Pool, PoolItem
from drives.demand.record_part import WHOLE_RECORD, WholeRecord
from drives.demand.request_matching import DemandEvent
from drives.models import Position, RequestResult
from inventory.planning.recorded_waits import RecordedWaits, added_up
from inventory.planning.shelf_demand import money

NOT_THERE = frozenset({RequestResult.NOT_FILLED, RequestResult.NOT_STOCKED, RequestResult.PARTLY})

Issue = tuple[datetime, PoolItem, str]
"""When, of what, and the tag of the position where it is recorded."""


@dataclass(frozen=True, kw_only=True)
class PositionWaits:
    """Of one position in one storeroom, each from its request to the issue of the part."""

    storeroom_id: int
    since: date
    until: date
    stops: int
    waits: int
    hours_per_year: float
    not_known: int


def waits_of(demand: DemandPools, record: WholeRecord = WHOLE_RECORD) -> dict[int, tuple[PositionWaits, ...]]:
    """Of each position with jobs on record that stopped its drive; one query."""
    issues = _issues(demand.items, record)
    found: dict[int, tuple[PositionWaits, ...]] = defaultdict(tuple)
    for pool in sorted((*demand.pools, *demand.incomplete_pools), key=lambda pool: pool.key):
        for pk, events in _stopping(pool).items():
            found[pk] += (_of_pool(pool, demand.positions[pk], events, issues),)
    return found


def priced_waits(
    waits: Mapping[int, Iterable[PositionWaits]],
    places: Mapping[int, PricedPosition],
    currency: str,
    *,
    storerooms: Collection[int] | None = None,
) -> dict[str, RecordedWaits]:
    """By tag of the position, at what an hour of its drive costs today, in these storerooms (None: all)."""
    found = {
        place.tag: added_up(
            _priced(one, place.cost_per_hour if place.currency == currency else None)
            for one in some
            if storerooms is None or one.storeroom_id in storerooms
        )
        for pk, some in waits.items()
        if (place := places.get(pk))
    }
    return {tag: total for tag, total in sorted(found.items()) if total}


def _priced(waits: PositionWaits, cost_per_hour: Decimal | None) -> RecordedWaits:
    return RecordedWaits(
        since=waits.since,
        until=waits.until,
        stops=waits.stops,
        waits=waits.waits,
        hours_per_year=waits.hours_per_year,
        cost_per_year=money(Decimal(repr(waits.hours_per_year)) * (cost_per_hour or 0)),
        not_known=waits.not_known,
        without_price=waits.waits if cost_per_hour is None else 0,
    )


def _stopping(pool: Pool) -> dict[int, list[DemandEvent]]:
    found: dict[int, list[DemandEvent]] = defaultdict(list)
    for event in pool.unplanned:
        if event.stops and event.position_id is not None:
            found[event.position_id].append(event)
    return found


def _of_pool(
    pool: Pool, position: Position, events: Iterable[DemandEvent], issues: Mapping[str, list[Issue]]
) -> PositionWaits:
    jobs: dict[tuple[str, str], list[DemandEvent]] = defaultdict(list)
    for event in events:
        jobs[event.job].append(event)
    lacking = [
        [one for one in job if one.result in NOT_THERE]
        for job in jobs.values()
        if any(one.result in NOT_THERE for one in job)
    ]
    known = [hours for job in lacking if (hours := _hours(job, position, issues)) is not None]
    return PositionWaits(
        storeroom_id=pool.storeroom.pk,
        since=pool.record_from.date(),
        until=(pool.as_of - timedelta(microseconds=1)).date(),
        stops=len(jobs),
        waits=len(lacking),
        hours_per_year=sum(known) / pool.record_years,
        not_known=len(lacking) - len(known),
    )


def _hours(job: list[DemandEvent], position: Position, issues: Mapping[str, list[Issue]]) -> float | None:
    """From the first request of a job until its last part was issued; the drive stands once."""
    ends = [max(found, default=None) for found in (_issued(one, position, issues) for one in job)]
    known = [end for end in ends if end is not None]
    if len(known) < len(ends):
        return None
    begin = min(one.at for one in job)
    return max((max(known) - begin).total_seconds() / 3600, 0.0)


def _issued(event: DemandEvent, position: Position, issues: Mapping[str, list[Issue]]) -> Iterable[datetime]:
    """The issues of its order to the position that are the part, whatever stock number it has."""
    for at, item, tag in issues.get(event.work_order, ()) if event.work_order else ():
        is_part = item.pk in (event.item_id, event.given_id) or (event.item_id is None and item.is_sprocket)
        if is_part and tag in ("", position.tag):
            yield at


def _issues(items: Mapping[int, PoolItem], record: WholeRecord) -> dict[str, list[Issue]]:
    """By work order, of those with a request that found no piece."""
    found: dict[str, list[Issue]] = defaultdict(list)
    for order, at, item, tag in record.issues_of_orders(NOT_THERE):
        issued = items[item]
        found[order].append((at, items[issued.merged_into or item], tag))
    return found
