"""Demand from wear: the lives of a pool's units, and the renewals to come from the ages of those in service."""

import math
from collections import defaultdict
from dataclasses import dataclass, replace
from datetime import timedelta
from functools import cache, cached_property, lru_cache, partial

import numpy as np

from drives.demand.cover import grouped
from drives.demand.pools import Pool
from drives.demand.rate_priors import RatePrior
from drives.demand.request_matching import DemandEvent, within
from drives.lessons.unit_lives import UnitLife
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_windows import AgingUnits, RenewalWindows, mixture, renewal_windows
from drives.reliability.weibull import WeibullFit
from drives.reliability.weibull_uncertainty import LikelyWeibull
from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.planning.stocking_decision import REVIEW_DAYS
from inventory.stocking.demand_models import DAYS_PER_YEAR, Demand, GivenDemand
from inventory.stocking.mixtures import gamma_lead_times
from inventory.stores.lead_times import LeadTime


def wear_lives(pool: Pool) -> Lifetimes:
    """Lives against wear: an end of another kind is a life that could have gone on."""
    usable = [
        (life.hours, life.is_worn_out) for life in pool.lives if life.hours is not None and life.hours > 0
    ]
    return right_censored([hours for hours, _ in usable], observed=[worn_out for _, worn_out in usable])


def shows_wear(fit: WeibullFit, fewest_worn_out: int) -> bool:
    if not fit.is_estimated or fit.shape_interval is None:
        return False
    return fit.failures >= fewest_worn_out and fit.shape_interval[0] > 1.0


def sudden_pieces(pool: Pool) -> int:
    """Unplanned pieces that no worn-out life explains."""
    return sum(event.quantity for event in events_beyond_wear(pool, pool.position_ids))


def events_beyond_wear(pool: Pool, positions: frozenset[int]) -> list[DemandEvent]:
    """Unplanned events, less a piece of its own for each life that wore out at these positions."""
    left, span = list(pool.unplanned), pool.settings.same_need
    of_order = grouped((event.work_order, place) for place, event in enumerate(left))
    of_position = grouped((event.position_id, place) for place, event in enumerate(left))
    for life in pool.lives:
        if life.is_worn_out and life.position_id in positions and life.removed_at is not None:
            near = within(
                of_position.get(life.position_id, ()), life.removed_at, span, key=lambda place: left[place].at
            )
            places = {*near, *(of_order.get(life.work_order, ()) if life.work_order else ())}
            own = [
                index for index in sorted(places) if left[index].quantity and renews(left[index], life, span)
            ]
            if own:
                index = min(own, key=lambda index: _nearness(left[index], life))
                left[index] = replace(left[index], quantity=left[index].quantity - 1)
    return [event for event in left if event.quantity]


def renews(event: DemandEvent, life: UnitLife, span: timedelta) -> bool:
    if event.work_order and life.work_order:
        return event.work_order == life.work_order and event.position_id in (None, life.position_id)
    return event.position_id == life.position_id and _nearness(event, life)[1] <= span


def _nearness(event: DemandEvent, life: UnitLife) -> tuple[bool, timedelta]:
    return event.position_id is None, abs(event.at - (life.removed_at or event.at))


def wear_demand(
    pool: Pool,
    prior: RatePrior,
    laws: tuple[LikelyWeibull, ...],
    *,
    sudden: int,
    without_wear_at: frozenset[int],
) -> GivenDemand:
    """Renewals by age, and sudden demand at its own rate beside them, as far as the record leaves both open.

    What is promised has to hold until levels are reviewed: of the lead times that begin before, the one with most renewals counts.
    """
    pool_of_units = AgingPool(
        laws=laws,
        units=tuple(
            RunningUnits(yearly, tuple(ages)) for yearly, ages in _ages(pool, without_wear_at).items()
        ),
        positions=len(pool.positions),
        exposure_years=pool.exposure_years,
        sudden=sudden,
        prior_shape=prior.shape,
        prior_years=prior.years,
    )
    return pool_of_units.demand()


Laws = tuple[tuple[float, tuple[AgingUnits, ...]], ...]


# A few megabytes each; all that is asked of a pool is asked in a row, and for most of them of one or two.
@lru_cache(maxsize=4)
def _windows(laws: Laws, years: int) -> RenewalWindows:
    return renewal_windows(laws, horizon_days=REVIEW_DAYS, longest_days=years * DAYS_PER_YEAR)


def look_ahead(demand: Demand | None, lead: LeadTime | None) -> None:
    """Work out what a recommendation will ask for this lead time, while the windows of these units are at hand."""
    if not isinstance(demand, GivenDemand) or lead is None:
        return
    for one in (demand, demand.long_run):
        if one is not None:
            one.over(lead.mean_days, lead.sd_days)
    if demand.span is not None:
        demand.span(lead.mean_days)


