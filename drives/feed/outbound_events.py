"""Events about what the feed changed, recorded in the transaction of the change."""

from datetime import datetime
from typing import Any

from drives.feed.installations_from_orders import PositionChanges
from drives.models import Installation, WorkOrder
from inventory.plumbing import events
from inventory.plumbing.events import NewEvent


def publish_order(order: WorkOrder, *, created: bool) -> None:
    events.record(
        "work_order.changed",
        aggregate=f"work-order/{order.source}/{order.external_id}",
        occurred_at=order.source_updated_at,
        plant=order.plant.code if order.plant else "",
        data={
            "source": order.source,
            "external_id": order.external_id,
            "created": created,
            "title": order.title,
            "kind": str(order.kind) or None,
            "status": str(order.status),
            "position": order.position.tag if order.position else None,
            "equipment": order.equipment.tag if order.equipment else None,
            "needed_by": order.needed_by,
            "closed_at": order.closed_at,
            "mechanism": str(order.mechanism) or None,
            "unread_codes": order.unread_codes,
            "updated_at": order.source_updated_at,
        },
    )


def publish_installations(found: PositionChanges, now: datetime) -> None:
    """Installations that ended, began, or were restored by a retraction."""
    changes = {"ended": found.ended, "begun": found.begun, "restored": found.restored}
    if not any(changes.values()):
        return
    plant = found.position.drive.equipment.area.plant.code
    tag = found.position.tag
    events.record_many(
        [
            NewEvent(
                f"installation.{what}", f"position/{tag}", installation_data(unit, tag), now, plant=plant
            )
            for what, units in changes.items()
            for unit in units
        ]
    )


def installation_data(unit: Installation, tag: str) -> dict[str, Any]:
    return {
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
