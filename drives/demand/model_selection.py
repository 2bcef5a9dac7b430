"""Which model the history of a pool can carry, and why: gamma-Poisson every day, Weibull and series where they earn it."""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import lru_cache
from typing import Any

import numpy as np

from drives.demand.families import (
    Prior,
    exposure_years,
    pieces_by_event,
    unplanned_events,
)
from drives.demand.pools import DAYS_PER_YEAR, Pool
from drives.demand.request_matching import SAME_NEED, Asking
from drives.demand.unit_lives import Life
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.rate_pooling import demand_distribution
from drives.reliability.renewal_forecast import forecast_renewals
from drives.reliability.weibull import WeibullFit, fit_weibull
from inventory.array_checks import FloatArray
from inventory.stocking.demand_models import Demand, GammaPoissonDemand, GivenDemand, IntermittentDemand
from inventory.stocking.lead_time_demand import TAIL_MASS, compound, convolve, from_pmf

FEWEST_WORN_OUT = 5
"""Worn-out ends below which a shape is not believed; the interval says the rest."""
FEWEST_IN_A_SERIES = 4
"""Months with a demand below which a series has no pattern."""
PERIODS_PER_YEAR = 12.0
QUIET_INTERVALS = 3.0
"""A part not asked for in so many of its usual intervals may be going out of use."""


@dataclass(frozen=True)
class Choice:
    """A demand model with its reasons, and what it was fitted to."""

    demand: Demand | None
    model: str
    rate_per_year: float
    reasons: tuple[str, ...]
    evidence: dict[str, Any] = field(default_factory=dict)


def choose(pool: Pool, prior: Prior, *, without_wear_at: frozenset[int] = frozenset()) -> Choice:
    """The model of a pool; wear at the positions named is left out, where inspections see it coming."""
    if not pool.places and not pool.unplanned:
        return _nobody_asks(pool)
    if _is_a_series(pool):
        return _series(pool)
    fit = fit_weibull(_wear_lives(pool)) if pool.places else None
    if fit is not None and _earns(fit):
        return _weibull(pool, prior, fit, without_wear_at)
    return _gamma_poisson(pool, prior, fit, without_wear_at)


def _nobody_asks(pool: Pool) -> Choice:
    planned = " but for planned work" if pool.asked else ""
    return Choice(
        None,
        "none",
        0.0,
        (
            f"No position served from here asks for it, and nobody asked for it here in {pool.record_years:.3g} years of"
            f" record{planned}.",
        ),
    )


def _is_a_series(pool: Pool) -> bool:
    """Asked for often enough to have a pattern, several pieces at once or mostly by nothing that a position explains."""
    if _months_asked(pool) < FEWEST_IN_A_SERIES:
        return False
    several = max(pieces_by_event(pool).values()) > max(len(pool.places), 1)
    loose = sum(not asking.is_planned for asking in pool.loose)
    return several or not pool.places or 2 * loose > len(pool.unplanned)


def _months_asked(pool: Pool) -> int:
    return len({(asking.at.year, asking.at.month) for asking in pool.unplanned})


def _series(pool: Pool) -> Choice:
    series = monthly(pool)
    method = "tsb" if _is_going_quiet(series) else "sba"
    demand = IntermittentDemand(series, PERIODS_PER_YEAR, method=method)  # type: ignore[arg-type]
    reasons = [
        f"It was asked for {len(pool.unplanned)} times in {pool.record_years:.3g} years, in {_months_asked(pool)} different"
        " months, several pieces at once or by no position: the series of months is looked at."
    ]
    if method == "tsb":
        reasons.append("It has not been asked for as long as usual: it may be going out of use (TSB fades).")
    return Choice(
        demand,
        "intermittent",
        demand.yearly_pieces(0.0),
        tuple(reasons),
        {"series": series, "periods_per_year": PERIODS_PER_YEAR, "method": method},
    )


def monthly(pool: Pool) -> list[int]:
    """Unplanned pieces in each month of the record (UTC), the present one, as far as it has come, being the last."""
    last = pool.as_of - timedelta(microseconds=1)
    first = (pool.record_from.year, pool.record_from.month)
    count = (last.year - first[0]) * 12 + last.month - first[1] + 1
    series = [0] * count
    for asking in pool.unplanned:
        series[(asking.at.year - first[0]) * 12 + asking.at.month - first[1]] += asking.quantity
    return series


