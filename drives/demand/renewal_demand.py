"""Units of known ages as the demand of one item: the chances to fail within a lead time, as stocking takes them."""

from collections.abc import Callable, Sequence
from functools import lru_cache

import numpy as np

from drives.reliability.lifetimes import LONGEST_HOURS
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.renewal_process import MOST_PANELS, panels_needed
from drives.reliability.weibull import mean_life_hours
from inventory.array_checks import FloatArray, number_list
from inventory.facts import Fact, fact
from inventory.number_checks import positive
from inventory.stocking.demand_models import DAYS_PER_YEAR, GivenDemand

HOURS_PER_YEAR = 8760.0
"""A year of this service. Source: the API contract."""

MOST_UNITS_OF_VARYING_LEAD_TIME = 1_000
"""A varying lead time asks for up to two hundred windows; with more units that is no answer to wait for."""


def renewal_demand(
    ages_hours: Sequence[float],
    *,
    shape: float,
    scale_hours: float,
    hours_per_year: float,
    lead_time_days: float,
    lead_time_varies: bool = False,
) -> GivenDemand:
    """What positions ask for that get a new unit whenever one ends, lives being Weibull.

    Parameters
    ----------
    ages_hours : sequence of float
        Present ages of the units installed [h], 0 to 1e7, at least one; with a varying lead time at most 1,000.
    shape : float
        Shape [-], 0.1 to 1000.
    scale_hours : float
        Scale [h], above 0.
    hours_per_year : float
        Hours run in a year of 365 days [h], above 0, at most 8,760.
    lead_time_days : float
        Mean lead time [days], above 0.
    lead_time_varies : bool
        Whether the law will be asked for over windows of other lengths too.

    Returns
    -------
    GivenDemand
        Law over any window; a year asks for the pieces expected in the coming 365 days from these ages, renewals
        included, or at the long-run pace of one per mean life where a year is too many lives to follow.

    Raises
    ------
    ValueError
        If a value is out of range; the message names it. `lead_time_days` or `lead_time_sd_days` where the lead time
        is too many lives.

    Source
    ------
    Delayed renewal process, Cox, Renewal Theory, 1962; long run: its elementary renewal theorem.

    Examples
    --------
    >>> demand = renewal_demand([0, 600], shape=2, scale_hours=1000, hours_per_year=7300, lead_time_days=40)
    >>> round(demand.over(40, 0).mean, 6)
    1.502541
    """
    ages = number_list("ages_hours", ages_hours, most=LONGEST_HOURS)
    if not ages.size:
        raise ValueError("`ages_hours` must name the age of a unit at least.")
    if lead_time_varies and ages.size > MOST_UNITS_OF_VARYING_LEAD_TIME:
        raise ValueError(
            f"`ages_hours` must be {MOST_UNITS_OF_VARYING_LEAD_TIME:,} or fewer where the lead time varies."
        )
    yearly = positive("hours_per_year", hours_per_year, most=HOURS_PER_YEAR)
    pace = yearly / DAYS_PER_YEAR
    in_a_year = _pieces_in_a_year(ages, shape, scale_hours, yearly)
    return GivenDemand(
        pmf_over=_law_over(ages, shape, scale_hours, pace, lead_time_days, lead_time_varies),
        rate_per_year=in_a_year,
        basis=_basis(ages, shape, scale_hours, yearly, in_a_year),
    )


def _law_over(
    ages: FloatArray, shape: float, scale: float, pace: float, lead_time_days: float, lead_time_varies: bool
) -> Callable[[float], FloatArray]:
    @lru_cache(maxsize=1024)
    def law(days: float) -> FloatArray:
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

    return law


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
