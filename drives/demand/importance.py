"""How much a part matters: by the worst drive for which no other candidate is kept. A substitute lowers it."""

from collections.abc import Mapping
from dataclasses import dataclass

from drives.demand.pools import Plant
from drives.models import Criticality, Drive
from inventory.models import Importance

RANK: Mapping[str, int] = {
    Criticality.VITAL: 0,
    Criticality.ESSENTIAL: 1,
    "": 2,
    Criticality.DESIRABLE: 3,
}
"""The worst first; a drive without a class stands between: it may be anything."""


@dataclass(frozen=True)
class Weight:
    """The importance of a part, the drive that sets it, and the sentence that says so."""

    importance: str
    drive: Drive | None
    reason: str


def importances(plant: Plant, kept: frozenset[int]) -> dict[int, Weight]:
    """Of every part of a pool, by its lowest number; `kept` are the items that count as candidates."""
    asking, asked = _asking(plant), _asked(plant)
    return {
        part: _weight(plant, part, places, kept)
        if (places := asking[part] or _served(plant, part))
        else _asked_by(plant, asked[part])
        for part in sorted(asking)
    }


def _asking(plant: Plant) -> dict[int, set[int]]:
    """The positions that ask for each part."""
    found: dict[int, set[int]] = {pool.part: set() for pool in plant.pools}
    for pool in plant.pools:
        found[pool.part].update(place.position.pk for place in pool.places)
    return found


def _asked(plant: Plant) -> dict[int, set[int]]:
    """The positions that ever asked for each part, as those on a chain asked for the chain."""
    found: dict[int, set[int]] = {pool.part: set() for pool in plant.pools}
    for pool in plant.pools:
        found[pool.part].update(asking.position_id for asking in pool.loose if asking.position_id is not None)
    return {part: positions & set(plant.positions) for part, positions in found.items()}


def _served(plant: Plant, part: int) -> set[int]:
    """The positions that a part could serve, whatever they ask for now."""
    members = plant.parts.members.get(part, (part,))
    served = {edge.position_id for member in members for edge in plant.cover.positions_of(member)}
    return served & set(plant.positions)


def _asked_by(plant: Plant, positions: set[int]) -> Weight:
    """Chain, bushes and keys matter as much as the worst drive that ever asked for them."""
    if not positions:
        return Weight(Importance.UNKNOWN, None, "No position asks for it: how much it matters is not known.")
    drive = _worst(plant, sorted(positions))
    named = drive.criticality or "without a class"
    return Weight(
        drive.criticality or Importance.UNKNOWN,
        drive,
        f"Of the drives that asked for it {drive.tag} is the worst ({named}).",
    )


def _weight(plant: Plant, part: int, asking: set[int], kept: frozenset[int]) -> Weight:
    """A place that asks for something else counts too where this part is the last that could serve it."""
    alone = [pk for pk in sorted(asking | _served(plant, part)) if not _has_other(plant, part, pk, kept)]
    if not alone:
        drive = _worst(plant, sorted(asking))
        return Weight(
            Importance.DESIRABLE,
            drive,
            f"Every position that it serves has another candidate that is kept, so no drive hangs on it alone"
            f" (the worst is {drive.tag}, {drive.criticality or 'not classed'}).",
        )
    drive = _worst(plant, alone)
    importance = drive.criticality or Importance.UNKNOWN
    named = drive.criticality or "without a class"
    return Weight(
        importance, drive, f"Drive {drive.tag} is {named}, and nothing else that is kept can serve it there."
    )


def _has_other(plant: Plant, part: int, position_id: int, kept: frozenset[int]) -> bool:
    return any(
        edge.item_id in kept and plant.parts.part_of[edge.item_id] != part
        for edge in plant.cover.items_of(position_id)
    )


def _worst(plant: Plant, positions: list[int]) -> Drive:
    drives = [plant.positions[pk].drive for pk in positions]

    def key(drive: Drive) -> tuple[object, ...]:
        cost = drive.downtime_cost_per_hour
        return (RANK[drive.criticality], -(cost or 0), drive.tag)

    return min(drives, key=key)
