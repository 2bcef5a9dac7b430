"""The demand model that the history of a pool supports, and why: gamma-Poisson by default, Weibull or monthly demand where shown."""

from dataclasses import dataclass, field, replace
from datetime import timedelta
from functools import lru_cache
from typing import Any

from drives.demand.pools import Pool
from drives.demand.rate_priors import RatePrior
from drives.demand.wear_demand import (
    events_beyond_wear,
    shows_wear,
    sudden_pieces,
    wear_demand,
    wear_lives,
)
from drives.reliability.weibull import WeibullFit, fit_weibull
from drives.reliability.weibull_uncertainty import LikelyWeibull, likely_weibulls
from inventory.facts import Fact, fact
from inventory.planning.chain_jobs import JOB_SHARE
from inventory.stocking.demand_models import CompoundDemand, Demand, GammaPoissonDemand, IntermittentDemand

PERIODS_PER_YEAR = 12.0


@dataclass(frozen=True)
class SelectedModel:
    """A demand model with its reasons, and what it was fitted to."""

    demand: Demand | None
    model: str
    rate_per_year: float
    reasons: tuple[Fact, ...]
    evidence: dict[str, Any] = field(default_factory=dict)
    laws: tuple[LikelyWeibull, ...] = ()
    """Of the lives, where they show wear."""


def select_model(
    pool: Pool, prior: RatePrior, *, without_wear_at: frozenset[int] = frozenset()
) -> SelectedModel:
    """The model of a pool; wear at the positions named is left out, where inspections see it coming.

    Of chain it is a model of jobs.
    """
    without = without_demand(pool)
    if without is not None:
        return without
    if pool.is_chain:
        found = select_model(pool.in_jobs(), prior)
        return replace(found, reasons=(*found.reasons, *_chain_reasons(pool)))
    why_monthly = _why_monthly(pool)
    if why_monthly is not None:
        return _monthly_model(pool, why_monthly)
    fit = fit_weibull(wear_lives(pool)) if pool.positions else None
    if fit is not None and shows_wear(fit, pool.settings.fewest_worn_out):
        return _wear_model(pool, prior, fit, without_wear_at)
    return _rate_model(pool, prior, fit, without_wear_at)


def without_demand(pool: Pool) -> SelectedModel | None:
    """Of a pool that nobody needs, as most are: it needs no prior. None of any other."""
    if pool.positions or pool.unplanned:
        return None
    code = "only_planned_demand" if pool.events else "no_demand_on_record"
    found = _without_demand(code, pool.record_years)
    chain = _chain_reasons(pool)
    return replace(found, reasons=(*found.reasons, *chain)) if chain else found


@lru_cache(maxsize=64)
def _without_demand(code: str, record_years: float) -> SelectedModel:
    """One for all pools of a storeroom."""
    return SelectedModel(None, "none", 0.0, (fact(code, record_years=record_years),))


def _chain_reasons(pool: Pool) -> tuple[Fact, ...]:
    lengths = pool.chain_jobs
    return (
        () if lengths is None else (fact("chain_counted_in_jobs", **lengths.as_json(), job_share=JOB_SHARE),)
    )


def _why_monthly(pool: Pool) -> Fact | None:
    """Requested often enough to have a pattern, several pieces at once or mostly by nothing that a position explains."""
    months = len({(event.at.year, event.at.month) for event in pool.unplanned})
    if months < pool.settings.fewest_months_with_demand:
        return None
    values = {"requests": len(pool.unplanned), "record_years": pool.record_years, "months": months}
    if max(pool.pieces_of_jobs) > max(len(pool.positions), 1):
        return fact("monthly_demand_several_pieces", **values)
    others = sum(not event.is_planned for event in pool.other_events)
    if not pool.positions or 2 * others > len(pool.unplanned):
        return fact("monthly_demand_without_position", **values)
    return None


def _monthly_model(pool: Pool, why: Fact) -> SelectedModel:
    series = monthly_pieces(pool)
    method = "tsb" if _is_fading(series, pool.settings.fading_intervals) else "sba"
    demand = IntermittentDemand(series, PERIODS_PER_YEAR, method=method)  # type: ignore[arg-type]
    fading = (fact("demand_fading"),) if method == "tsb" else ()
    spread = () if demand.sizes() is None else (demand.spread_fact(),)
    reasons = (why, *spread, *fading)
    evidence = {"series": series, "periods_per_year": PERIODS_PER_YEAR, "method": method}
    return SelectedModel(demand, "intermittent", demand.yearly_pieces(0.0), reasons, evidence)


