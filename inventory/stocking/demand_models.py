"""The demand models of one item: each gives its yearly pieces, its distribution over a lead time, and a fact that describes it."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike
from scipy import special

from inventory.array_checks import FloatArray, demand_series
from inventory.facts import Fact, fact
from inventory.number_checks import SMALLEST_QUANTITY, fraction, not_negative, number, positive, whole
from inventory.stocking import mixtures
from inventory.stocking.intermittent import SMOOTHING, classify, croston_rates, sba_rates, tsb_rates
from inventory.stocking.lead_time_demand import (
    MOST_JOBS_FOLLOWED,
    TAIL_MASS,
    LeadTimeDemand,
    compound_of_seen,
    from_pmf,
    negative_binomial,
)

Method = Literal["croston", "sba", "tsb"]
METHODS: tuple[Method, ...] = get_args(Method)

DAYS_PER_YEAR = 365.0
"""A year of this service. Source: the API contract."""

LARGEST_RATE_PER_YEAR = 1e6
"""Rates above it are refused. Source: the API contract."""

MOST_PIECES_PER_DEMAND = 100_000
"""Largest demand of one period that is accepted; the distribution of the sizes is written out to it."""

MOST_DEMANDS_FOLLOWED = 10.0
"""Demands in a lead time, its spread counted, up to which they are looked at one by one; more are spread as usual."""

SPREAD_LEVEL = 0.05
"""Chance below which the record's own spread speaks against the negative binomial: common practice, no source."""

UNDESCRIBED = fact("demand_given")


@dataclass(frozen=True, slots=True)
class PoissonDemand:
    """Single pieces at a known, constant rate."""

    rate_per_year: float

    def __post_init__(self) -> None:
        not_negative("rate_per_year", self.rate_per_year, most=LARGEST_RATE_PER_YEAR)

    def yearly_pieces(self, lead_time_days: float) -> float:
        return float(self.rate_per_year)

    def over(self, lead_time_days: float, lead_time_sd_days: float, tail_mass: float) -> LeadTimeDemand:
        lead_time = lead_time_days / DAYS_PER_YEAR, lead_time_sd_days / DAYS_PER_YEAR
        return mixtures.gamma_lead_time(float(self.rate_per_year), *lead_time, tail_mass=tail_mass)

    def sizes(self) -> FloatArray | None:
        return None

    def as_fact(self) -> Fact:
        return fact("demand_poisson", rate_per_year=float(self.rate_per_year))


@dataclass(frozen=True, slots=True)
class GammaPoissonDemand:
    """Single pieces at a rate known only from few events and from what comparable items showed before."""

    events: float
    exposure_years: float
    prior_shape: float
    prior_exposure_years: float

    def __post_init__(self) -> None:
        not_negative("events", self.events)
        not_negative("exposure_years", self.exposure_years)
        positive("prior_shape", self.prior_shape, least=SMALLEST_QUANTITY)
        positive("prior_exposure_years", self.prior_exposure_years, least=SMALLEST_QUANTITY)
        number("rate_per_year", self.yearly_pieces(0.0), most=LARGEST_RATE_PER_YEAR)

    @property
    def shape(self) -> float:
        return float(self.prior_shape + self.events)

    @property
    def exposure(self) -> float:
        return float(self.prior_exposure_years + self.exposure_years)

    def yearly_pieces(self, lead_time_days: float) -> float:
        return self.shape / self.exposure

    def over(self, lead_time_days: float, lead_time_sd_days: float, tail_mass: float) -> LeadTimeDemand:
        lead_time = lead_time_days / DAYS_PER_YEAR, lead_time_sd_days / DAYS_PER_YEAR
        return mixtures.gamma_poisson(self.shape, self.exposure, *lead_time, tail_mass=tail_mass)

    def sizes(self) -> FloatArray | None:
        return None

    def as_fact(self) -> Fact:
        return fact(
            "demand_gamma_poisson",
            events=float(self.events),
            exposure_years=float(self.exposure_years),
            prior_events=float(self.prior_shape),
            prior_exposure_years=float(self.prior_exposure_years),
            rate_per_year=self.yearly_pieces(0.0),
        )


