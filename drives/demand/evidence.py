"""Down to the events: what a recommendation rests on, as plain values in a fixed order for pages and the API."""

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

from drives.demand.model_selection import Choice
from drives.demand.pools import Plant, Pool
from drives.demand.request_matching import Asking
from drives.demand.unit_lives import Life
from drives.reliability.renewal_trend import fit_renewal_trend

if TYPE_CHECKING:
    from drives.demand.importance import Weight
    from drives.demand.substitute_cover import SecondLine


def evidence_of(
    plant: Plant, pool: Pool, choice: Choice, cover: Iterable["SecondLine"], weight: "Weight"
) -> dict[str, Any]:
    return {
        "pool": _pool(plant, pool),
        "importance": {
            "importance": weight.importance,
            "drive": weight.drive.tag if weight.drive else None,
            "reason": weight.reason,
        },
        "events": [_event(plant, asking) for asking in pool.asked],
        "lives": [_life(plant, life) for life in pool.lives],
        **choice.evidence,
        "cover": [
            {
                "item": line.item,
                "grade": line.grade,
                "work_minutes": line.work_minutes,
                "positions": line.positions,
                "pieces": line.pieces,
                "averts": line.averts,
            }
            for line in cover
        ],
    }


def _pool(plant: Plant, pool: Pool) -> dict[str, Any]:
    return {
        "members": [plant.items[member].stock_number for member in pool.member_ids],
        "member_ids": list(pool.member_ids),
        "record_from": pool.record_from.isoformat(),
        "record_until": pool.as_of.isoformat(),
        "positions": [
            {
                "position": place.position.tag,
                "drive": place.position.drive.tag,
                "criticality": place.position.drive.criticality,
                "years": round(place.years, 3),
                "pieces_unplanned": place.unplanned_pieces,
                "pieces_planned": sum(asking.quantity for asking in place.asked) - place.unplanned_pieces,
            }
            for place in pool.places
        ],
    }


def _event(plant: Plant, asking: Asking) -> dict[str, Any]:
    position = plant.positions.get(asking.position_id or 0)
    item, given = plant.items.get(asking.item_id or 0), plant.items.get(asking.given_id or 0)
    return {
        "at": asking.at.isoformat(),
        "item": item.stock_number if item else None,
        "given": given.stock_number if given else None,
        "position": position.tag if position else None,
        "quantity": asking.quantity,
        "result": asking.result,
        "work_order": asking.work_order,
        "is_planned": asking.is_planned,
        "source": asking.source,
    }


def _life(plant: Plant, life: Life) -> dict[str, Any]:
    item = plant.items.get(life.item_id or 0)
    return {
        "position": plant.positions[life.position_id].tag,
        "item": item.stock_number if item else None,
        "installed_at": life.installed_at.isoformat(),
        "removed_at": life.removed_at.isoformat() if life.removed_at else None,
        "hours": life.hours,
        "age_basis": life.basis,
        "ended_by": life.ended_by,
        "mechanism": life.mechanism,
        "counts_as": _counts_as(life),
    }


def _counts_as(life: Life) -> str:
    if life.hours is None:
        return "left_out"
    if life.is_running:
        return "running"
    if life.is_worn_out:
        return "worn_out"
    return "sudden" if life.is_observed else "censored"


def growing_worse(pool: Pool) -> tuple[str, ...]:
    """A drive that eats its parts faster and faster wants mending, not stock."""
    found = []
    for place in pool.places:
        hours = [
            (asking.at - pool.record_from).total_seconds() / 3600
            for asking in place.asked
            if not asking.is_planned and asking.at > pool.record_from
        ]
        end = (pool.as_of - pool.record_from).total_seconds() / 3600
        if hours and end > 0 and fit_renewal_trend(hours, end_hours=end).is_getting_worse:
            found.append(
                f"{place.position.tag} asks faster and faster ({len(hours)} times): look at the drive, not only at the shelf."
            )
    return tuple(found)
