"""What a message names: places, items, storerooms; and what of it is not recorded here."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models

from drives.feed.message import Part, Told
from drives.models import Equipment, Plant, Position
from inventory.models import Item, Storeroom

Reason = dict[str, str]
UNKNOWN, SHORT, NOT_FITTED, REFUSED = "unknown", "stock", "fitted", "refused"
"""What a message waits for: a record, pieces on the shelf, a unit at the position, or a person who looks at it."""


@dataclass(frozen=True, slots=True)
class Named:
    position: Position | None
    equipment: Equipment | None
    items: dict[str, Item]
    storerooms: dict[str, Storeroom]
    usual: Storeroom | None
    """The storeroom whose counter serves the plant, for lines that name none."""

    def storeroom(self, part: Part) -> Storeroom | None:
        return self.storerooms[part.storeroom] if part.storeroom else self.usual


def reason(about: str, field: str, detail: str, value: str = "") -> Reason:
    return {"about": about, "field": field, "value": value, "detail": detail}


def find(message: Told, used: tuple[Part, ...]) -> tuple[Named, list[Reason]]:
    """The records that the message names, and a reason to wait for each that is not there."""
    parts = [("parts_needed", message.needed), ("parts_used", used)]
    position = _one(Position.objects.with_drive(), "tag", message.position)
    equipment = _one(Equipment.objects.select_related("area__plant__storeroom"), "tag", message.equipment)
    lines = [part for _, many in parts for part in many]
    items = _many(Item.objects.select_related("specification"), "stock_number", (p.item for p in lines))
    rooms = _many(Storeroom.objects.all(), "code", (p.storeroom for p in lines if p.storeroom))
    named = Named(position, equipment, items, rooms, _usual(position, equipment))
    lacking = [
        *_missing("position", "position", message.position, position),
        *_missing("equipment", "equipment", message.equipment, equipment),
    ]
    place_is_known = not lacking
    for member, many in parts:
        lacking += _lacking_in_lines(member, many, named, place_is_known=place_is_known)
    return named, lacking


def _lacking_in_lines(
    member: str, parts: tuple[Part, ...], named: Named, *, place_is_known: bool
) -> list[Reason]:
    lacking: list[Reason] = []
    for number, part in enumerate(parts):
        at = f"{member}/{number}"
        lacking += _missing(f"{at}/item", "item", part.item, named.items.get(part.item))
        if part.storeroom:
            lacking += _missing(
                f"{at}/storeroom", "storeroom", part.storeroom, named.storerooms.get(part.storeroom)
            )
        elif member == "parts_used" and named.usual is None and place_is_known:
            sentence = "No storeroom is named and none serves the plant: name one, or give the plant its own."
            lacking.append(reason(UNKNOWN, f"{at}/storeroom", sentence))
    return lacking


def _missing(field: str, what: str, name: str, found: models.Model | None) -> list[Reason]:
    if not name or found is not None:
        return []
    return [reason(UNKNOWN, field, f'There is no {what} "{name}": record it, or correct the message.', name)]


def _one(rows: Any, field: str, name: str) -> Any:
    return rows.filter(**{field: name}).first() if name else None


def _many(rows: Any, field: str, names: Iterable[str]) -> dict[str, Any]:
    asked = sorted(set(names))
    return {getattr(row, field): row for row in rows.filter(**{f"{field}__in": asked})} if asked else {}


def _usual(position: Position | None, equipment: Equipment | None) -> Storeroom | None:
    plant: Plant | None = None
    if position is not None:
        plant = position.drive.equipment.area.plant
    elif equipment is not None:
        plant = equipment.area.plant
    return None if plant is None else plant.storeroom
