"""Prior demand rates: what pools of one family say about the rate of one position, or of a part that no position needs."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property

from drives.demand.cover import grouped
from drives.demand.pools import DemandPools, Pool
from drives.reliability.rate_pooling import PooledRates, pool_rates
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Environment

SHORTEST_EXPOSURE_YEARS = 1e-3
HARSH = frozenset(
    {Environment.WASHDOWN, Environment.CORROSIVE, Environment.CHLORIDE, Environment.ABRASIVE, Environment.HOT}
)


@dataclass(frozen=True)
class RatePrior:
    """Of a yearly rate, worth `shape` events in `years`; for pools with positions the years are those of one position."""

    shape: float
    years: float
    family: Fact | None
    pools: int
    reason: Fact


@dataclass(frozen=True)
class RatePriors:
    """The priors of all pools; each family is fitted once, when it is first needed."""

    demand: DemandPools
    _fits: dict[Fact, PooledRates] = field(default_factory=dict)

    def prior_of(self, pool: Pool) -> RatePrior:
        """From the narrowest family that is large enough, differs beyond chance and has no pool unlike the others.

        A pool that is itself unlike each of them stands alone: the mean rate of what it does not resemble would outweigh its record.
        """
        why: Fact | None = None
        alone: Fact | None = None
        for family in self._families(pool):
            pools = self._members[family]
            if len(pools) < self.demand.settings.fewest_pools:
                continue
            rates = self._fit(family)
            if rates.cautions:
                why = why or fact(
                    "family_not_alike", family=family, caution=self._named(rates.cautions[0], pools)
                )
                alone = self._unlike(rates, pools, pool)
            elif rates.common_rate > 0:
                return _fitted(family, rates, pool, pools, self.demand.settings.prior_events)
        return self._weak(pool, why) if alone is None else self._alone(alone)

    def _families(self, pool: Pool) -> list[Fact]:
        """The families that a pool belongs to, the narrowest first."""
        if not pool.positions:
            record = self.demand.items[pool.part].specification
            return [fact("family_without_position", kind=str(record.kind) if record else "item")]
        position = pool.positions[0].position
        drive, role = position.drive, str(position.role)
        pitch_mm = None if drive.pitch_mm is None else float(drive.pitch_mm)
        surroundings = "harsh" if HARSH & set(drive.environment) else "ordinary"
        return [
            fact("family_of_pitch", role=role, pitch_mm=pitch_mm, surroundings=surroundings),
            fact("family_of_surroundings", role=role, surroundings=surroundings),
            fact("family_of_role", role=role),
            fact("family_of_all_sprockets"),
        ]

    @cached_property
    def _members(self) -> Mapping[Fact, tuple[Pool, ...]]:
        return grouped((family, pool) for pool in self.demand.pools for family in self._families(pool))

    def _fit(self, family: Fact) -> PooledRates:
        if family not in self._fits:
            pools = self._members[family]
            self._fits[family] = pool_rates(
                [len(pool.pieces_by_job) for pool in pools],
                exposure=[pool.exposure_years for pool in pools],
            )
        return self._fits[family]

    def _named(self, caution: Fact, pools: tuple[Pool, ...]) -> Fact:
        """A group by the stock number of its part."""
        if "group" not in caution.values:
            return caution
        part = pools[caution.values["group"]].part
        return fact(caution.code, **{**caution.values, "group": self.demand.items[part].stock_number})

    def _unlike(self, rates: PooledRates, pools: tuple[Pool, ...], pool: Pool) -> Fact | None:
        """What says that this pool is requested more often than the others predict."""
        for caution in rates.cautions:
            group = caution.values.get("group")
            if (
                group is not None
                and pool.includes(pools[group])
                and caution.values["rate"] > rates.common_rate
            ):
                return caution
        return None

    def _alone(self, caution: Fact) -> RatePrior:
        weight = self.demand.settings.prior_events
        reason = fact("prior_half_event_alone", events=weight, p_value=caution.values["p_value"])
        return RatePrior(weight, SHORTEST_EXPOSURE_YEARS, None, 1, reason)

    def _weak(self, pool: Pool, why: Fact | None) -> RatePrior:
        pools = self._members[self._families(pool)[-1]]
        years = sum(other.exposure_years for other in pools)
        events = sum(len(other.pieces_by_job) for other in pools)
        weight = self.demand.settings.prior_events
        why = why or fact("family_too_small_or_without_demand", pools=len(pools))
        if events:
            reason = fact("prior_half_event_at_mean_rate", events=weight, why=why)
            return RatePrior(weight, weight * years / events, None, len(pools), reason)
        # What others ran without any demand counts: else a first event elsewhere would lower the rate of this part.
        others = years - pool.exposure_years
        reason = fact("prior_half_event_in_years_of_others", events=weight, why=why, years=others)
        return RatePrior(weight, max(others, SHORTEST_EXPOSURE_YEARS), None, 0, reason)


def _fitted(
    family: Fact, rates: PooledRates, pool: Pool, pools: tuple[Pool, ...], least_events: float
) -> RatePrior:
    if rates.alpha is not None and rates.beta is not None:
        worth = {"events": rates.alpha, "years": rates.beta}
        reason = fact("prior_from_family", pools=len(pools), family=family, **worth)
        return RatePrior(rates.alpha, rates.beta, family, len(pools), reason)
    others = [other for other in pools if not pool.includes(other)]
    return RatePrior(
        max(sum(len(other.pieces_by_job) for other in others), least_events),
        max(sum(other.exposure_years for other in others), SHORTEST_EXPOSURE_YEARS),
        family,
        len(pools),
        fact("prior_from_common_rate", pools=len(pools), family=family, rate_per_year=rates.common_rate),
    )
