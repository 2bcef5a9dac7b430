"""Prior demand rates: what pools of one family say about the rate of one position, or of a part that no position needs."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property

from drives.demand.cover import grouped
from drives.demand.pools import DemandPools, Pool, PoolKey
from drives.reliability.rate_pooling import PooledRates, pool_rates
from inventory.facts import Fact, fact
from inventory.interchange.vocabulary import Environment

SHORTEST_EXPOSURE_YEARS = 1e-3
PARTS_OF_A_YEAR = 2**1074
"""The smallest double is one of them."""
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
class _Family:
    """The pools of one family, added up once; no order of the pools makes a difference."""

    pools: tuple[Pool, ...]

    @cached_property
    def rates(self) -> PooledRates:
        return pool_rates(
            [len(pool.pieces_by_job) for pool in self.pools],
            exposure=[pool.exposure_years for pool in self.pools],
        )

    @cached_property
    def jobs(self) -> int:
        return sum(len(pool.pieces_by_job) for pool in self.pools)

    @cached_property
    def _exact_years(self) -> int:
        return sum(_exact(pool.exposure_years) for pool in self.pools)

    def years(self, *, without: Iterable[Pool] = ()) -> float:
        own = sum(_exact(pool.exposure_years) for pool in without)
        return (self._exact_years - own) / PARTS_OF_A_YEAR

    @cached_property
    def _by_key(self) -> Mapping[PoolKey, Pool]:
        return {(pool.part, pool.storeroom.pk): pool for pool in self.pools}

    def included_in(self, pool: Pool) -> list[Pool]:
        """The pools of the family that are part of one that storerooms share."""
        keys = [(pool.part, room) for room in pool.storeroom_ids]
        return [self._by_key[key] for key in keys if key in self._by_key]


def _exact(years: float) -> int:
    """A double is a whole number of the smallest one: such numbers add up without rounding."""
    top, bottom = years.as_integer_ratio()
    return top * (PARTS_OF_A_YEAR // bottom)


@dataclass(frozen=True)
class RatePriors:
    """The priors of all pools; each family is fitted once, when it is first needed."""

    demand: DemandPools

    def prior_of(self, pool: Pool) -> RatePrior:
        """From the narrowest family that is large enough, differs beyond chance and has no pool unlike the others.

        A pool that is itself unlike each of them stands alone: the mean rate of what it does not resemble would outweigh its record.
        """
        why: Fact | None = None
        alone: Fact | None = None
        for family in self._families(pool):
            members = self._members[family]
            if len(members.pools) < self.demand.settings.fewest_pools:
                continue
            pools, rates = members.pools, members.rates
            if rates.cautions:
                why = why or fact(
                    "family_not_alike", family=family, caution=self._named(rates.cautions[0], pools)
                )
                alone = self._unlike(rates, pools, pool)
            elif rates.common_rate > 0:
                return _fitted(family, members, pool, self.demand.settings.prior_events)
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
    def _members(self) -> Mapping[Fact, _Family]:
        members = grouped((family, pool) for pool in self.demand.pools for family in self._families(pool))
        return {family: _Family(pools) for family, pools in members.items()}

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
        family = self._members[self._families(pool)[-1]]
        pools, years, events = family.pools, family.years(), family.jobs
        weight = self.demand.settings.prior_events
        why = why or fact("family_too_small_or_without_demand", pools=len(pools))
        if events:
            reason = fact("prior_half_event_at_mean_rate", events=weight, why=why)
            return RatePrior(weight, weight * years / events, None, len(pools), reason)
        # What others ran without any demand counts: else a first event elsewhere would lower the rate of this part.
        others = years - pool.exposure_years
        reason = fact("prior_half_event_in_years_of_others", events=weight, why=why, years=others)
        return RatePrior(weight, max(others, SHORTEST_EXPOSURE_YEARS), None, 0, reason)


def _fitted(family: Fact, members: _Family, pool: Pool, least_events: float) -> RatePrior:
    rates, pools = members.rates, members.pools
    if rates.alpha is not None and rates.beta is not None:
        worth = {"events": rates.alpha, "years": rates.beta}
        reason = fact("prior_from_family", pools=len(pools), family=family, **worth)
        return RatePrior(rates.alpha, rates.beta, family, len(pools), reason)
    own = members.included_in(pool)
    jobs = members.jobs - sum(len(one.pieces_by_job) for one in own)
    return RatePrior(
        max(jobs, least_events),
        max(members.years(without=own), SHORTEST_EXPOSURE_YEARS),
        family,
        len(pools),
        fact("prior_from_common_rate", pools=len(pools), family=family, rate_per_year=rates.common_rate),
    )
