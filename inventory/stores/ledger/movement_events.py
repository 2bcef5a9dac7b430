"""What the ledger tells those outside: one event for each entry, and for each thing that befalls a reservation."""

from collections.abc import Iterable
from datetime import datetime
from typing import Any

from inventory.models import Reservation, StockEntry
from inventory.plumbing.events import NewEvent, record_many


def tell_moved(entries: Iterable[StockEntry]) -> None:
    """One `stock.moved` for each entry; to be called in the transaction that wrote them."""
    record_many([_moved(entry) for entry in entries])


def tell_holds(kind: str, holds: Iterable[Reservation], at: datetime, **more: Any) -> None:
    """One `reservation.KIND` for each reservation, as it stands now."""
    record_many([_held(kind, hold, at, more) for hold in holds])


def _moved(entry: StockEntry) -> NewEvent:
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


def _held(kind: str, hold: Reservation, at: datetime, more: dict[str, Any]) -> NewEvent:
    return NewEvent(
        type=f"reservation.{kind}",
        aggregate=f"reservation/{hold.pk}",
        occurred_at=at,
        storeroom=hold.storeroom.code,
        data={
            "reservation": hold.pk,
            "item": hold.item.stock_number,
            "storeroom": hold.storeroom.code,
            "condition": str(hold.condition),
            "work_order": hold.work_order,
            "state": str(hold.state),
            "quantity": hold.quantity,
            "open_quantity": hold.open_quantity,
            "short_quantity": hold.short_quantity,
            "reserved_by": hold.reserved_by_name,
        }
        | more,
    )
