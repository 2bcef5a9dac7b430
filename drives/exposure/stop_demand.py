"""What positions ask for, worked out once a day for those that somebody asks about, and kept for an hour."""

from collections.abc import Collection
from datetime import UTC, datetime, time
from typing import Protocol

from django.core.cache import cache

from drives.demand.demand_windows import PositionAsk, asks_of
from drives.demand.families import Families
from drives.demand.model_selection import choose
from drives.demand.pools import gather
from inventory.stocking.lead_time_demand import LeadTimeDemand

ASKS_KEPT_SECONDS = 3_600
"""It rests on years of history: an hour more changes nothing that a person would see."""


class Ask(Protocol):
    """Pieces that a position asks for without a plan."""

    def over(self, days: float) -> LeadTimeDemand: ...


def asks_of_the_day(at: datetime, positions: Collection[int], *, worst_grade: str) -> dict[int, Ask]:
    """Of these positions, seen from the beginning of the day (UTC); left out where the part of one is not known.

    All of the plant's history is read where one of them is new, and nothing where all are known.
    """
    day = datetime.combine(at.astimezone(UTC).date(), time.min, UTC)
    name = f"position-asks-{day:%Y-%m-%d}-{worst_grade}"
    known: dict[int, PositionAsk | None] = cache.get(name, {})
    missing = frozenset(positions) - known.keys()
    if missing:
        known |= dict.fromkeys(missing) | _worked_out(day, missing, worst_grade)
        cache.set(name, known, ASKS_KEPT_SECONDS)
    return {position: ask for position in positions if (ask := known[position]) is not None}


def _worked_out(day: datetime, positions: frozenset[int], worst_grade: str) -> dict[int, PositionAsk]:
    """The model of those pools alone that these positions belong to."""
    plant = gather(day, worst_grade=worst_grade)
    families = Families(plant)
    pools = [pool for pool in plant.pools if any(place.position.pk in positions for place in pool.places)]
    return asks_of(plant, families, ((pool, choose(pool, families.prior_of(pool))) for pool in pools))
