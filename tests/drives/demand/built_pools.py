"""Pools put together by hand, without a database."""

from collections.abc import Iterable
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Any

from drives.demand.cover import CoverEdge, CoverMap
from drives.demand.part_groups import PartGroups
from drives.demand.pools import DemandPools, Pool, PoolItem, PoolPosition
from drives.demand.rate_priors import RateFamilies, RatePriors
from drives.demand.record_start import StartOfRecord
from drives.demand.request_matching import DemandEvent
from drives.lessons.unit_lives import UnitLife
from drives.models import Drive, Position
from inventory.facts import fact
from inventory.models import Storeroom

BEGIN = datetime.fromisoformat("2020-01-01T00:00:00+00:00")
ROOM = Storeroom(pk=1, code="MAIN", name="Storeroom MAIN")


def years_on(years: float) -> datetime:
    return BEGIN + timedelta(days=365 * years)


def position(pk: int, *, role: str = "driver", **drive: Any) -> Position:
    given = {
        "pitch_mm": Decimal("12.7"),
        "environment": [],
        "hours_per_year": 8760,
        "criticality": "essential",
        "currency": "EUR",
    } | drive
    return Position(pk=pk, tag=f"P{pk:03d}", role=role, drive=Drive(pk=pk, tag=f"D{pk:03d}", **given))


def event(at: float, position_id: int | None = None, item: int = 1, **more: Any) -> DemandEvent:
    """`at` in years of record."""
    given = {
        "quantity": 1,
        "work_order": "",
        "is_planned": False,
        "result": "filled",
        "source": "request",
        "given_id": None,
    }
    return DemandEvent(
        at=years_on(at), item_id=item, storeroom_id=1, position_id=position_id, **{**given, **more}
    )


def life(
    position_id: int, hours: float, ended_by: str = "", mechanism: str = "wear", at: float = 1.0, **more: Any
) -> UnitLife:
    """Ended so many years into the record; without an end it is in service."""
    given = {"item_id": 1, "basis": "calendar", "work_order": "", "is_temporary": False} | more
    return UnitLife(
        position_id=position_id,
        installed_at=BEGIN,
        removed_at=years_on(at) if ended_by else None,
        hours=hours,
        ended_by=ended_by,
        mechanism=mechanism if ended_by else "",
        **given,
    )


def pool(
    part: int = 1,
    *,
    positions: Iterable[Position] = (),
    events: Iterable[DemandEvent] = (),
    lives: Iterable[UnitLife] = (),
    years: float = 5.0,
    members: tuple[int, ...] | None = None,
) -> Pool:
    every = list(events)
    found = tuple(
        PoolPosition(position, part, years, tuple(one for one in every if one.position_id == position.pk))
        for position in positions
    )
    here = {position.position.pk for position in found}
    return Pool(
        part=part,
        storeroom=ROOM,
        member_ids=members or (part,),
        positions=found,
        other_events=tuple(one for one in every if one.position_id not in here),
        lives=tuple(lives),
        record=StartOfRecord(at=BEGIN, reason=fact("record_starts_with_first", days=1, years=years)),
        as_of=years_on(years),
    )


def failing(part: int, times: int, *, years: float = 5.0, **drive: Any) -> Pool:
    """One position with so many requests, spread over the record."""
    events = [event(years * (one + 0.5) / max(times, 1), part, part) for one in range(times)]
    return pool(part, positions=[position(part, **drive)], events=events, years=years)


def demand_pools(*pools: Pool, edges: Iterable[CoverEdge] = ()) -> DemandPools:
    items, part_of = {}, {}
    for one in pools:
        for member in one.member_ids:
            kind = "sprocket" if one.positions else "bush"
            items[member] = PoolItem(member, f"SPR-{member:03d}", kind=kind)
            part_of[member] = one.part
    positions = [position for one in pools for position in one.positions]
    return DemandPools(
        pools=pools,
        items=items,
        positions={position.position.pk: position.position for position in positions},
        parts=PartGroups(part_of),
        position_items={position.position.pk: position.item_id for position in positions},
        cover=CoverMap(tuple(edges)),
        in_use=frozenset(position.position.pk for position in positions),
        storerooms=(ROOM,),
    )


def rate_priors(demand: DemandPools) -> RatePriors:
    """From all of these pools."""
    return RatePriors(demand, RateFamilies.of_record(demand))
