"""The demand that stock has to meet over a lead time, and what levels achieve against it."""

from dataclasses import asdict, dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from functools import cached_property, lru_cache
from typing import Any

import numpy as np

from inventory.array_checks import FloatArray
from inventory.facts import Fact, fact
from inventory.number_checks import positive
from inventory.planning.policy_inputs import PolicyLevels, RecommendationInput
from inventory.stocking.demand_models import DAYS_PER_YEAR, Demand, GivenDemand
from inventory.stocking.evaluate import COST_TAIL_MASS, LONGEST_LEAD_TIME_DAYS, SHORTEST_LEAD_TIME_DAYS
from inventory.stocking.lead_time_demand import MOST_PIECES, DistributionTooLongError, LeadTimeDemand
from inventory.stocking.service_levels import ServiceProfile
from inventory.stores.lead_times import LeadTime

LARGEST_MONEY = Decimal("999999999999.99")
"""The columns of money hold no more."""

WORTH_NAMING = 0.02
"""Share by which the long run has to need more before it is named: own choice, no source."""


@dataclass(frozen=True, kw_only=True, eq=False)
class ShelfDemand:
    """The demand that is met from stock, with its distribution over a lead time."""

    demand: Demand
    law: LeadTimeDemand
    """Over the lead time that the levels are made for: where units age, the busiest before the next review."""
    rate_per_year: float
    days: float
    pieces_of_jobs: float | None = None
    """Mean pieces of the jobs on record: a demand by the month holds those of several."""
    above_average: float = 0.0
    """Pieces by which that lead time expects more than the average one."""
    facts: tuple[Fact, ...] = ()

    @property
    def pipeline(self) -> float:
        """Pieces that are away on average, to be replaced."""
        return self.rate_per_year * self.days / DAYS_PER_YEAR

    @cached_property
    def sizes(self) -> FloatArray | None:
        return self.demand.sizes()

    @cached_property
    def pieces_per_job(self) -> float:
        """Mean pieces of one job; a drive stops once, however many pieces its job lacks."""
        if self.sizes is None:
            return 1.0
        if self.pieces_of_jobs is not None:
            return self.pieces_of_jobs
        return float(np.dot(np.arange(len(self.sizes)), self.sizes))


def shelf_demand(given: RecommendationInput) -> ShelfDemand | None:
    """None where no demand or no lead time is known; ValueError where it cannot be calculated."""
    demand, lead_time = given.need.demand, given.lead_time
    if demand is None or lead_time is None:
        return None
    demand, facts = _less_wear_seen_in_time(given, demand, lead_time)
    demand = _cached(demand)
    days = positive("lead_time_days", lead_time.mean_days, most=LONGEST_LEAD_TIME_DAYS)
    days = max(days, SHORTEST_LEAD_TIME_DAYS)
    try:
        law = demand.over(days, lead_time.sd_days, COST_TAIL_MASS)
    except DistributionTooLongError:
        raise ValueError(f"the demand over a lead time may pass {MOST_PIECES:,} pieces") from None
    rate, above_average = float(demand.yearly_pieces(days)), 0.0
    if isinstance(demand, GivenDemand) and demand.span is not None:
        facts = (*facts, demand.span(days))
        above_average = max(law.mean - rate * days / DAYS_PER_YEAR, 0.0)
    elif rate > 0:
        facts = (*facts, fact("holds_every_year"))
    return ShelfDemand(
        demand=demand,
        law=law,
        rate_per_year=rate,
        pieces_of_jobs=given.need.pieces_per_job,
        above_average=above_average,
        days=days,
        facts=facts,
    )


def cannot_be_calculated(error: Exception) -> Fact:
    return fact("cannot_be_calculated", message=str(error).replace("`", "").removesuffix("."))


def _cached(demand: Demand) -> Demand:
    """A given distribution is expensive and is needed for the same windows again and again."""
    if isinstance(demand, GivenDemand) and demand.pmf_over is not None:
        return replace(demand, pmf_over=lru_cache(maxsize=None)(demand.pmf_over))
    return demand


