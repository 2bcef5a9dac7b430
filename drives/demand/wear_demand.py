"""Demand from wear: the lives of a pool's units, and the renewals to come from the ages of those in service."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta
from functools import lru_cache

import numpy as np

from drives.demand.pools import Pool
from drives.demand.rate_priors import RatePrior
from drives.demand.request_matching import SAME_NEED, DemandEvent
from drives.lessons.unit_lives import UnitLife
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.weibull import WeibullFit
from inventory.array_checks import FloatArray
from inventory.stocking.demand_models import DAYS_PER_YEAR
from inventory.stocking.lead_time_demand import convolve, from_pmf

FEWEST_WORN_OUT = 5
"""Worn-out ends below which a shape is not used, whatever its interval."""


def wear_lives(pool: Pool) -> Lifetimes:
    """Lives against wear: an end of another kind is a life that could have gone on."""
    usable = [
        (life.hours, life.is_worn_out) for life in pool.lives if life.hours is not None and life.hours > 0
    ]
    return right_censored([hours for hours, _ in usable], observed=[worn_out for _, worn_out in usable])


def shows_wear(fit: WeibullFit) -> bool:
    if not fit.is_estimated or fit.shape_interval is None:
        return False
    return fit.failures >= FEWEST_WORN_OUT and fit.shape_interval[0] > 1.0


def sudden_pieces(pool: Pool) -> int:
    """Unplanned pieces that no worn-out life explains."""
    return sum(event.quantity for event in events_beyond_wear(pool, pool.position_ids))


def events_beyond_wear(pool: Pool, positions: frozenset[int]) -> list[DemandEvent]:
    """Unplanned events, less a piece of its own for each life that wore out at these positions."""
    left = list(pool.unplanned)
    for life in pool.lives:
        if life.is_worn_out and life.position_id in positions and life.removed_at is not None:
            own = [index for index, event in enumerate(left) if event.quantity and _renews(event, life)]
            if own:
                index = min(own, key=lambda index: _nearness(left[index], life))
                left[index] = replace(left[index], quantity=left[index].quantity - 1)
    return [event for event in left if event.quantity]


def _renews(event: DemandEvent, life: UnitLife) -> bool:
    if event.work_order and life.work_order:
        return event.work_order == life.work_order and event.position_id in (None, life.position_id)
    return event.position_id == life.position_id and _nearness(event, life)[1] <= SAME_NEED


def _nearness(event: DemandEvent, life: UnitLife) -> tuple[bool, timedelta]:
    return event.position_id is None, abs(event.at - (life.removed_at or event.at))


def wear_demand(
    pool: Pool, prior: RatePrior, fit: WeibullFit, *, sudden: int, without_wear_at: frozenset[int]
) -> Callable[[float], FloatArray]:
    """Chances of 0, 1, 2, … pieces over so many days: renewals by age, and sudden demand at its own rate beside them."""
    shape, scale = float(fit.shape or 1.0), float(fit.scale_hours or 1.0)
    exposure, positions = pool.exposure_years, len(pool.positions)
    ages = _ages(pool, without_wear_at)

    @lru_cache(maxsize=1024)
    def pmf_over(days: float) -> FloatArray:
        years = days / DAYS_PER_YEAR
        rest = demand_distribution(
            sudden, exposure=exposure, horizon=years * positions, alpha=prior.shape, beta=prior.years
        )
        demands = [from_pmf(rest)]
        for hours_per_year, found in ages.items():
            horizon = years * hours_per_year
            renewals = forecast_renewals(found, horizon_hours=horizon, shape=shape, scale_hours=scale)
            demands.append(from_pmf(renewals.chances))
        return np.asarray(convolve(*demands).pmf)

    return pmf_over


def unit_ages(pool: Pool) -> dict[int, float]:
    """Running hours of each position's unit; where the last one for good came off, of the new one that has to follow."""
    ages: dict[int, float | None] = {}
    for life in pool.lives:
        if life.is_running:
            ages[life.position_id] = life.hours
        else:
            ages.setdefault(life.position_id, 0.0)
    return {position: hours for position, hours in ages.items() if hours is not None}


def _ages(pool: Pool, without_wear_at: frozenset[int]) -> dict[float, list[float]]:
    """Ages of the units, by the yearly hours of their drives."""
    yearly = {one.position.pk: float(one.position.drive.hours_per_year or 0) for one in pool.positions}
    ages: dict[float, list[float]] = defaultdict(list)
    for position, hours in unit_ages(pool).items():
        if position not in without_wear_at:
            ages[yearly[position]].append(hours)
    return {hours: sorted(found) for hours, found in sorted(ages.items()) if hours > 0}
