"""The unplanned demand of each position over any time: its pool's rate, or the age of the unit in service."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import astuple, dataclass
from datetime import datetime
from typing import Any

import numpy as np

from drives.demand.model_selection import SelectedModel
from drives.demand.pools import Pool
from drives.demand.rate_priors import RatePrior, RatePriors
from drives.demand.wear_demand import unit_ages
from drives.models import Position, StoredDemand
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_windows import AgingUnits, mixture, renewal_windows
from drives.reliability.weibull_uncertainty import LikelyWeibull
from inventory.array_checks import FloatArray
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.lead_time_demand import LeadTimeDemand, convolve, from_pmf

ROWS_AT_ONCE = 1_000


@dataclass(frozen=True)
class UnitInService:
    """Age of a unit, and the laws of its life that the record leaves possible."""

    age_hours: float
    hours_per_year: float
    laws: tuple[LikelyWeibull, ...]


@dataclass(frozen=True, kw_only=True)
class PositionDemand:
    """`pieces` were needed in `years` of positions of this part; the prior of its family is worth `prior_shape` in `prior_years`."""

    pieces: float
    years: float
    prior_shape: float
    prior_years: float
    unit: UnitInService | None = None
    """Where wear is shown: then `pieces` are those that wear does not explain."""

    @property
    def rate(self) -> tuple[float, ...]:
        return self.pieces, self.years, self.prior_shape, self.prior_years

    def over(self, days: float) -> LeadTimeDemand:
        return demands_over([self], days)[0]


def demands_over(demands: Iterable[PositionDemand], days: float) -> list[LeadTimeDemand]:
    """Of each; equal ones have the very same law, and units with the same laws of lives are worked out together."""
    every = list(demands)
    renewals = _renewals_over((one.unit for one in every if one.unit), days)
    found: dict[PositionDemand, LeadTimeDemand] = {}
    by_rate: dict[tuple[float, ...], LeadTimeDemand] = {}
    for one in every:
        if one in found:
            continue
        if one.rate not in by_rate:
            by_rate[one.rate] = _by_rate(one, days)
        rate = by_rate[one.rate]
        found[one] = rate if one.unit is None else convolve(rate, from_pmf(renewals[one.unit]))
    return [found[one] for one in every]


def _by_rate(demand: PositionDemand, days: float) -> LeadTimeDemand:
    prior = {"alpha": demand.prior_shape, "beta": demand.prior_years}
    horizon = days / DAYS_PER_YEAR
    return from_pmf(demand_distribution(demand.pieces, exposure=demand.years, horizon=horizon, **prior))


def _renewals_over(units: Iterable[UnitInService], days: float) -> dict[UnitInService, FloatArray]:
    """Chances of 0, 1, 2, … renewals from now, reckoned as the recommendations do."""
    alike: dict[tuple[float, tuple[LikelyWeibull, ...]], list[UnitInService]] = defaultdict(list)
    for unit in dict.fromkeys(units):
        alike[unit.hours_per_year, unit.laws].append(unit)
    found: dict[UnitInService, FloatArray] = {}
    for (hours_per_year, laws), some in alike.items():
        if days <= 0:
            found |= dict.fromkeys(some, np.ones(1))
            continue
        to_days = DAYS_PER_YEAR / hours_per_year
        ages = tuple(unit.age_hours * to_days for unit in some)
        groups = [(law.chance, [AgingUnits(ages, law.shape, law.scale_hours * to_days)]) for law in laws]
        tables = renewal_windows(groups, horizon_days=0.0, longest_days=days).chances_of_each(0, days)
        for row, unit in enumerate(some):
            found[unit] = mixture([(chance, table[row]) for chance, table in tables])
    return found


def position_demands(
    priors: RatePriors, selected: Iterable[tuple[Pool, SelectedModel]]
) -> dict[int, PositionDemand]:
    """Of every position of these pools."""
    return {
        position: demand
        for pool, model in selected
        if pool.positions
        for position, demand in _of_pool(pool, model, priors.prior_of(pool))
    }


def _of_pool(pool: Pool, selected: SelectedModel, prior: RatePrior) -> Iterator[tuple[int, PositionDemand]]:
    ages = unit_ages(pool) if selected.model == "weibull_renewal" else {}
    for one in pool.positions:
        unit = _unit_in_service(one.position, ages.get(one.position.pk), selected)
        pieces = selected.evidence["sudden_pieces"] if unit else pool.unplanned_pieces
        yield (
            one.position.pk,
            PositionDemand(
                pieces=float(pieces),
                years=pool.exposure_years,
                prior_shape=prior.shape,
                prior_years=prior.years,
                unit=unit,
            ),
        )


def _unit_in_service(
    position: Position, age_hours: float | None, selected: SelectedModel
) -> UnitInService | None:
    hours_per_year = position.drive.hours_per_year
    if age_hours is None or not hours_per_year:
        return None
    return UnitInService(age_hours, float(hours_per_year), selected.laws)


def store_demands(
    demands: Mapping[int, PositionDemand],
    *,
    positions: Collection[int],
    as_of: datetime,
    waits: Mapping[int, Any] | None = None,
    parts: Mapping[int, int] | None = None,
    unit_digests: Mapping[int, str] | None = None,
) -> None:
    """Those of these positions; without one the part of a position is not known. `waits` as they are kept."""
    rows = [_stored(position, demands.get(position), as_of) for position in sorted(positions)]
    for row in rows:
        row.waits, row.part = (waits or {}).get(row.pk), (parts or {}).get(row.pk)
        row.unit_digest = (unit_digests or {}).get(row.pk, "")
    columns = [column.name for column in StoredDemand._meta.concrete_fields if not column.primary_key]
    StoredDemand.objects.bulk_create(
        rows,
        batch_size=ROWS_AT_ONCE,
        update_conflicts=True,
        unique_fields=["position"],
        update_fields=columns,
    )


def _stored(position: int, demand: PositionDemand | None, as_of: datetime) -> StoredDemand:
    row = StoredDemand(position_id=position, as_of=as_of)
    if demand is None:
        return row
    row.pieces, row.years, row.prior_shape, row.prior_years = demand.rate
    if demand.unit is not None:
        row.age_hours, row.hours_per_year = demand.unit.age_hours, demand.unit.hours_per_year
        row.laws = [list(astuple(law)) for law in demand.unit.laws]
    return row


@dataclass(frozen=True)
class StoredDemands:
    """As the last calculation left them; `as_of` is the earliest moment of any of them."""

    of: Mapping[int, PositionDemand]
    as_of: datetime | None
    calculated: frozenset[int]
    """Positions that were looked at, also those whose part is not known."""


def stored_demands(positions: Collection[int] | None = None) -> StoredDemands:
    """Of these positions, None: all; one query."""
    rows = StoredDemand.objects.order_by("position")
    found = list(rows if positions is None else rows.filter(position__in=positions))
    return StoredDemands(
        of={row.pk: _demand_of(row) for row in found if row.pieces is not None},
        as_of=min((row.as_of for row in found), default=None),
        calculated=frozenset(row.pk for row in found),
    )


def demands_of_parts(parts: Collection[int]) -> dict[int, dict[int, PositionDemand]]:
    """By part and position; one query."""
    found: dict[int, dict[int, PositionDemand]] = defaultdict(dict)
    for row in StoredDemand.objects.filter(part__in=parts).order_by("position"):
        assert row.part is not None
        found[row.part][row.pk] = _demand_of(row)
    return found


def _demand_of(row: StoredDemand) -> PositionDemand:
    unit = None
    if row.age_hours is not None:
        laws = tuple(LikelyWeibull(*law) for law in row.laws)
        unit = UnitInService(row.age_hours, row.hours_per_year or 0.0, laws)
    return PositionDemand(
        pieces=row.pieces or 0.0,
        years=row.years or 0.0,
        prior_shape=row.prior_shape or 0.0,
        prior_years=row.prior_years or 0.0,
        unit=unit,
    )