@dataclass(frozen=True, slots=True, eq=False)
class CompoundDemand:
    """Jobs at an uncertain rate, each taking as many pieces as one of the jobs seen did; both rest on few jobs, and that counts."""

    jobs: GammaPoissonDemand
    pieces: Sequence[int]

    def __post_init__(self) -> None:
        for pieces in self.pieces or (0,):
            whole("pieces", pieces, least=1, most=MOST_PIECES_PER_DEMAND)

    def yearly_pieces(self, lead_time_days: float) -> float:
        return self.jobs.yearly_pieces(lead_time_days) * sum(self.pieces) / len(self.pieces)

    def over(
        self, lead_time_days: float, lead_time_sd_days: float, tail_mass: float = TAIL_MASS
    ) -> LeadTimeDemand:
        jobs = self.jobs.over(lead_time_days, lead_time_sd_days, max(tail_mass, TAIL_MASS))
        return from_pmf(compound_of_seen(jobs.pmf, self.pieces))

    def sizes(self) -> FloatArray | None:
        return np.asarray(np.bincount(self.pieces) / len(self.pieces))

    def as_fact(self) -> Fact:
        return fact(
            "demand_compound",
            jobs_per_year=self.jobs.yearly_pieces(0.0),
            jobs=len(self.pieces),
            least=min(self.pieces),
            most=max(self.pieces),
            rate_per_year=self.yearly_pieces(0.0),
        )


@dataclass(frozen=True, slots=True, eq=False)
class GivenDemand:
    """A distribution worked out elsewhere, such as the renewals of units of known ages (Weibull).

    `pmf` holds over the mean lead time. Where the lead time varies, `pmf_over` must be given instead: it gives the chances over
    so many days; or `law_over`, which gives them over a lead time with a mean and a standard deviation of so many days. Without
    `rate_per_year` a year has the demand of the lead time in proportion. `basis` describes where it comes from.
    `piece_sizes[k]` is the share of demands for k pieces, where not all take one.
    """

    pmf: ArrayLike | None = None
    pmf_over: Callable[[float], ArrayLike] | None = None
    law_over: Callable[[float, float], ArrayLike] | None = None
    rate_per_year: float | None = None
    basis: Fact = UNDESCRIBED
    piece_sizes: ArrayLike | None = None
    span: Callable[[float], Fact] | None = None
    """For how long the chances over such a lead time hold, where they change with the ages of units."""
    long_run: "GivenDemand | None" = None
    """The demand after that, when today's ages no longer matter."""
    made_from: object = None
    """What can make it again, for whoever stores it."""

    def __post_init__(self) -> None:
        if sum(one is not None for one in (self.pmf, self.pmf_over, self.law_over)) != 1:
            raise ValueError("`pmf`, `pmf_over` or `law_over` must be given, and only one of them")
        if self.pmf is not None:
            from_pmf(self.pmf)
        if self.rate_per_year is not None:
            not_negative("rate_per_year", self.rate_per_year, most=LARGEST_RATE_PER_YEAR)
        if self.piece_sizes is not None:
            positive("piece_sizes", from_pmf(self.piece_sizes).mean)

    def yearly_pieces(self, lead_time_days: float) -> float:
        if self.rate_per_year is not None:
            return float(self.rate_per_year)
        return self.over(lead_time_days, 0.0).mean * DAYS_PER_YEAR / lead_time_days

    def over(
        self, lead_time_days: float, lead_time_sd_days: float, tail_mass: float = TAIL_MASS
    ) -> LeadTimeDemand:
        if self.law_over is not None:
            return from_pmf(self.law_over(lead_time_days, lead_time_sd_days))
        if self.pmf_over is not None:
            return mixtures.over_gamma_lead_time(self.pmf_over, lead_time_days, lead_time_sd_days)
        if self.pmf is None or lead_time_sd_days > 0:
            raise ValueError("`lead_time_sd_days` must be 0 where `pmf` is given for the mean lead time only")
        return from_pmf(self.pmf)

    def sizes(self) -> FloatArray | None:
        return None if self.piece_sizes is None else np.asarray(self.piece_sizes, dtype=np.float64)

    def as_fact(self) -> Fact:
        return self.basis


