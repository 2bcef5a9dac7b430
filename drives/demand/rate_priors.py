"""Prior demand rates: what pools of one family say about the rate of one position, or of a part that no position needs.

Families are counted up to the end of a month: one failure moves the prior of no other part.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

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
ALL_SPROCKETS = fact("family_of_all_sprockets")


@dataclass(frozen=True)
class RatePrior:
    """Of a yearly rate, worth `shape` events in `years`; for pools with positions the years are those of one position."""

    shape: float
    years: float
    family: Fact | None
    pools: int
    reason: Fact


@dataclass(frozen=True, slots=True)
class PoolFigures:
    """What a pool adds to its families; `family` is the narrowest of them."""

    family: Fact
    jobs: int
    exposure_years: float


@dataclass(frozen=True, slots=True)
class RateFamily:
    """The pools of one family, added up once; no order of the pools makes a difference."""

    pools: int
    jobs: int
    exact_years: int
    rates: PooledRates
    """Its cautions name a group by the stock number of its part."""
    unlike: tuple[tuple[PoolKey, Fact], ...] = ()
    """The cautions about single pools."""

    def years(self, *, without: Iterable[PoolFigures] = ()) -> float:
        own = sum(_exact(one.exposure_years) for one in without)
        return (self.exact_years - own) / PARTS_OF_A_YEAR


NO_FAMILY = RateFamily(0, 0, 0, PooledRates(0.0))


def _exact(years: float) -> int:
    """A double is a whole number of the smallest one: such numbers add up without rounding."""
    top, bottom = years.as_integer_ratio()
    return top * (PARTS_OF_A_YEAR // bottom)


@lru_cache(maxsize=1024)
def _without_position(kind: str) -> tuple[Fact, ...]:
    return (fact("family_without_position", kind=kind),)


@lru_cache(maxsize=1024)
def _of_position(role: str, pitch_mm: float | None, surroundings: str) -> tuple[Fact, ...]:
    of_pitch = fact("family_of_pitch", role=role, pitch_mm=pitch_mm, surroundings=surroundings)
    return of_pitch, *wider(of_pitch)


def families_of(pool: Pool, demand: DemandPools) -> tuple[Fact, ...]:
    """The families that a pool belongs to, the narrowest first."""
    if not pool.positions:
        return _without_position(demand.items[pool.part].kind or "item")
    position = pool.positions[0].position
    drive = position.drive
    pitch_mm = None if drive.pitch_mm is None else float(drive.pitch_mm)
    surroundings = "harsh" if HARSH & set(drive.environment) else "ordinary"
    return _of_position(str(position.role), pitch_mm, surroundings)


def wider(narrowest: Fact) -> list[Fact]:
    """The families that hold the narrowest of a pool."""
    if narrowest.code != "family_of_pitch":
        return []
    role, surroundings = narrowest.values["role"], narrowest.values["surroundings"]
    return [
        fact("family_of_surroundings", role=role, surroundings=surroundings),
        fact("family_of_role", role=role),
        ALL_SPROCKETS,
    ]


@dataclass(frozen=True)
class RateFamilies:
    """All families of a plant; each is fitted once, when it is first needed."""

    figures: Mapping[PoolKey, PoolFigures] = field(default_factory=dict)
    fitted: dict[Fact, RateFamily] = field(default_factory=dict)
    members: Mapping[Fact, tuple[PoolKey, ...]] = field(default_factory=dict)
    """Of those that are not fitted yet."""
    stock_numbers: Mapping[int, str] = field(default_factory=dict)
    """Of the parts of these members."""
    fewest_pools: int = 0
    """Smaller families are not fitted."""

    @classmethod
    def of_record(cls, demand: DemandPools) -> "RateFamilies":
        of_pool = [(pool, families_of(pool, demand)) for pool in demand.pools]
        return cls(
            figures={
                pool.key: PoolFigures(families[0], len(pool.pieces_of_jobs), pool.exposure_years)
                for pool, families in of_pool
            },
            members=grouped((family, pool.key) for pool, families in of_pool for family in families),
            stock_numbers={pool.part: demand.items[pool.part].stock_number for pool in demand.pools},
            fewest_pools=demand.settings.fewest_pools,
        )

    def of(self, family: Fact) -> RateFamily:
        if family not in self.fitted:
            keys = self.members.get(family)
            self.fitted[family] = self._fit(keys) if keys else NO_FAMILY
        return self.fitted[family]

    def _fit(self, keys: tuple[PoolKey, ...]) -> RateFamily:
        pools = [self.figures[key] for key in keys]
        jobs, years = [pool.jobs for pool in pools], [pool.exposure_years for pool in pools]
        is_large = len(pools) >= self.fewest_pools
        rates = pool_rates(jobs, exposure=years) if is_large else PooledRates(0.0)
        named = [self._named(caution, keys) for caution in rates.cautions]
        return RateFamily(
            pools=len(pools),
            jobs=sum(jobs),
            exact_years=sum(map(_exact, years)),
            rates=replace(rates, cautions=tuple(caution for _, caution in named)),
            unlike=tuple((key, caution) for key, caution in named if key is not None),
        )

    def _named(self, caution: Fact, keys: tuple[PoolKey, ...]) -> tuple[PoolKey | None, Fact]:
        """A group by the stock number of its part."""
        if "group" not in caution.values:
            return None, caution
        key = keys[caution.values["group"]]
        return key, fact(caution.code, **{**caution.values, "group": self.stock_numbers[key[0]]})

    def included_in(self, pool: Pool, family: Fact) -> list[PoolFigures]:
        """Of the pools of a family that are part of one that storerooms share."""
        keys = [(pool.part, room) for room in pool.storeroom_ids]
        found = [self.figures[key] for key in keys if key in self.figures]
        return [one for one in found if family in (one.family, *wider(one.family))]


@dataclass(frozen=True)
class RatePriors:
    """The priors of all pools."""

    demand: DemandPools
    families: RateFamilies

    def prior_of(self, pool: Pool) -> RatePrior:
        """From the narrowest family that is large enough, differs beyond chance and has no pool unlike the others.

        A pool that is itself unlike each of them stands alone: the mean rate of what it does not resemble would outweigh its record.
        """
        why: Fact | None = None
        alone: Fact | None = None
        names = families_of(pool, self.demand)
        for name in names:
            family = self.families.of(name)
            if family.pools < self.demand.settings.fewest_pools:
                continue
            rates = family.rates
            if rates.cautions:
                why = why or fact("family_not_alike", family=name, caution=rates.cautions[0])
                alone = _unlike(family, pool)
            elif rates.common_rate > 0:
                return self._fitted(name, family, pool)
        return self._weak(pool, names[-1], why) if alone is None else self._alone(alone)

    def _fitted(self, name: Fact, family: RateFamily, pool: Pool) -> RatePrior:
        rates = family.rates
        if rates.alpha is not None and rates.beta is not None:
            worth = {"events": rates.alpha, "years": rates.beta}
            reason = fact("prior_from_family", pools=family.pools, family=name, **worth)
            return RatePrior(rates.alpha, rates.beta, name, family.pools, reason)
        own = self.families.included_in(pool, name)
        values = {"pools": family.pools, "family": name, "rate_per_year": rates.common_rate}
        return RatePrior(
            max(family.jobs - sum(one.jobs for one in own), self.demand.settings.prior_events),
            max(family.years(without=own), SHORTEST_EXPOSURE_YEARS),
            name,
            family.pools,
            fact("prior_from_common_rate", **values),
        )

    def _alone(self, caution: Fact) -> RatePrior:
        weight = self.demand.settings.prior_events
        reason = fact("prior_half_event_alone", events=weight, p_value=caution.values["p_value"])
        return RatePrior(weight, SHORTEST_EXPOSURE_YEARS, None, 1, reason)

    def _weak(self, pool: Pool, name: Fact, why: Fact | None) -> RatePrior:
        family, weight = self.families.of(name), self.demand.settings.prior_events
        why = why or fact("family_too_small_or_without_demand", pools=family.pools)
        if family.jobs:
            reason = fact("prior_half_event_at_mean_rate", events=weight, why=why)
            return RatePrior(weight, weight * family.years() / family.jobs, None, family.pools, reason)
        # What others ran without any demand counts: else a first event elsewhere would lower the rate of this part.
        others = family.years(without=self.families.included_in(pool, name))
        reason = fact("prior_half_event_in_years_of_others", events=weight, why=why, years=others)
        return RatePrior(weight, max(others, SHORTEST_EXPOSURE_YEARS), None, 0, reason)


def _unlike(family: RateFamily, pool: Pool) -> Fact | None:
    """What says that this pool is requested more often than the others predict."""
    for (part, room), caution in family.unlike:
        is_own = part == pool.part and room in pool.storeroom_ids
        if is_own and caution.values["rate"] > family.rates.common_rate:
            return caution
    return None
