"""The records that a message refers to: position, equipment, items, storerooms; and why a message waits."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from django.db import models

from drives.feed.message import Part, WorkOrderMessage
from drives.models import Equipment, Position
from inventory.facts import Fact, fact
from inventory.models import Item, Storeroom

Reason = dict[str, Any]
UNKNOWN, SHORT, NOT_FITTED, REFUSED = "unknown", "stock", "fitted", "refused"
"""What a message waits for: a record, stock, a unit at the position, or a decision of a person."""


@dataclass(frozen=True, slots=True)
class References:
    position: Position | None
    equipment: Equipment | None
    items: dict[str, Item]
    storerooms: dict[str, Storeroom]
    usual: Storeroom | None
    """The storeroom that serves the plant, for lines that name none."""

    def storeroom(self, part: Part) -> Storeroom | None:
        return self.storerooms[part.storeroom] if part.storeroom else self.usual


def reason(about: str, field: str, found: Fact, value: str = "") -> Reason:
    """Stored as JSON with the message; `value` is what the message names."""
    return {"about": about, "field": field, "value": value, **found.as_json()}


def find_references(message: WorkOrderMessage, used: tuple[Part, ...]) -> tuple[References, list[Reason]]:
    """The records that the message names, and a reason to wait for each missing one."""
    parts = [("parts_needed", message.needed), ("parts_used", used)]
    position = _one(Position.objects.with_drive(), "tag", message.position)
    equipment = _one(Equipment.objects.select_related("area__plant__storeroom"), "tag", message.equipment)
    lines = [part for _, many in parts for part in many]
    items = _items(p.item for p in lines)
    rooms = _many(Storeroom.objects.all(), "code", (p.storeroom for p in lines if p.storeroom))
    references = References(position, equipment, items, rooms, _usual(position, equipment))
    missing = [
        *_missing("position", "position", message.position, position),
        *_missing("equipment", "equipment", message.equipment, equipment),
    ]
    place_is_known = not missing
    for member, many in parts:
        missing += _missing_in_lines(member, many, references, place_is_known=place_is_known)
    return references, missing


def _missing_in_lines(
    member: str, parts: tuple[Part, ...], references: References, *, place_is_known: bool
) -> list[Reason]:
    missing: list[Reason] = []
    for number, part in enumerate(parts):
        at = f"{member}/{number}"
        missing += _missing(f"{at}/item", "item", part.item, references.items.get(part.item))
        if part.storeroom:
            missing += _missing(
                f"{at}/storeroom", "storeroom", part.storeroom, references.storerooms.get(part.storeroom)
            )
        elif member == "parts_used" and references.usual is None and place_is_known:
            missing.append(reason(UNKNOWN, f"{at}/storeroom", fact("storeroom_not_named")))
    return missing


def _missing(field: str, what: str, name: str, found: models.Model | None) -> list[Reason]:
    if not name or found is not None:
        return []
    return [reason(UNKNOWN, field, record_not_found(what, name), name)]


def record_not_found(kind: str, name: str) -> Fact:
    return fact("record_not_found", kind=kind, name=name)


def _one(rows: Any, field: str, name: str) -> Any:
    return rows.filter(**{field: name}).first() if name else None


def _many(rows: Any, field: str, names: Iterable[str]) -> dict[str, Any]:
    wanted = sorted(set(names))
    return {getattr(row, field): row for row in rows.filter(**{f"{field}__in": wanted})} if wanted else {}


def _items(names: Iterable[str]) -> dict[str, Item]:
    """By stock number; a merged one names the item that goes on."""
    rows = Item.objects.select_related("specification", "merged_into__specification")
    found: dict[str, Item] = _many(rows, "stock_number", names)
    return {name: item.merged_into or item for name, item in found.items()}


def _usual(position: Position | None, equipment: Equipment | None) -> Storeroom | None:
    equipment = equipment if position is None else position.drive.equipment
    return None if equipment is None else equipment.area.plant.storeroom