def _less_wear_seen_in_time(
    given: RecommendationInput, demand: Demand, lead_time: LeadTime
) -> tuple[Demand, tuple[Fact, ...]]:
    notice, sudden = given.need.notice, given.need.sudden_demand
    if notice is None or sudden is None:
        return demand, ()
    late, planning = lead_time.late_days, given.terms.planning_days
    days = {
        "wear_share": notice.wear_share,
        "notice_days": notice.notice_days,
        "late_delivery_days": late,
        "planning_days": planning,
    }
    if notice.notice_days <= late + planning:
        return demand, (fact("wear_notice_too_short", **days),)
    dates = (fact("order_for_position", **date._asdict()) for date in notice.order_by)
    return sudden, (fact("wear_notice_in_time", **days), *dates)


@dataclass(frozen=True, slots=True, kw_only=True)
class AchievedService:
    """Shares between 0 and 1; pieces are averages over time; money in the currency of the price."""

    fill_rate: float
    cycle_service_level: float
    expected_stockouts_per_year: float
    mean_on_hand: float
    pieces_per_job: float
    tied_up: Decimal | None
    holding_cost_per_year: Decimal | None

    @property
    def shortages_per_year(self) -> float:
        """Jobs that are short of a piece."""
        return self.expected_stockouts_per_year / self.pieces_per_job

    def as_json(self, levels: PolicyLevels) -> dict[str, Any]:
        plain = {
            name: str(value) if isinstance(value, Decimal) else value for name, value in asdict(self).items()
        }
        return levels.as_json() | plain


def achieved_service(
    given: RecommendationInput, demand: ShelfDemand, levels: PolicyLevels
) -> AchievedService:
    """With the same demand and lead time for all levels that are compared; of chain, levels and pieces are links."""
    unfilled, cycle, on_hand, links = 1.0, 0.0, 0.0, given.links_per_job
    if levels.stocked:
        kept = levels.in_jobs(links)
        profile = ServiceProfile(
            demand.law, kept.order_up_to - kept.reorder_point, demand.sizes, most=kept.reorder_point
        )
        unfilled = float(profile.unfilled[kept.reorder_point + 1])
        on_hand = float(profile.on_hand[kept.reorder_point + 1]) + demand.above_average
        cycle = demand.law.chance_within(kept.reorder_point)
    price = given.price
    tied_up = None if price is None else float(price) * on_hand
    return AchievedService(
        fill_rate=1.0 - unfilled,
        cycle_service_level=cycle,
        expected_stockouts_per_year=demand.rate_per_year * unfilled * links,
        mean_on_hand=on_hand * links,
        pieces_per_job=demand.pieces_per_job * links,
        tied_up=None if tied_up is None else money(tied_up),
        holding_cost_per_year=None if tied_up is None else money(tied_up * given.terms.holding_rate_per_year),
    )


def service_in_the_long_run(
    given: RecommendationInput, demand: ShelfDemand, levels: PolicyLevels
) -> AchievedService | None:
    """What the same levels achieve once today's ages of units no longer matter, where more is requested then."""
    later = demand.demand.long_run if isinstance(demand.demand, GivenDemand) else None
    if later is None or given.lead_time is None or not levels.stocked:
        return None
    rate = later.yearly_pieces(demand.days)
    if rate * demand.days / DAYS_PER_YEAR <= demand.law.mean * (1 + WORTH_NAMING):
        return None
    law = later.over(demand.days, given.lead_time.sd_days, COST_TAIL_MASS)
    return achieved_service(
        given, ShelfDemand(demand=later, law=law, rate_per_year=rate, days=demand.days), levels
    )


def money(value: float | Decimal) -> Decimal:
    """An amount, rounded once; ValueError where it is more than can be stored."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(value))
    if exact > LARGEST_MONEY:
        raise ValueError(f"`unit_cost` and the stock come to more money than can be stored, {exact:.3g}")
    return exact.quantize(Decimal("0.01"), ROUND_HALF_UP)