@dataclass(frozen=True, slots=True, eq=False)
class IntermittentDemand:
    """Demand known only as pieces per period: its rate by the method named, its spread from the record.

    Negative binomial with the forecast rate and the record's own variance per period (divisor n-1), Poisson where that does
    not exceed the mean. Where the record has more periods without demand than that allows, its demands are few and large: then
    they come at a rate as uncertain as their number makes it, and each takes as many pieces as one of those on record.
    """

    series: Sequence[float]
    periods_per_year: float
    method: Method = "sba"
    alpha: float = SMOOTHING
    _record: FloatArray = field(init=False, repr=False)

    def __post_init__(self) -> None:
        record = demand_series("series", self.series)
        if (record != np.floor(record)).any() or record.max() > MOST_PIECES_PER_DEMAND:
            raise ValueError(
                f"`series` must hold whole pieces, at most {MOST_PIECES_PER_DEMAND:,} in a period"
            )
        if self.method not in METHODS:
            raise ValueError(f"`method` must be one of {', '.join(METHODS)}, got {self.method!r}")
        positive("periods_per_year", self.periods_per_year)
        fraction("alpha", self.alpha)
        object.__setattr__(self, "_record", record)
        number("rate_per_year", self.yearly_pieces(0.0), most=LARGEST_RATE_PER_YEAR)

    @property
    def per_period(self) -> float:
        """Forecast pieces per period."""
        record = self._record[None, :]
        if self.method == "tsb":
            rates = tsb_rates(record, alpha_size=self.alpha, alpha_probability=self.alpha)
        else:
            rates = (croston_rates if self.method == "croston" else sba_rates)(record, self.alpha)
        return float(rates[0])

    def yearly_pieces(self, lead_time_days: float) -> float:
        return self.per_period * self.periods_per_year

    def over(self, lead_time_days: float, lead_time_sd_days: float, tail_mass: float) -> LeadTimeDemand:
        pace = self.periods_per_year / DAYS_PER_YEAR
        periods, spread = lead_time_days * pace, lead_time_sd_days * pace
        per_period = self.per_period
        if self.demands_are_few_and_large:
            jobs = self._demands_over(periods, spread, max(tail_mass, TAIL_MASS))
            if jobs is not None:
                return from_pmf(compound_of_seen(jobs.pmf, self._demands))
        variance = max(self._variance, per_period) * periods + (per_period * spread) ** 2
        return negative_binomial(per_period * periods, variance, tail_mass=tail_mass)

    @property
    def _demands(self) -> list[int]:
        return [int(pieces) for pieces in self._record if pieces > 0]

    def _demands_over(self, periods: float, spread: float, tail_mass: float) -> LeadTimeDemand | None:
        """None where a lead time may see more demands than can be followed one by one."""
        mean = len(self._demands) * self.per_period * periods / sum(self._demands)
        if mean * (1 + (spread / periods) ** 2) > MOST_DEMANDS_FOLLOWED:
            return None
        exposure = sum(self._demands) / self.per_period
        jobs = mixtures.gamma_poisson(len(self._demands), exposure, periods, spread, tail_mass=tail_mass)
        return jobs if len(jobs) <= MOST_JOBS_FOLLOWED else None

    @property
    def _variance(self) -> float:
        return float(self._record.var(ddof=1)) if len(self._record) > 1 else 0.0

    @property
    def demands_are_few_and_large(self) -> bool:
        return self.per_period > 0 and self.sizes() is not None and self.spread_test()[2] < SPREAD_LEVEL

    def spread_test(self) -> tuple[int, float, float]:
        """Periods without demand, those that the negative binomial expects, and the chance of so many or more under it.

        Source: the zero class as a test of a count distribution, Rao & Chakravarti 1956, Biometrics 12 (from memory).
        """
        periods, none = len(self._record), int((self._record == 0).sum())
        share = float(negative_binomial(float(self._record.mean()), self._variance).pmf[0])
        chance = 1.0 if none == 0 else float(special.betainc(none, periods - none + 1, share))
        return none, share * periods, chance

    def spread_fact(self) -> Fact:
        """Which distribution the record supports, by the test."""
        none, expected, chance = self.spread_test()
        code = "spread_few_and_large" if self.demands_are_few_and_large else "spread_negative_binomial"
        return fact(code, periods_without=none, expected_without=expected, p_value=chance)

    def sizes(self) -> FloatArray | None:
        demands = self._record[self._record > 0].astype(np.int64)
        if not demands.size or demands.max() == 1:
            return None
        return np.asarray(np.bincount(demands) / demands.size)

    def as_fact(self) -> Fact:
        record = classify(self._record[None, :])
        if record.demand_class[0] == "no_demand":
            return fact("no_demand_in_record", periods=len(self._record))
        return fact(
            "demand_intermittent",
            periods_with_demand=int((self._record > 0).sum()),
            periods=len(self._record),
            demand_class=str(record.demand_class[0]),
            interval_periods=float(record.interval[0]),
            size_cv2=float(record.size_cv2[0]),
            method=self.method,
            rate_per_year=self.yearly_pieces(0.0),
        )


Demand = PoissonDemand | GammaPoissonDemand | CompoundDemand | GivenDemand | IntermittentDemand
