"""Storerooms that share the stock of a part, with their demand as one pool."""

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from drives.demand.downtime import downtime_of
from drives.demand.item_to_keep import item_to_keep
from drives.demand.model_selection import SelectedModel, select_model
from drives.demand.pools import Pool, PoolKey, years_between
from drives.demand.rate_priors import RatePriors
from drives.demand.record_start import StartOfRecord
from drives.demand.request_matching import DemandEvent
from inventory.facts import fact
from inventory.planning.policy_inputs import Downtime, NearStoreroom
from inventory.stocking.storeroom_groups import (
    StoreroomDemand,
    StoreroomGroup,
    fetching_cost,
    storeroom_groups,
)
from inventory.stores.reach import StoreroomReach

SelectedPool = tuple[Pool, SelectedModel]


def shared_pools(
    apart: Iterable[SelectedPool],
    *,
    priors: RatePriors,
    reach: StoreroomReach,
    holding_rate_per_year: float,
    stocked: Collection[PoolKey],
) -> tuple[SelectedPool, ...]:
    """Every storeroom of every part in exactly one pool: its own, or that of the storeroom which keeps the part for it."""
    of_part: dict[int, list[SelectedPool]] = defaultdict(list)
    for pool, selected in apart:
        of_part[pool.part].append((pool, selected))
    found: list[SelectedPool] = []
    for pools in of_part.values():
        if len(pools) > 1 and reach.minutes:
            part = _PartInStorerooms.of(pools, priors, holding_rate_per_year)
            found += part.shared(priors, reach, stocked)
        else:
            found += pools
    return tuple(found)


@dataclass(frozen=True)
class _PartInStorerooms:
    """One part; `stops` are the jobs of a year that would wait in each storeroom, and what an hour of it costs."""

    pools: Mapping[int, SelectedPool]
    stops: Mapping[int, tuple[float, float | None]]
    holding_cost: float | None

    @classmethod
    def of(
        cls, pools: Sequence[SelectedPool], priors: RatePriors, holding_rate: float
    ) -> "_PartInStorerooms":
        demand = priors.demand
        whole = merged(pools[0][0], [pool for pool, _ in pools[1:]])
        item = item_to_keep(demand, whole)
        links = whole.chain_jobs.links_per_job if whole.chain_jobs else 1
        downtimes = [downtime_of(pool, demand.positions, item.currency) for pool, _ in pools]
        # A request that names no position is for one of the others: it may be the dearest.
        dearest = max(downtimes, key=_an_hour, default=None)
        return cls(
            pools={pool.storeroom.pk: (pool, selected) for pool, selected in pools},
            stops={
                pool.storeroom.pk: _stops(pool, selected, downtime or dearest)
                for (pool, selected), downtime in zip(pools, downtimes, strict=True)
            },
            holding_cost=float(item.unit_cost) * links * holding_rate if item.unit_cost else None,
        )

    def shared(
        self, priors: RatePriors, reach: StoreroomReach, stocked: Collection[PoolKey]
    ) -> list[SelectedPool]:
        demands = {
            room: StoreroomDemand(
                storeroom=room,
                waiting_cost=_waiting_cost(stops, per_hour),
                has_stock=(self.pools[room][0].part, room) in stocked,
            )
            for room, (stops, per_hour) in self.stops.items()
        }
        groups = storeroom_groups(list(demands.values()), reach.fetching_hours, self.holding_cost)
        return [self._pool(group, demands, priors, reach) for group in groups]

    def _pool(
        self,
        group: StoreroomGroup,
        demands: Mapping[int, StoreroomDemand],
        priors: RatePriors,
        reach: StoreroomReach,
    ) -> SelectedPool:
        home, own = self.pools[group.home]
        if not group.others:
            return home, own
        near = tuple(
            NearStoreroom(
                storeroom_id=room,
                code=self.pools[room][0].storeroom.code,
                minutes=reach.minutes[group.home, room],
                stops_per_year=self.stops[room][0],
                fetching_cost=fetching_cost(demands[room], group.home, reach.fetching_hours) or 0.0,
                holding_cost=self.holding_cost,
            )
            for room in group.others
        )
        pool = replace(merged(home, [self.pools[room][0] for room in group.others]), keeps_for=near)
        asking = [one for one in (group.home, *group.others) if _asks(self.pools[one][0])]
        if len(asking) > 1:
            return pool, select_model(pool, priors.prior_of(pool))
        return pool, self.pools[(asking or [group.home])[0]][1]


def _an_hour(downtime: Downtime | None) -> float:
    return 0.0 if downtime is None else float(downtime.cost_per_hour) * downtime.stop_share


def _waiting_cost(stops: float, per_hour: float | None) -> float | None:
    """Where nothing stops, it does not matter what an hour costs."""
    if not stops:
        return 0.0
    return None if per_hour is None else stops * per_hour


def _stops(pool: Pool, selected: SelectedModel, downtime: Downtime | None) -> tuple[float, float | None]:
    """Of chain the rate is one of jobs already."""
    pieces = 1.0 if pool.is_chain or not pool.unplanned else pool.unplanned_pieces / len(pool.pieces_of_jobs)
    jobs = selected.rate_per_year / pieces
    if downtime is None:
        return jobs, None
    return jobs * downtime.stop_share, float(downtime.cost_per_hour)


def _asks(pool: Pool) -> bool:
    return bool(pool.positions or pool.other_events)


def merged(home: Pool, others: Iterable[Pool]) -> Pool:
    """All positions and events as those of `home`, from when the records of all that ask are complete."""
    every = (home, *others)
    latest = max((one for one in every if _asks(one)), key=lambda one: one.record.at, default=home)
    record = latest.record if latest is home else _of_another(latest.record)
    longest = years_between(record.at, home.as_of)
    positions = [
        replace(one, years=min(one.years, longest), events=_since(record.at, one.events))
        for pool in every
        for one in pool.positions
    ]
    return replace(
        home,
        positions=tuple(sorted(positions, key=lambda one: one.position.pk)),
        other_events=_since(record.at, (event for pool in every for event in pool.other_events)),
        lives=tuple(life for pool in every for life in pool.lives),
        temporary_lives=tuple(life for pool in every for life in pool.temporary_lives),
        earlier_events=tuple(
            event
            for pool in every
            for event in (*pool.earlier_events, *pool.events)
            if event.at < max(record.at, pool.record.at)
        ),
        record=record,
    )


def _of_another(record: StartOfRecord) -> StartOfRecord:
    """What a person noted about a storeroom is for those who see it."""
    values = record.reason.values
    return (
        replace(record, reason=fact(record.reason.code, **{**values, "note": None}))
        if "note" in values
        else record
    )


def _since(begin: datetime, events: Iterable[DemandEvent]) -> tuple[DemandEvent, ...]:
    return tuple(event for event in events if event.at >= begin)
