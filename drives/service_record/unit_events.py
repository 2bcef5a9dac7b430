"""Events about units on their positions, recorded in the transaction of the change."""

from datetime import datetime

from drives.models import Installation, Plant
from inventory.plumbing import events
from inventory.plumbing.events import NewEvent


def publish(what: str, unit: Installation, now: datetime) -> None:
    """What a person recorded of one unit."""
    plant = Plant.objects.get(areas__equipment__drives=unit.position.drive_id)
    events.record_many([unit_event(what, unit, unit.position.tag, plant.code, now)])


def unit_event(what: str, unit: Installation, tag: str, plant: str, now: datetime) -> NewEvent:
    data = {
        "installation": unit.pk,
        "position": tag,
        "item": unit.item.stock_number if unit.item else None,
        "installed_at": unit.installed_at,
        "removed_at": unit.removed_at,
        "ended_by": str(unit.ended_by) or None,
        "mechanism": str(unit.mechanism) or None,
        "running_hours": unit.running_hours,
        "age_basis": str(unit.age_basis) or None,
        "work_order": unit.work_order or None,
    }
    return NewEvent(f"installation.{what}", f"position/{tag}", data, now, plant=plant)
