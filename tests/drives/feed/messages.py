"""Messages as a work-order system sends them, over one small place with history and stock."""

from datetime import UTC, datetime, timedelta
from typing import Any

from drives.feed.intake import IntakeResult, take_in
from drives.models import Installation, Position
from inventory.models import Item, StockLevel
from tests import factories as make

FITTED = datetime(2022, 1, 10, 6, 0, tzinfo=UTC)
SOURCE = "planning"


def day(number: int, hour: int = 8) -> datetime:
    """So many days after the unit was fitted."""
    return FITTED + timedelta(days=number, hours=hour)


def place(tag: str = "STEEP-EL1-P1", **more: Any) -> Position:
    """A position with a unit on, five of its like and five of another number on the shelf."""
    position = make.PositionFactory(tag=tag, drive=make.DriveFactory(tag=f"{tag}-D"))
    item, other = make.ItemFactory(stock_number="SPR-A"), make.ItemFactory(stock_number="SPR-B")
    make.InstallationFactory(position=position, item=item, installed_at=FITTED, **more)
    room = make.StoreroomFactory()
    for one in (item, other):
        if not StockLevel.objects.filter(item=one).exists():
            make.stock(one, room, 5, occurred_at=FITTED)
    return position


def order(version: int, **more: Any) -> dict[str, Any]:
    """An open job; `version` counts the hours of its `updated_at`."""
    body = {
        "title": "driver noisy",
        "kind": "corrective",
        "status": "open",
        "position": "STEEP-EL1-P1",
        "opened_at": day(700, 6).isoformat(),
        "updated_at": day(900, version).isoformat(),
    }
    return body | more


def closed(version: int, removed_at: datetime, used: list[dict[str, Any]] | None = None, **more: Any) -> Any:
    failure = {"mechanism": "wear", "removed_at": removed_at.isoformat()} | more.pop("failure", {})
    rest = {"closed_at": (removed_at + timedelta(hours=2)).isoformat(), "failure": failure}
    return order(version, status="closed", parts_used=used or [], **rest) | more


def used(item: str = "SPR-A", quantity: int = 1, **more: Any) -> dict[str, Any]:
    return {"item": item, "quantity": quantity} | more


def send(number: str, body: dict[str, Any], kind: str = "work_order", **more: Any) -> IntakeResult:
    return take_in(kind, SOURCE, number, body, **more)


def reading(version: int, at: datetime, hours: float, **more: Any) -> dict[str, Any]:
    body = {"position": "STEEP-EL1-P1", "at": at.isoformat(), "hours": hours}
    return body | {"updated_at": day(900, version).isoformat()} | more


def lives(position: Position) -> list[tuple[Any, ...]]:
    rows = Installation.objects.filter(position=position).order_by("installed_at", "removed_at")
    return [
        (row.item.stock_number if row.item else None, row.installed_at, row.removed_at, row.ended_by)
        for row in rows
    ]


def on_hand(number: str) -> int:
    return StockLevel.objects.get(item=Item.objects.get(stock_number=number)).on_hand
