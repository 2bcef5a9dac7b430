"""What a recommendation is made from, down to the events: plain values in a fixed order, for pages and the API."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import asdict
from datetime import datetime, timedelta
from functools import lru_cache
from typing import Any

from drives.demand.importance import PartImportance
from drives.demand.model_selection import SelectedModel
from drives.demand.pools import DemandPools, Pool
from drives.demand.request_matching import DemandEvent
from drives.demand.substitute_cover import SubstituteCover
from drives.lessons.unit_lives import UnitLife
from drives.reliability.renewal_trend import fit_renewal_trend
from inventory.facts import Fact, fact


class Evidence(Mapping[str, Any]):
    """Worked out when it is read: that of all needs of a large plant together would fill the memory."""

    __slots__ = ("_read",)

    def __init__(self, read: Callable[[], dict[str, Any]]) -> None:
        self._read = read

    def __getitem__(self, name: str) -> Any:
        return self._read()[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._read())

    def __len__(self) -> int:
        return len(self._read())


def evidence_of(
    demand: DemandPools,
    pool: Pool,
    *,
    selected: SelectedModel,
    cover: Iterable[SubstituteCover],
    importance: PartImportance,
    inspections: list[Any],
) -> dict[str, Any]:
    return {
        "pool": _pool(demand, pool),
        "importance": {
            "importance": importance.importance,
            "drive": importance.drive.tag if importance.drive else None,
            "reason": importance.reason.as_json(),
            "positions": _deciding(demand, importance),
        },
        "events": [_event(demand, event) for event in pool.events],
        "settings": pool.settings.own(),
        "earlier_events": [_event(demand, event) for event in pool.earlier_events],
        "lives": [_life(demand, life) for life in pool.lives],
        **selected.evidence,
        "cover": [asdict(one) for one in cover],
        "inspections": inspections,
    }


def _deciding(demand: DemandPools, importance: PartImportance) -> list[dict[str, str]]:
    """The positions of the drive that sets the importance."""
    deciding = (demand.positions[pk] for pk in sorted(importance.position_ids))
    return [
        {"position": one.tag, "drive": one.drive.tag, "criticality": one.drive.criticality}
        for one in deciding
        if importance.drive is not None and one.drive_id == importance.drive.pk
    ]


def _pool(demand: DemandPools, pool: Pool) -> dict[str, Any]:
    return {
        "members": [demand.items[member].stock_number for member in pool.member_ids],
        "member_ids": list(pool.member_ids),
        "record_from": pool.record_from.isoformat(),
        "record_reason": pool.record.reason.as_json(),
        "estimates_until": None if demand.starts is None else demand.starts.until.isoformat(),
        "record_until": pool.as_of.isoformat(),
        "positions": [
            {
                "position": one.position.tag,
                "drive": one.position.drive.tag,
                "criticality": one.position.drive.criticality,
                "hours_per_year": one.position.drive.hours_per_year,
                "years": round(one.years, 3),
                "pieces_unplanned": one.unplanned_pieces,
                "pieces_planned": sum(event.quantity for event in one.events) - one.unplanned_pieces,
            }
            for one in pool.positions
        ],
    }


def _event(demand: DemandPools, event: DemandEvent) -> dict[str, Any]:
    position = demand.positions.get(event.position_id or 0)
    item, given = demand.items.get(event.item_id or 0), demand.items.get(event.given_id or 0)
    return {
        "at": event.at.isoformat(),
        "item": item.stock_number if item else None,
        "given": given.stock_number if given else None,
        "position": position.tag if position else None,
        "storeroom": demand.storeroom_codes.get(event.storeroom_id),
        "quantity": event.quantity,
        "result": event.result,
        "work_order": event.work_order,
        "is_planned": event.is_planned,
        "source": event.source,
    }


def _life(demand: DemandPools, life: UnitLife) -> dict[str, Any]:
    item = demand.items.get(life.item_id or 0)
    return {
        "position": demand.positions[life.position_id].tag,
        "item": item.stock_number if item else None,
        "installed_at": life.installed_at.isoformat(),
        "removed_at": life.removed_at.isoformat() if life.removed_at else None,
        "hours": life.hours,
        "age_basis": life.basis,
        "ended_by": life.ended_by,
        "mechanism": life.mechanism,
        "counts_as": _counts_as(life),
    }


def _counts_as(life: UnitLife) -> str:
    if life.hours is None:
        return "left_out"
    if life.is_running:
        return "running"
    if life.is_worn_out:
        return "worn_out"
    return "sudden" if life.is_observed else "censored"


def record_facts(pool: Pool) -> tuple[Fact, ...]:
    """From when requests count, where records lie before; and where the density of the record still jumps."""
    start = pool.record
    jump = () if start.jump is None else (start.jump,)
    if not start.is_set and not start.earlier_days:
        return jump
    counted = fact(
        "record_complete_from",
        begins_on=start.at.date().isoformat(),
        basis=start.reason,
        earlier_requests=len({event.job for event in pool.earlier_events}),
    )
    return (counted, *jump)


def estimates_fact(demand: DemandPools) -> tuple[Fact, ...]:
    """Up to which day the record was counted in what all parts share."""
    until = None if demand.starts is None else demand.starts.until
    return () if until is None else _estimates_until(until)


@lru_cache(maxsize=4)
def _estimates_until(until: datetime) -> tuple[Fact, ...]:
    return (fact("estimates_until", last_day=_day_before(until)),)


def _day_before(moment: datetime) -> str:
    return (moment - timedelta(microseconds=1)).date().isoformat()


def accelerating_positions(pool: Pool) -> tuple[Fact, ...]:
    """Where parts are needed more and more often, the drive needs attention, not stock."""
    found = []
    end_hours = (pool.as_of - pool.record_from).total_seconds() / 3600
    for one in pool.positions:
        hours = [
            (event.at - pool.record_from).total_seconds() / 3600
            for event in one.events
            if not event.is_planned and event.at > pool.record_from
        ]
        if hours and end_hours > 0 and fit_renewal_trend(hours, end_hours=end_hours).is_getting_worse:
            found.append(fact("requests_accelerate", position=one.position.tag, requests=len(hours)))
    return tuple(found)
