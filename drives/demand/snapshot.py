"""The demand of every part in every storeroom at one moment, loaded once: what needs and their evidence are made from."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from functools import cache, cached_property

from drives.demand.cover import grouped
from drives.demand.importance import PartImportance, part_importances
from drives.demand.item_to_keep import item_to_keep
from drives.demand.model_selection import select_model, without_demand
from drives.demand.plant_estimates import PlantEstimates, plant_estimates
from drives.demand.pool_sharing import SelectedPool, shared_pools
from drives.demand.pools import DemandPools, Pool, load_demand_pools
from drives.demand.position_demand import PositionDemand, demands_of_parts, position_demands
from drives.demand.rate_priors import RatePriors
from drives.demand.record_part import WHOLE_RECORD, WholeRecord
from drives.demand.wear_demand import look_ahead
from drives.lessons.wear_notice import PositionNotice, wear_notices
from inventory.catalogue.plant_practice import current_demand_settings
from inventory.planning.policy_inputs import ItemStoreroom
from inventory.planning.terms import Terms, load_terms
from inventory.stocking.demand_settings import DemandSettings
from inventory.stocking.lead_time_demand import LeadTimeDemand
from inventory.stores.lead_times import LeadTimes, lead_times
from inventory.stores.reach import storeroom_reach


@dataclass(frozen=True)
class DemandSnapshot:
    estimates: PlantEstimates
    demand: DemandPools
    priors: RatePriors
    by_storeroom: tuple[SelectedPool, ...]
    """Each storeroom by itself, as those of its neighbours that share its stock are too."""
    selected: tuple[SelectedPool, ...]
    """Storerooms that share the stock of a part as one."""
    notices: Mapping[int, PositionNotice]
    lead_times: LeadTimes
    terms: Terms
    kept: frozenset[tuple[int, int]]
    """Item and storeroom of what a policy keeps; where a part has no policy at all, of what is in stock."""
    levels: Mapping[tuple[int, int], int]
    """Order-up-to of the policies in force."""
    others: Mapping[int, Mapping[int, PositionDemand]] = field(default_factory=dict)
    """By part and position, as the last run stored it, of parts that were not loaded."""

    @cached_property
    def position_demands(self) -> dict[int, PositionDemand]:
        stored = {position: demand for some in self.others.values() for position, demand in some.items()}
        return stored | position_demands(self.priors, self.by_storeroom)

    @cached_property
    def positions_of_part(self) -> Mapping[int, tuple[int, ...]]:
        """Positions with a demand, by the part that they need."""
        stored = ((part, position) for part, some in self.others.items() for position in some)
        own = ((pool.part, one.position.pk) for pool, _ in self.by_storeroom for one in pool.positions)
        return grouped(sorted((*stored, *own)))

    @cached_property
    def kept_items(self) -> frozenset[int]:
        return frozenset(item for item, _ in self.kept)

    @cached_property
    def kept_or_with_levels(self) -> frozenset[ItemStoreroom]:
        return self.kept | self.levels.keys()

    @cached_property
    def most_kept(self) -> Mapping[int, int]:
        """By item, what the policies of all storerooms order up to."""
        found: Counter[int] = Counter()
        for (item, _), most in self.levels.items():
            found[item] += most
        return found

    @cached_property
    def demand_over(self) -> Callable[[int, float], LeadTimeDemand]:
        """Of a position over so many days; worked out once."""
        return cache(lambda position, days: self.position_demands[position].over(days))

    @cached_property
    def importances(self) -> Mapping[int, PartImportance]:
        """By part."""
        return part_importances(self.demand, self.kept_items)


def load_demand_snapshot(
    as_of: datetime,
    *,
    settings: DemandSettings | None = None,
    record: WholeRecord = WHOLE_RECORD,
    leads: LeadTimes | None = None,
) -> DemandSnapshot:
    """Exposure counts to the end of the day, so that one day gives one answer. `leads` None: of all items."""
    terms, settings = load_terms(), settings or current_demand_settings()
    estimates = plant_estimates(as_of, worst_grade=terms.worst_grade, settings=settings, parts=record.parts)
    demand = load_demand_pools(
        end_of_day(as_of),
        worst_grade=terms.worst_grade,
        known_until=as_of,
        settings=settings,
        starts=estimates.starts,
        record=record,
    )
    priors = RatePriors(demand, estimates.families)
    leads = leads or lead_times(as_of)
    by_storeroom = tuple(_selected(pool, priors, leads) for pool in demand.pools)
    return DemandSnapshot(
        estimates=estimates,
        demand=demand,
        priors=priors,
        by_storeroom=by_storeroom,
        selected=shared_pools(
            by_storeroom,
            priors=priors,
            reach=storeroom_reach(demand.storerooms),
            holding_rate_per_year=terms.holding_rate_per_year,
            stocked={(demand.parts.part_of[item], room) for item, room in demand.in_stock},
        ),
        notices=wear_notices(as_of, demand.settings, drives=record.drives),
        lead_times=leads,
        terms=terms,
        kept=_kept(demand.policies, demand.in_stock),
        levels=demand.policies,
        others={} if record.parts is None else demands_of_parts(_substitutes(demand)),
    )


def _substitutes(demand: DemandPools) -> set[int]:
    """Other parts that could serve positions of these pools."""
    positions = {position for pool in demand.pools for position in pool.position_ids}
    found = {demand.parts.part_of[edge.item_id] for one in positions for edge in demand.cover.items_of(one)}
    return found - {pool.part for pool in demand.pools}


def _selected(pool: Pool, priors: RatePriors, leads: LeadTimes) -> SelectedPool:
    found = without_demand(pool) or select_model(pool, priors.prior_of(pool))
    if found.laws:
        kept = item_to_keep(priors.demand, pool).pk
        # What cannot be worked out is said in the recommendation.
        with suppress(ValueError, OverflowError):
            look_ahead(found.demand, leads.of(kept, pool.storeroom.pk))
    return pool, found


def end_of_day(moment: datetime) -> datetime:
    day = moment.astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
    return day + timedelta(days=1)


def _kept(
    policies: Mapping[ItemStoreroom, int], stocked: Iterable[ItemStoreroom]
) -> frozenset[ItemStoreroom]:
    with_policy = {item for item, _ in policies}
    return frozenset(key for key, most in policies.items() if most > 0) | frozenset(
        (item, room) for item, room in stocked if item not in with_policy
    )