def monthly_pieces(pool: Pool) -> list[int]:
    """Unplanned pieces in each month of the record (UTC); the last is the present month so far."""
    last = pool.as_of - timedelta(microseconds=1)
    first = (pool.record_from.year, pool.record_from.month)
    count = (last.year - first[0]) * 12 + last.month - first[1] + 1
    series = [0] * count
    for event in pool.unplanned:
        series[(event.at.year - first[0]) * 12 + event.at.month - first[1]] += event.quantity
    return series


def _is_fading(series: list[int], fading_intervals: float) -> bool:
    with_demand = [month for month, pieces in enumerate(series) if pieces]
    interval = len(series) / len(with_demand)
    return len(series) - 1 - with_demand[-1] > fading_intervals * interval


def _wear_model(
    pool: Pool, prior: RatePrior, fit: WeibullFit, without_wear_at: frozenset[int]
) -> SelectedModel:
    sudden = sudden_pieces(pool)
    laws = likely_weibulls(wear_lives(pool), fit)
    demand = wear_demand(pool, prior, laws, sudden=sudden, without_wear_at=without_wear_at)
    shown = fact("wear_shown", failures=int(fit.failures), suspensions=int(fit.suspensions), **_shape(fit))
    return SelectedModel(
        demand,
        "weibull_renewal",
        demand.yearly_pieces(0.0),
        (*_mechanisms(pool), shown, prior.reason),
        {"fit": _fit_json(fit), "sudden_pieces": sudden},
        laws,
    )


def _mechanisms(pool: Pool) -> tuple[Fact, ...]:
    return (fact("no_mechanism_recorded"),) if any(life.counts_as_wear for life in pool.lives) else ()


def _shape(fit: WeibullFit) -> dict[str, float | None]:
    low, high = fit.shape_interval or (None, None)
    return {"shape": fit.shape, "shape_low": low, "shape_high": high}


def _fit_json(fit: WeibullFit) -> dict[str, Any]:
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


def _rate_model(
    pool: Pool, prior: RatePrior, fit: WeibullFit | None, without_wear_at: frozenset[int]
) -> SelectedModel:
    """Jobs at an uncertain rate, each taking as many pieces as the jobs of the record did."""
    positions = max(len(pool.positions), 1)
    jobs = GammaPoissonDemand(
        events=float(len({event.job for event in events_beyond_wear(pool, without_wear_at)})),
        exposure_years=pool.exposure_years / positions,
        prior_shape=prior.shape,
        prior_exposure_years=prior.years / positions,
    )
    pieces = sorted(pool.pieces_of_jobs)
    demand: Demand = jobs
    reasons = [*_requests(pool)]
    if pieces and pieces[-1] > 1:
        demand = CompoundDemand(jobs, pieces)
        reasons.append(fact("pieces_per_job", least=pieces[0], most=pieces[-1]))
    evidence: dict[str, Any] = {"prior": _prior_json(prior)}
    if fit is not None:
        reasons += [*_mechanisms(pool), _why_no_wear(fit, pool.settings.fewest_worn_out)]
        evidence["fit"] = _fit_json(fit)
    reasons.append(prior.reason)
    return SelectedModel(demand, "gamma_poisson", demand.yearly_pieces(0.0), tuple(reasons), evidence)


def _requests(pool: Pool) -> tuple[Fact, ...]:
    """Of its positions as they are listed, and beside them those that no listed position made."""
    others = {event.job for event in pool.other_events if not event.is_planned}
    if not pool.positions:
        named = {event.position_id for event in pool.unplanned} - {None}
        values = {"requests": len(others), "record_years": pool.record_years}
        if named:
            return (fact("requests_for_positions", positions=len(named), **values),)
        return (fact("requests_without_position", **values),)
    own = {event.job for one in pool.positions for event in one.events if not event.is_planned}
    values = {"positions": len(pool.positions), "position_years": pool.exposure_years}
    found = fact("requests_of_positions", requests=len(own), **values)
    besides = len(others - own)
    return (found, fact("requests_besides_positions", requests=besides)) if besides else (found,)


def _prior_json(prior: RatePrior) -> dict[str, Any]:
    return {
        "family": prior.family.as_json() if prior.family else None,
        "pools": prior.pools,
        "shape": prior.shape,
        "exposure_years": prior.years,
    }


def _why_no_wear(fit: WeibullFit, fewest_worn_out: int) -> Fact:
    if fit.failures < fewest_worn_out:
        return fact("too_few_worn_out", failures=int(fit.failures))
    if not fit.is_estimated:
        return fact("no_wear_distribution_fits", reason=fit.reasons[0])
    return fact("no_age_effect_shown", **_shape(fit))
