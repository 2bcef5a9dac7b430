"""What a stop for lack of a part costs: each job at the drive that it is for, and only where it stops that drive."""

from collections import defaultdict
from collections.abc import Mapping
from decimal import Decimal

from drives.demand.pools import Pool
from drives.models import Position
from inventory.planning.policy_inputs import Downtime, DriveShare

JOBS_TO_COME = 1.0
"""Jobs added to those on record and spread over all positions: one that never stopped may be the next. Judgement."""

MICRO = Decimal("0.000001")


def downtime_of(pool: Pool, positions: Mapping[int, Position], currency: str) -> Downtime | None:
    """None where no drive is known that the part could stop, or none of them has a price in this currency.

    A renewal on a day that was chosen is demand, but stops nothing.
    """
    stops, jobs = _stops(pool)
    needing = pool.position_ids or {pk for pk in stops if pk is not None}
    may_stop = {pk: positions[pk] for pk in sorted(needing) if positions[pk].is_in_use_on(pool.as_of.date())}
    if not may_stop:
        return None
    weights = {pk: stops[pk] + JOBS_TO_COME / len(may_stop) for pk in may_stop}
    total = sum(stops.values()) + JOBS_TO_COME
    stop_share = total / (jobs + JOBS_TO_COME)
    scale = stop_share / sum(weights.values())
    return _priced(_by_drive(may_stop, {pk: one * scale for pk, one in weights.items()}, currency), currency)


def _stops(pool: Pool) -> tuple[dict[int | None, int], int]:
    """Unplanned jobs that stopped a drive, by position, and all unplanned jobs."""
    jobs: dict[tuple[int | None, tuple[str, str]], bool] = defaultdict(bool)
    for event in pool.unplanned:
        jobs[event.position_id, event.job] |= event.stops
    stops: dict[int | None, int] = defaultdict(int)
    for (position, _), is_stop in jobs.items():
        stops[position] += is_stop
    return stops, len(jobs)


def _by_drive(
    may_stop: Mapping[int, Position], shares: Mapping[int, float], currency: str
) -> tuple[DriveShare, ...]:
    of_drive: dict[str, float] = defaultdict(float)
    costs: dict[str, Decimal | None] = {}
    for pk, position in may_stop.items():
        drive = position.drive
        of_drive[drive.tag] += shares[pk]
        costs[drive.tag] = drive.downtime_cost_per_hour if drive.currency == currency else None
    return tuple(
        DriveShare(drive=tag, share=of_drive[tag], cost_per_hour=costs[tag]) for tag in sorted(of_drive)
    )


def _priced(drives: tuple[DriveShare, ...], currency: str) -> Downtime | None:
    priced = [
        (Decimal(repr(one.share)), one.cost_per_hour) for one in drives if one.cost_per_hour is not None
    ]
    if not priced:
        return None
    mean = sum((share * cost for share, cost in priced), Decimal(0)) / sum(
        (share for share, _ in priced), Decimal(0)
    )
    return Downtime(
        cost_per_hour=mean.quantize(MICRO),
        currency=currency,
        stop_share=sum(one.share for one in drives),
        drives=drives,
    )
