"""Events about what the feed changed, recorded in the transaction of the change."""

from datetime import datetime

from drives.feed.installations_from_orders import PositionChanges
from drives.models import WorkOrder
from drives.service_record.unit_events import unit_event
from inventory.plumbing import events


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
        [unit_event(what, unit, tag, plant, now) for what, units in changes.items() for unit in units]
    )
