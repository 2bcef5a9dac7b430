"""Demand from units of known ages: the chances of failures within a lead time."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache, lru_cache

import numpy as np

from drives.reliability.lifetimes import LONGEST_HOURS
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.renewal_process import MOST_PANELS, panels_needed
from drives.reliability.renewal_windows import AgingUnits, RenewalWindows, mixture, renewal_windows
from drives.reliability.weibull import mean_life_hours
from drives.service_record.history import HOURS_PER_YEAR
from inventory.array_checks import FloatArray, number_list
from inventory.facts import Fact, fact
from inventory.number_checks import positive
from inventory.stocking.demand_models import DAYS_PER_YEAR, GivenDemand
from inventory.stocking.mixtures import gamma_lead_times

MOST_UNITS_OF_VARYING_LEAD_TIME = 1_000
"""A varying lead time needs up to two hundred windows; with more units that takes too long."""


def renewal_demand(
    ages_hours: Sequence[float],
    *,
    shape: float,
    scale_hours: float,
    hours_per_year: float,
    lead_time_days: float,
    lead_time_varies: bool = False,
    horizon_days: float = 0.0,
) -> GivenDemand:
    """Demand of positions that get a new unit whenever one ends, with Weibull lives.

    `ages_hours` are those of the units in service, at least one, with a varying lead time at most 1,000; `lead_time_varies`
    says whether other windows than the mean lead time will be needed. The chances are those of the lead time that begins now, or
    of the busiest one that begins within `horizon_days`. A year has the pieces expected in the coming 365 days,
    or one per mean life and unit where a year has too many lives to follow.

    Source: delayed renewal process, Cox, Renewal Theory, 1962; long run: its elementary renewal theorem.

    >>> demand = renewal_demand([0, 600], shape=2, scale_hours=1000, hours_per_year=7300, lead_time_days=40)
    >>> round(demand.over(40, 0).mean, 6)
    1.502541
    """
    ages = number_list("ages_hours", ages_hours, most=LONGEST_HOURS)
    if not ages.size:
        raise ValueError("`ages_hours` must hold at least one age.")
    if lead_time_varies and ages.size > MOST_UNITS_OF_VARYING_LEAD_TIME:
        raise ValueError(
            f"`ages_hours` must be {MOST_UNITS_OF_VARYING_LEAD_TIME:,} or fewer where the lead time varies."
        )
    yearly = positive("hours_per_year", hours_per_year, most=HOURS_PER_YEAR)
    pace = yearly / DAYS_PER_YEAR
    in_a_year = _pieces_in_a_year(ages, shape, scale_hours, yearly)
    described = GivenDemand(
        pmf_over=_pmf_over(ages, shape, scale_hours, pace, lead_time_days, lead_time_varies),
        rate_per_year=in_a_year,
        basis=_basis(ages, shape, scale_hours, yearly, in_a_year),
        span=lambda days: fact("holds_for_first_lead_time", lead_time_days=days),
    )
    if not horizon_days:
        return described
    units = AgingUnits(tuple((ages / pace).tolist()), shape, scale_hours / pace)
    return _until(horizon_days, units, described)


def _until(horizon_days: float, units: AgingUnits, described: GivenDemand) -> GivenDemand:
    """The busiest lead time that begins within the horizon."""

    def windows(longest_days: float) -> RenewalWindows:
        return renewal_windows([(1.0, [units])], horizon_days=horizon_days, longest_days=longest_days)

    @cache
    def law_over(mean_days: float, sd_days: float) -> FloatArray:
        days, weights = gamma_lead_times(mean_days, sd_days)
        found = windows(float(days.max()))
        start = found.busiest(mean_days)
        chances = found.chances_over(start, days.tolist())
        return mixture(list(zip(weights.tolist(), chances, strict=True)))

    def span(days: float) -> Fact:
        found = windows(days)
        start = found.busiest(days)
        return fact(
            "holds_within_horizon",
            horizon_days=horizon_days,
            from_day=round(start * found.step_days),
            pieces_then=found.expected_within(days, start),
            pieces_now=found.expected_within(days),
            pieces_in_the_long_run=found.per_day_in_the_long_run * days,
        )

    return replace(described, pmf_over=None, law_over=law_over, span=span)


def _pmf_over(
    ages: FloatArray, shape: float, scale: float, pace: float, lead_time_days: float, lead_time_varies: bool
) -> Callable[[float], FloatArray]:
    @lru_cache(maxsize=1024)
    def pmf_over(days: float) -> FloatArray:
        if lead_time_varies and panels_needed(shape, days * pace / scale) > MOST_PANELS:
            name = "lead_time_days" if days <= lead_time_days else "lead_time_sd_days"
            raise ValueError(
                f"`{name}` must be smaller: lead times of {days:,.0f} days count here, {days * pace / scale:,.0f} times"
                " the life of a unit; with a fixed lead time, or a larger `scale_hours`, there is an answer."
            )
        try:
            return forecast_renewals(ages, horizon_hours=days * pace, shape=shape, scale_hours=scale).chances
        except ValueError as error:
            if "`horizon_hours`" not in str(error):
                raise
            raise ValueError(
                f"`lead_time_days` must be shorter: {days:,.0f} days are {days * pace / scale:,.0f} times the life of a"
                " unit, too many renewals to follow."
            ) from error

    return pmf_over


def _pieces_in_a_year(ages: FloatArray, shape: float, scale: float, yearly: float) -> float:
    try:
        return forecast_renewals(ages, horizon_hours=yearly, shape=shape, scale_hours=scale).mean
    except ValueError as error:
        if "`horizon_hours`" not in str(error):
            raise
        return ages.size * yearly / mean_life_hours(shape, scale_hours=scale)


def _basis(ages: FloatArray, shape: float, scale: float, yearly: float, in_a_year: float) -> Fact:
    mean = mean_life_hours(shape, scale_hours=scale)
    return fact(
        "demand_from_unit_ages",
        units=int(ages.size),
        youngest_hours=float(np.min(ages)),
        oldest_hours=float(np.max(ages)),
        hours_per_year=yearly,
        shape=float(shape),
        scale_hours=float(scale),
        mean_life_hours=float(mean),
        pieces_next_year=float(in_a_year),
        pieces_per_year_long_run=float(ages.size * yearly / mean),
    )
