"""What waiting for parts cost while the record ran: what an expected downtime is held against."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from math import fsum

from inventory.facts import Fact, fact
from inventory.planning.shelf_demand import money


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedWaits:
    """Of stops for which no piece was there, each from its request to the issue of the part."""

    since: date
    until: date
    stops: int = 0
    """Jobs on record that stopped the drive, whether their parts were there or not."""
    waits: int = 0
    hours_per_year: float = 0.0
    cost_per_year: Decimal = Decimal(0)
    """At what an hour of the drive costs today."""
    not_known: int = 0
    """Waits whose end is not on record; they count no hours."""
    without_price: int = 0
    """Waits of drives without a price in this currency; they count no money."""


def added_up(waits: Iterable[RecordedWaits]) -> RecordedWaits | None:
    """Over the time from the first to the last day of any of them; None of nothing."""
    found = list(waits)
    if not found:
        return None
    return RecordedWaits(
        since=min(one.since for one in found),
        until=max(one.until for one in found),
        stops=sum(one.stops for one in found),
        waits=sum(one.waits for one in found),
        hours_per_year=fsum(one.hours_per_year for one in found),
        cost_per_year=money(sum((one.cost_per_year for one in found), Decimal(0))),
        not_known=sum(one.not_known for one in found),
        without_price=sum(one.without_price for one in found),
    )


def against_record(
    recorded: RecordedWaits | None,
    *,
    cost: Decimal,
    of_recorded_stops: Decimal,
    without_stock: Decimal,
    currency: str,
) -> tuple[Fact, ...]:
    """Why the downtime expected of a year is not what the record shows; nothing where there is no record."""
    if recorded is None:
        return ()
    money_of = {"currency": currency}
    span = {"since": recorded.since.isoformat(), "until": recorded.until.isoformat()}
    more = cost - of_recorded_stops
    stops = {"stops": recorded.stops, "cost_of_recorded_stops": str(of_recorded_stops), **span, **money_of}
    found = (
        fact("downtime_of_a_year", cost=str(cost), cost_without_stock=str(without_stock), **money_of),
        fact("more_stops_than_recorded", cost_not_seen=str(more), **stops)
        if more >= 0
        else fact("fewer_stops_than_recorded", cost_too_much=str(-more), **stops),
        fact("waits_on_record", waits=recorded.waits, cost=str(recorded.cost_per_year), **money_of),
    )
    missing = {
        "recorded_waits_without_end": recorded.not_known,
        "recorded_waits_without_price": recorded.without_price,
    }
    return *found, *(fact(code, waits=waits) for code, waits in missing.items() if waits)
