"""What a position costs in a year for lack of parts, as the budget has it, and beside it what the record shows."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from inventory.facts import Fact
from inventory.planning.budget_frontier import DriveDowntime, PartDowntime
from inventory.planning.recorded_waits import RecordedWaits, added_up, against_record


@dataclass(frozen=True, kw_only=True)
class PositionYear:
    """In the currency of the stocking terms; over all positions it adds up to the downtime of the budget."""

    downtime_hours_per_year: float
    downtime_cost_per_year: Decimal
    cost_of_recorded_stops: Decimal
    cost_without_stock: Decimal
    """Of parts of which nothing is in stock or on order."""
    recorded: RecordedWaits | None


def position_years(
    by_drive: Iterable[DriveDowntime], recorded: Mapping[str, RecordedWaits]
) -> dict[str, PositionYear]:
    """By tag, of the positions that the budget or the record knows."""
    parts: dict[str, list[PartDowntime]] = defaultdict(list)
    for row in by_drive:
        for part in row.parts:
            parts[part.position].append(part)
    return {tag: _year(parts[tag], recorded.get(tag)) for tag in sorted({*parts, *recorded})}


def _year(parts: Iterable[PartDowntime], recorded: RecordedWaits | None) -> PositionYear:
    known = list(parts)
    return PositionYear(
        downtime_hours_per_year=sum(part.downtime_hours_per_year for part in known),
        downtime_cost_per_year=_sum(part.downtime_cost_per_year for part in known),
        cost_of_recorded_stops=_sum(part.cost_of_recorded_stops for part in known),
        cost_without_stock=_sum(part.downtime_cost_per_year for part in known if not part.stock),
        recorded=recorded,
    )


def year_of_all(years: Iterable[PositionYear]) -> PositionYear:
    """Of these positions together."""
    known = list(years)
    return PositionYear(
        downtime_hours_per_year=sum(one.downtime_hours_per_year for one in known),
        downtime_cost_per_year=_sum(one.downtime_cost_per_year for one in known),
        cost_of_recorded_stops=_sum(one.cost_of_recorded_stops for one in known),
        cost_without_stock=_sum(one.cost_without_stock for one in known),
        recorded=added_up(one.recorded for one in known if one.recorded),
    )


def explained(year: PositionYear, currency: str) -> tuple[Fact, ...]:
    return against_record(
        year.recorded,
        cost=year.downtime_cost_per_year,
        of_recorded_stops=year.cost_of_recorded_stops,
        without_stock=year.cost_without_stock,
        currency=currency,
    )


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
