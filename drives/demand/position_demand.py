"""The unplanned demand of each position over any time: its pool's rate, or the age of the unit in service."""

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, time

import numpy as np
from django.core.cache import cache

from drives.demand.model_selection import SelectedModel, select_model
from drives.demand.pools import Pool, load_demand_pools
from drives.demand.rate_priors import RatePrior, RatePriors
from drives.demand.wear_demand import unit_ages
from drives.models import Position
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_windows import AgingUnits, renewal_windows
from drives.reliability.weibull_uncertainty import LikelyWeibull
from inventory.array_checks import FloatArray
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.lead_time_demand import LeadTimeDemand, convolve, from_pmf

CACHED_SECONDS = 3_600
"""Years of history are behind it: an hour more changes nothing that a person would see."""


@dataclass(frozen=True)
class UnitInService:
    """Age of a unit, and the laws of its life that the record leaves possible."""

    age_hours: float
    hours_per_year: float
    laws: tuple[LikelyWeibull, ...]

    def renewals_over(self, days: float) -> FloatArray:
        """Chances of 0, 1, 2, … renewals from now, reckoned as the recommendations do."""
        if days <= 0:
            return np.ones(1)
        to_days = DAYS_PER_YEAR / self.hours_per_year
        age = (self.age_hours * to_days,)
        laws = [(law.chance, [AgingUnits(age, law.shape, law.scale_hours * to_days)]) for law in self.laws]
        return renewal_windows(laws, horizon_days=0.0, longest_days=days).chances(0, days)


@dataclass(frozen=True)
class PositionDemand:
    """`pieces` were needed in `years` of positions of this part; the prior of its family is added."""

    position_id: int
    pieces: float
    years: float
    prior: RatePrior
    unit: UnitInService | None = None
    """Where wear is shown: then `pieces` are those that wear does not explain."""

    def over(self, days: float) -> LeadTimeDemand:
        horizon = days / DAYS_PER_YEAR
        prior = {"alpha": self.prior.shape, "beta": self.prior.years}
        by_rate = from_pmf(demand_distribution(self.pieces, exposure=self.years, horizon=horizon, **prior))
        return by_rate if self.unit is None else convolve(by_rate, from_pmf(self.unit.renewals_over(days)))


def position_demands(
    priors: RatePriors, selected: Iterable[tuple[Pool, SelectedModel]]
) -> dict[int, PositionDemand]:
    """Of every position of these pools."""
    return {
        one.position.pk: _position_demand(pool, one.position, model, priors.prior_of(pool))
        for pool, model in selected
        for one in pool.positions
    }


def _position_demand(
    pool: Pool, position: Position, selected: SelectedModel, prior: RatePrior
) -> PositionDemand:
    unit = _unit_in_service(pool, position, selected) if selected.model == "weibull_renewal" else None
    pieces = selected.evidence["sudden_pieces"] if unit else pool.unplanned_pieces
    return PositionDemand(position.pk, float(pieces), pool.exposure_years, prior, unit)


def _unit_in_service(pool: Pool, position: Position, selected: SelectedModel) -> UnitInService | None:
    hours_per_year = position.drive.hours_per_year
    age_hours = unit_ages(pool).get(position.pk)
    if age_hours is None or not hours_per_year:
        return None
    return UnitInService(age_hours, float(hours_per_year), selected.laws)


def cached_position_demands(
    at: datetime, positions: Collection[int], *, worst_grade: str
) -> dict[int, PositionDemand]:
    """Of these positions, seen from the beginning of the day (UTC); without those whose part is not known.

    The whole history is read where one of them is not cached yet, and nothing where all are.
    """
    day = datetime.combine(at.astimezone(UTC).date(), time.min, UTC)
    name = f"position-demand-{day:%Y-%m-%d}-{worst_grade}"
    known: dict[int, PositionDemand | None] = cache.get(name, {})
    missing = frozenset(positions) - known.keys()
    if missing:
        known |= dict.fromkeys(missing) | _calculated(day, missing, worst_grade)
        cache.set(name, known, CACHED_SECONDS)
    return {position: demand for position in positions if (demand := known[position]) is not None}


def _calculated(day: datetime, positions: frozenset[int], worst_grade: str) -> dict[int, PositionDemand]:
    """Models are selected only for the pools that these positions belong to."""
    demand = load_demand_pools(day, worst_grade=worst_grade)
    priors = RatePriors(demand)
    pools = [pool for pool in demand.pools if positions & pool.position_ids]
    return position_demands(priors, ((pool, select_model(pool, priors.prior_of(pool))) for pool in pools))
