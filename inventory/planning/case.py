"""One recommendation's whole input, and what the shelf has to answer for it."""

from dataclasses import dataclass, replace
from decimal import Decimal
from functools import cached_property, lru_cache

import numpy as np
from scipy import special

from inventory.array_checks import FloatArray
from inventory.number_checks import positive
from inventory.planning.facts import Emergency, ItemFacts, LeadTime, Levels
from inventory.planning.need import Need
from inventory.planning.terms import Target, Terms
from inventory.planning.words import figure
from inventory.stocking.demand_models import Demand, GivenDemand
from inventory.stocking.evaluate import COST_TAIL_MASS, LONGEST_LEAD_TIME_DAYS, SHORTEST_LEAD_TIME_DAYS
from inventory.stocking.lead_time_demand import MOST_PIECES, DistributionTooLongError, LeadTimeDemand

NOTICE_SHARE = 0.95
"""Wear counts as seen in time if this share of all deliveries comes within its notice: start value, no source."""

AS_GOOD_AS_FIXED = 1e-4
"""Spread over mean below which a lead time's quantile is its mean, to the fourth digit."""


@dataclass(frozen=True, kw_only=True)
class Case:
    need: Need
    lead_time: LeadTime | None
    terms: Terms
    target: Target
    facts: ItemFacts
    today: Levels | None = None
    emergency: Emergency | None = None
    """By past ones; counts where the terms name no hours."""
    kept_as: str = ""
    """Stock number of the member that is kept in this one's place."""

    @property
    def hours_to_expedite(self) -> float | None:
        if self.terms.hours_to_expedite is not None:
            return self.terms.hours_to_expedite
        return self.emergency.hours if self.emergency else None

    @property
    def expedite_basis(self) -> str:
        if self.terms.hours_to_expedite is not None or self.emergency is None:
            return "as the terms say"
        return self.emergency.sentence[:1].lower() + self.emergency.sentence[1:].rstrip(".")

    @property
    def order_cost(self) -> Decimal | None:
        """Of one order, where it is in the currency of the price."""
        return self.terms.order_cost if self.terms.currency == self.facts.currency else None

    @property
    def downtime_per_hour(self) -> Decimal | None:
        """In the currency of the price; None where it is not known in it."""
        downtime = self.need.downtime
        known = downtime is not None and downtime.currency == self.facts.currency
        return downtime.cost_per_hour if downtime is not None and known else None

    @cached_property
    def not_priced(self) -> tuple[str, ...]:
        """What has to be entered before holding can be weighed against downtime."""
        missing = []
        if self.facts.price is None:
            missing.append(f"unit_cost of {self.facts.stock_number}")
        if self.downtime_per_hour is None:
            missing.append(f"downtime_cost_per_hour of its drives, in {self.facts.currency}")
        if self.hours_to_expedite is None:
            missing.append("hours_to_expedite in the stocking terms")
        return tuple(missing)


@dataclass(frozen=True, kw_only=True, eq=False)
class Asked:
    """The demand that the shelf has to answer, with its law over a lead time."""

    demand: Demand
    law: LeadTimeDemand
    rate_per_year: float
    sentences: tuple[str, ...] = ()
    is_sudden_alone: bool = False

    @cached_property
    def sizes(self) -> FloatArray | None:
        return self.demand.sizes()

    @cached_property
    def pieces_per_job(self) -> float:
        """Of the jobs that ask for it; a drive stops once, however many pieces its job lacks."""
        return 1.0 if self.sizes is None else float(np.dot(np.arange(len(self.sizes)), self.sizes))


def late_delivery_days(lead_time: LeadTime) -> float:
    """The lead time that 19 of 20 deliveries keep, by the gamma law of its mean and spread."""
    mean, sd = lead_time.mean_days, lead_time.sd_days
    if sd <= mean * AS_GOOD_AS_FIXED:
        return mean
    shape = (mean / sd) ** 2
    return float(special.gammaincinv(shape, NOTICE_SHARE) * sd**2 / mean)


def asked_of(case: Case) -> Asked | None:
    """None where no demand or no lead time is known; ValueError where no law can be worked out."""
    need, lead_time = case.need, case.lead_time
    if need.demand is None or lead_time is None:
        return None
    demand, sentences, sudden = _to_shelve(case, lead_time)
    demand = _remembered(demand)
    days = positive("lead_time_days", lead_time.mean_days, most=LONGEST_LEAD_TIME_DAYS)
    days = max(days, SHORTEST_LEAD_TIME_DAYS)
    try:
        law = demand.over(days, lead_time.sd_days, COST_TAIL_MASS)
    except DistributionTooLongError:
        raise ValueError(f"the demand over a lead time may pass {MOST_PIECES:,} pieces") from None
    return Asked(
        demand=demand,
        law=law,
        rate_per_year=float(demand.yearly_pieces(days)),
        sentences=sentences,
        is_sudden_alone=sudden,
    )


def _remembered(demand: Demand) -> Demand:
    """A law worked out elsewhere is dear: each window of it is asked for once."""
    if isinstance(demand, GivenDemand) and demand.pmf_over is not None:
        return replace(demand, pmf_over=lru_cache(maxsize=None)(demand.pmf_over))
    return demand


def _to_shelve(case: Case, lead_time: LeadTime) -> tuple[Demand, tuple[str, ...], bool]:
    need = case.need
    assert need.demand is not None
    notice, sudden = need.notice, need.sudden_demand
    if notice is None or sudden is None:
        return need.demand, (), False
    late, planning = late_delivery_days(lead_time), case.terms.planning_days
    seen = f"Inspections see {100 * notice.wear_share:.0f} % of the demand coming, {notice.notice_days:.0f} days ahead"
    takes = f"an order takes up to {late:.0f} days and {figure(planning)} more to be sent"
    if notice.notice_days <= late + planning:
        return (
            need.demand,
            (f"{seen}; that is too short, as {takes}: the shelf answers for wear too.",),
            False,
        )
    dates = tuple(f"Order for {place} by {day}." for place, day in notice.order_by)
    kept = (
        f"{seen}, and {takes}: worn parts are ordered when they are seen, the shelf is for the sudden rest."
    )
    return sudden, (kept, *dates), True