def _is_going_quiet(series: list[int]) -> bool:
    asked = [month for month, pieces in enumerate(series) if pieces]
    interval = len(series) / len(asked)
    return len(series) - 1 - asked[-1] > QUIET_INTERVALS * interval


def _usable(pool: Pool) -> list[Life]:
    return [life for life in pool.lives if life.hours is not None and life.hours > 0]


def _wear_lives(pool: Pool) -> Lifetimes:
    """Lives against wear: an end of another kind is a life that could have gone on."""
    usable = _usable(pool)
    return right_censored(
        [life.hours or 0.0 for life in usable], observed=[life.is_worn_out for life in usable]
    )


def _earns(fit: WeibullFit) -> bool:
    if not fit.is_estimated or fit.shape_interval is None:
        return False
    return fit.failures >= FEWEST_WORN_OUT and fit.shape_interval[0] > 1.0


def _weibull(pool: Pool, prior: Prior, fit: WeibullFit, without_wear_at: frozenset[int]) -> Choice:
    ages = _ages(pool, without_wear_at)
    sudden = _sudden_pieces(pool)
    demand = GivenDemand(
        pmf_over=_law_over(pool, prior, fit, ages, sudden),
        rate_per_year=None,
    )
    rate = demand.over(DAYS_PER_YEAR, 0.0).mean
    demand = GivenDemand(pmf_over=demand.pmf_over, rate_per_year=rate)
    low, high = fit.shape_interval or (0.0, 0.0)
    reasons = (
        *_together_words(pool),
        f"{fit.failures:.0f} units wore out and {fit.suspensions:.0f} lives went on: enough for a law of lives, and the"
        f" shape {fit.shape:.3g} ({low:.3g} to {high:.3g}) lies above 1, so age matters.",
        prior.sentence,
    )
    return Choice(demand, "weibull_renewal", rate, reasons, {"fit": _fit_facts(fit), "sudden_pieces": sudden})


def _together_words(pool: Pool) -> tuple[str, ...]:
    if not any(life.is_taken_as_wear for life in pool.lives):
        return ()
    return ("No end of a unit names what ended it, so all ends are taken together.",)


def _ages(pool: Pool, without_wear_at: frozenset[int]) -> dict[float, list[float]]:
    """Ages of the units that sit there now, by the yearly hours of their drives."""
    ages: dict[float, list[float]] = defaultdict(list)
    for life in _usable_running(pool):
        place = next(place for place in pool.places if place.position.pk == life.position_id)
        if place.position.pk not in without_wear_at:
            ages[float(place.position.drive.hours_per_year or 0)].append(float(life.hours or 0.0))
    return {hours: sorted(found) for hours, found in sorted(ages.items())}


def _usable_running(pool: Pool) -> list[Life]:
    return [life for life in pool.lives if life.is_running and life.hours is not None]


def _sudden_pieces(pool: Pool) -> int:
    """Pieces asked for without a plan that no worn-out life explains."""
    return sum(asking.quantity for asking in _beyond_wear(pool, frozenset(_places(pool))))


def _places(pool: Pool) -> list[int]:
    return [place.position.pk for place in pool.places]


def _beyond_wear(pool: Pool, places: frozenset[int]) -> list[Asking]:
    """Unplanned askings, less a piece of its own for each life that wore out at the places named."""
    left = list(pool.unplanned)
    for life in pool.lives:
        if life.is_worn_out and life.position_id in places and life.removed_at is not None:
            own = [index for index, asking in enumerate(left) if asking.quantity and _renews(asking, life)]
            if own:
                index = min(own, key=lambda index: _nearness(left[index], life))
                left[index] = replace(left[index], quantity=left[index].quantity - 1)
    return [asking for asking in left if asking.quantity]


def _renews(asking: Asking, life: Life) -> bool:
    if asking.work_order and life.work_order:
        return asking.work_order == life.work_order and asking.position_id in (None, life.position_id)
    return asking.position_id == life.position_id and _nearness(asking, life)[1] <= SAME_NEED


def _nearness(asking: Asking, life: Life) -> tuple[bool, timedelta]:
    return asking.position_id is None, abs(asking.at - (life.removed_at or asking.at))


