"""Events of the ledger: one for each entry, and one for each change of a reservation."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from inventory.models import Reservation, StockEntry
from inventory.plumbing.events import NewEvent, record_many


def publish_movements(entries: Iterable[StockEntry]) -> None:
    """One `stock.moved` for each entry; to be called in the transaction that wrote them."""
    record_many([_movement_event(entry) for entry in entries])


def publish_reservations(kind: str, reservations: Iterable[Reservation], at: datetime, **more: Any) -> None:
    """One `reservation.KIND` for each reservation, as it stands now."""
    record_many([_reservation_event(kind, reservation, at, more) for reservation in reservations])


def _movement_event(entry: StockEntry) -> NewEvent:
    item, room = entry.item.stock_number, entry.storeroom.code
    return NewEvent(
        type="stock.moved",
        aggregate=f"stock/{item}/{room}/{entry.condition}",
        occurred_at=entry.occurred_at,
        storeroom=room,
        data={
            "movement": entry.pk,
            "kind": str(entry.kind),
            "item": item,
            "storeroom": room,
            "condition": str(entry.condition),
            "change": entry.change,
            "balance_after": entry.balance_after,
            "counted": entry.counted,
            "to_or_from": entry.other_storeroom.code if entry.other_storeroom else None,
            "work_order": entry.work_order or None,
            "position": entry.position or None,
            "reason_code": str(entry.reason_code) or None,
            "reverses": entry.reverses_id,
            "expected_back_on": entry.expected_back_on,
            "recorded_by": entry.recorded_by_name,
        },
    )


def _reservation_event(kind: str, reservation: Reservation, at: datetime, more: dict[str, Any]) -> NewEvent:
    return NewEvent(
        type=f"reservation.{kind}",
        aggregate=f"reservation/{reservation.pk}",
        occurred_at=at,
        storeroom=reservation.storeroom.code,
        data={
            "reservation": reservation.pk,
            "item": reservation.item.stock_number,
            "storeroom": reservation.storeroom.code,
            "condition": str(reservation.condition),
            "work_order": reservation.work_order,
            "state": str(reservation.state),
            "quantity": reservation.quantity,
            "open_quantity": reservation.open_quantity,
            "short_quantity": reservation.short_quantity,
            "reserved_by": reservation.reserved_by_name,
        }
        | more,
    )
