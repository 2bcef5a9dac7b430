"""What a stop for lack of a part costs: each job at the drive that it is for, and only where it stops that drive."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import NamedTuple

from drives.demand.pools import Pool
from drives.models import Position
from inventory.planning.policy_inputs import Downtime, DriveShare

JOBS_TO_COME = 1.0
"""Jobs added to those on record and spread over all positions: one that never stopped may be the next. Judgement."""

MICRO = Decimal("0.000001")


class PricedPosition(NamedTuple):
    """A position, with what an hour of its drive costs today."""

    tag: str
    drive: str
    cost_per_hour: Decimal | None
    currency: str


def load_priced_positions() -> dict[int, PricedPosition]:
    """Every position; one query."""
    columns = ("tag", "drive__tag", "drive__downtime_cost_per_hour", "drive__currency")
    return {
        row[0]: PricedPosition(*row[1:]) for row in Position.objects.order_by().values_list("pk", *columns)
    }


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
    shares = (
        DriveShare(
            drive=position.drive.tag,
            position=position.tag,
            share=weights[pk] * scale,
            cost_per_hour=position.drive.downtime_cost_per_hour
            if position.drive.currency == currency
            else None,
            recorded_per_year=stops[pk] / pool.record_years,
        )
        for pk, position in may_stop.items()
    )
    return priced(tuple(sorted(shares, key=lambda one: (one.drive, one.position))), currency)


def _stops(pool: Pool) -> tuple[dict[int | None, int], int]:
    """Unplanned jobs that stopped a drive, by position, and all unplanned jobs."""
    jobs: dict[tuple[int | None, tuple[str, str]], bool] = defaultdict(bool)
    for event in pool.unplanned:
        jobs[event.position_id, event.job] |= event.stops
    stops: dict[int | None, int] = defaultdict(int)
    for (position, _), is_stop in jobs.items():
        stops[position] += is_stop
    return stops, len(jobs)


def downtime_at(
    shares: Iterable[tuple[int, float, float]], places: Mapping[int, PricedPosition], currency: str
) -> Downtime | None:
    """Of stored shares: position, share of the jobs, and such stops on record in a year."""
    drives = (
        DriveShare(
            drive=place.drive,
            position=place.tag,
            share=share,
            cost_per_hour=place.cost_per_hour if place.currency == currency else None,
            recorded_per_year=recorded,
        )
        for pk, share, recorded in shares
        if (place := places.get(pk))
    )
    return priced(tuple(sorted(drives, key=lambda one: (one.drive, one.position))), currency)


def priced(drives: tuple[DriveShare, ...], currency: str) -> Downtime | None:
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