def _law_over(
    pool: Pool, prior: Prior, fit: WeibullFit, ages: dict[float, list[float]], sudden: int
) -> Callable[[float], FloatArray]:
    shape, scale = float(fit.shape or 1.0), float(fit.scale_hours or 1.0)
    exposure, places = exposure_years(pool), len(pool.places)

    @lru_cache(maxsize=1024)
    def law(days: float) -> FloatArray:
        years = days / DAYS_PER_YEAR
        laws = [
            from_pmf(
                demand_distribution(
                    sudden,
                    exposure=exposure,
                    horizon=years * places,
                    alpha=prior.shape,
                    beta=prior.years,
                )
            )
        ]
        for hours_per_year, found in ages.items():
            if hours_per_year > 0:
                worn = forecast_renewals(
                    found, horizon_hours=years * hours_per_year, shape=shape, scale_hours=scale
                )
                laws.append(from_pmf(worn.chances))
        return np.asarray(convolve(*laws).pmf)

    return law


def _fit_facts(fit: WeibullFit) -> dict[str, Any]:
    return {
        "shape": fit.shape,
        "scale_hours": fit.scale_hours,
        "shape_interval": list(fit.shape_interval) if fit.shape_interval else None,
        "scale_interval_hours": list(fit.scale_interval_hours) if fit.scale_interval_hours else None,
        "mean_life_hours": fit.mean_life_hours,
        "failures": fit.failures,
        "suspensions": fit.suspensions,
        "verdict": fit.verdict,
        "reasons": [reason.as_json() for reason in fit.reasons],
    }


def _gamma_poisson(
    pool: Pool, prior: Prior, fit: WeibullFit | None, without_wear_at: frozenset[int]
) -> Choice:
    events = float(len({asking.event for asking in _beyond_wear(pool, without_wear_at)}))
    places = max(len(pool.places), 1)
    single = GammaPoissonDemand(
        events=events,
        exposure_years=exposure_years(pool) / places,
        prior_shape=prior.shape,
        prior_exposure_years=prior.years / places,
    )
    pieces = sorted(pieces_by_event(pool).values())
    several = bool(pieces) and pieces[-1] > 1
    demand = _several_at_once(single, pieces) if several else single
    reasons = [_asked_words(pool)]
    if several:
        reasons.append(
            f"One job took {_span(pieces)} pieces: jobs are counted, and their pieces laid over them."
        )
    if fit is not None:
        reasons += [*_together_words(pool), _why_no_shape(fit)]
    reasons.append(prior.sentence)
    evidence: dict[str, Any] = {"prior": _prior_facts(prior)}
    if fit is not None:
        evidence["fit"] = _fit_facts(fit)
    return Choice(demand, "gamma_poisson", demand.yearly_pieces(0.0), tuple(reasons), evidence)


def _span(pieces: list[int]) -> str:
    return f"{pieces[0]}" if pieces[0] == pieces[-1] else f"{pieces[0]} to {pieces[-1]}"


def _prior_facts(prior: Prior) -> dict[str, Any]:
    return {
        "family": prior.family,
        "pools": prior.pools,
        "shape": prior.shape,
        "exposure_years": prior.years,
    }


def _several_at_once(jobs: GammaPoissonDemand, pieces: list[int]) -> GivenDemand:
    """Jobs at their uncertain rate, each taking as many pieces as the jobs of the record did."""
    sizes = np.bincount(pieces) / len(pieces)

    @lru_cache(maxsize=1024)
    def law(days: float) -> FloatArray:
        return compound(jobs.over(days, 0.0, TAIL_MASS).pmf, sizes)

    return GivenDemand(
        pmf_over=law,
        rate_per_year=jobs.yearly_pieces(0.0) * sum(pieces) / len(pieces),
        piece_sizes=sizes,
    )


def _asked_words(pool: Pool) -> str:
    events = unplanned_events(pool)
    times = "never" if events == 0 else "once" if events == 1 else f"{events} times"
    if not pool.places:
        return f"No position asks for it; by record {times} without a plan in {pool.record_years:.3g} years."
    count = len(pool.places)
    where = "Its 1 position" if count == 1 else f"Its {count} positions together"
    return f"{where} asked for it {times} without a plan in {pool.position_years:.3g} position-years."


def _why_no_shape(fit: WeibullFit) -> str:
    if fit.failures < FEWEST_WORN_OUT:
        return f"{fit.failures:.0f} units are known to have worn out: too few for a law of lives, so the events are counted."
    if not fit.is_estimated:
        return f"No Weibull distribution fits the lives ({fit.reasons[0].code.replace('_', ' ')}), so the events are counted."
    low, high = fit.shape_interval or (0.0, 0.0)
    return f"The lives do not say that age matters (shape {fit.shape:.3g}, {low:.3g} to {high:.3g}), so the events are counted."