@dataclass(frozen=True)
class RunningUnits:
    """Ages of the units in service of drives that run so many hours a year."""

    hours_per_year: float
    ages_hours: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class WorkedOut:
    """What was asked of the demand of an aging pool for one lead time; without `chances` there is no answer, or no lead time."""

    rate_per_year: float
    mean_days: float = 0.0
    sd_days: float = 0.0
    chances: tuple[float, ...] = ()
    span: Fact | None = None


@dataclass(frozen=True, kw_only=True)
class AgingPool:
    """All that the demand of units with the same laws of lives is worked out from."""

    laws: tuple[LikelyWeibull, ...]
    units: tuple[RunningUnits, ...]
    positions: int
    exposure_years: float
    sudden: int
    prior_shape: float
    prior_years: float

    def demand(self) -> GivenDemand:
        year, sudden = self.windows(DAYS_PER_YEAR), self.sudden_per_year
        long_run = GivenDemand(
            law_over=cache(partial(self.chances_over, is_long_run=True)),
            rate_per_year=year.per_day_in_the_long_run * DAYS_PER_YEAR + sudden,
        )
        return GivenDemand(
            law_over=cache(self.chances_over),
            rate_per_year=year.expected_within(DAYS_PER_YEAR) + sudden,
            span=cache(self.span) if self.units else None,
            long_run=long_run if self.units else None,
            made_from=self,
        )

    def demand_worked_out(self, known: WorkedOut) -> GivenDemand:
        """The same without its long run; for the lead time that is known no renewals are followed again."""

        @cache
        def law_over(mean_days: float, sd_days: float) -> FloatArray:
            if known.chances and (mean_days, sd_days) == (known.mean_days, known.sd_days):
                return np.array(known.chances)
            return self.chances_over(mean_days, sd_days)

        @cache
        def span(days: float) -> Fact:
            return known.span if known.span and days == known.mean_days else self.span(days)

        return GivenDemand(
            law_over=law_over,
            rate_per_year=known.rate_per_year,
            span=span if self.units else None,
            made_from=self,
        )

    def chances_over(self, mean_days: float, sd_days: float, *, is_long_run: bool = False) -> FloatArray:
        days, weights = gamma_lead_times(mean_days, sd_days)
        windows = self.windows(float(days.max()))
        start = None if is_long_run else windows.busiest(mean_days)
        renewals = windows.chances_over(start, days.tolist())
        parts = zip(weights.tolist(), renewals, days.tolist(), strict=True)
        return mixture(
            [(weight, np.convolve(one, self._sudden_chances(span))) for weight, one, span in parts]
        )

    def span(self, lead_time_days: float) -> Fact:
        windows = self.windows(lead_time_days)
        start, sudden = windows.busiest(lead_time_days), self.sudden_per_year * lead_time_days / DAYS_PER_YEAR
        return fact(
            "holds_until_review",
            review_days=REVIEW_DAYS,
            from_day=round(start * windows.step_days),
            pieces_then=windows.expected_within(lead_time_days, start) + sudden,
            pieces_now=windows.expected_within(lead_time_days) + sudden,
            pieces_in_the_long_run=windows.per_day_in_the_long_run * lead_time_days + sudden,
        )

    def windows(self, longest_days: float) -> RenewalWindows:
        """For windows of so many days; whole years doubled, so that a few serve every lead time."""
        doublings = max(0, math.ceil(math.log2(longest_days / DAYS_PER_YEAR)))
        return _windows(self._laws, 2**doublings)

    @cached_property
    def _laws(self) -> Laws:
        return tuple((law.chance, self._units(law)) for law in self.laws)

    def _units(self, law: LikelyWeibull) -> tuple[AgingUnits, ...]:
        return tuple(
            AgingUnits(
                tuple(age * DAYS_PER_YEAR / one.hours_per_year for age in one.ages_hours),
                law.shape,
                law.scale_hours * DAYS_PER_YEAR / one.hours_per_year,
            )
            for one in self.units
        )

    @property
    def sudden_per_year(self) -> float:
        known = self.prior_years + self.exposure_years
        return self.positions * (self.prior_shape + self.sudden) / known

    def _sudden_chances(self, days: float) -> FloatArray:
        return demand_distribution(
            self.sudden,
            exposure=self.exposure_years,
            horizon=days / DAYS_PER_YEAR * self.positions,
            alpha=self.prior_shape,
            beta=self.prior_years,
        )


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
