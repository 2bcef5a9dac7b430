"""How important a part is: set by the worst drive for which no other candidate is kept. A substitute lowers it."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from drives.demand.pools import DemandPools
from drives.models import Criticality, Drive
from inventory.facts import Fact, fact
from inventory.models import Importance

CRITICALITY_RANK: Mapping[str, int] = {
    Criticality.VITAL: 0,
    Criticality.ESSENTIAL: 1,
    "": 2,
    Criticality.DESIRABLE: 3,
}
"""The worst first; a drive without a class may be anything, so it stands between."""


@dataclass(frozen=True)
class PartImportance:
    """The importance of a part, the drive that sets it, and why; `position_ids` are those it was chosen from."""

    importance: str
    drive: Drive | None
    reason: Fact
    position_ids: frozenset[int] = frozenset()


def part_importances(demand: DemandPools, kept: frozenset[int]) -> dict[int, PartImportance]:
    """Of every part of a pool; `kept` are the items that count as candidates."""
    needing: dict[int, set[int]] = {pool.part: set() for pool in demand.pools}
    requesting: dict[int, set[int]] = {pool.part: set() for pool in demand.pools}
    for pool in demand.pools:
        needing[pool.part] |= pool.position_ids
        requesting[pool.part].update(event.position_id for event in pool.other_events if event.position_id)
    return {
        part: _of_served(demand, part, positions, kept)
        if (positions := needing[part] or _served(demand, part))
        else _of_requesting(demand, requesting[part])
        for part in sorted(needing)
    }


def _served(demand: DemandPools, part: int) -> set[int]:
    """The positions in use that a part could serve, whatever they need now."""
    members = demand.parts.members.get(part, (part,))
    return {
        edge.position_id for member in members for edge in demand.cover.positions_of(member)
    } & demand.in_use


def _of_requesting(demand: DemandPools, positions: set[int]) -> PartImportance:
    """Chain, bushes and keys are as important as the worst drive in use that ever requested them."""
    if not positions:
        return PartImportance(Importance.UNKNOWN, None, fact("importance_without_position"))
    if not positions & demand.in_use:
        return PartImportance(Importance.UNKNOWN, None, fact("importance_without_drive_in_use"))
    return _set_by(demand, positions & demand.in_use, "importance_of_requesting_drive")


def _of_served(demand: DemandPools, part: int, needing: set[int], kept: frozenset[int]) -> PartImportance:
    """A position that needs something else counts too where this part is the last that could serve it."""
    every = needing | _served(demand, part)
    alone = {position for position in every if not _has_other(demand, part, position, kept)}
    if alone:
        return _set_by(demand, alone, "importance_of_only_candidate")
    return _set_by(demand, needing, "importance_lowered_by_substitutes", Importance.DESIRABLE)


def _set_by(demand: DemandPools, positions: Iterable[int], code: str, importance: str = "") -> PartImportance:
    """By the worst of these drives, unless an importance is given."""
    drive = _worst(demand, positions)
    reason = fact(code, drive=drive.tag, criticality=drive.criticality or None)
    found = importance or drive.criticality or Importance.UNKNOWN
    return PartImportance(found, drive, reason, frozenset(positions))


def _has_other(demand: DemandPools, part: int, position_id: int, kept: frozenset[int]) -> bool:
    return any(
        edge.item_id in kept and demand.parts.part_of[edge.item_id] != part
        for edge in demand.cover.items_of(position_id)
    )


def _worst(demand: DemandPools, positions: Iterable[int]) -> Drive:
    drives = [demand.positions[position].drive for position in positions]
    return min(
        drives,
        key=lambda drive: (
            CRITICALITY_RANK[drive.criticality],
            -(drive.downtime_cost_per_hour or 0),
            drive.tag,
        ),
    )
