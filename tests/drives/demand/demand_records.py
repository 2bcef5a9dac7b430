"""Steeping and kilning, a few drives, years of records: put down by hand, one line a record."""

from datetime import datetime, timedelta
from typing import Any

from drives.demand.demand_events import load_demand_events
from drives.demand.request_matching import DemandEvent
from drives.models import Installation, Position, Request
from inventory.models import Item, Storeroom
from inventory.stores import ledger
from tests import movements
from tests.factories import (
    MORNING,
    InstallationFactory,
    ItemFactory,
    RequestFactory,
    StoreroomFactory,
    stock,
)

LATER = 3000
"""A day on which everything has happened."""


def day(number: float) -> datetime:
    return MORNING + timedelta(days=number)


def main_room() -> Storeroom:
    return StoreroomFactory(code="MAIN")


def sprocket(number: str = "SPR-A", **changes: Any) -> Item:
    return ItemFactory(stock_number=number, **changes)


def put_in_stock(*items: Item) -> None:
    for item in items:
        stock(item, main_room(), 50)


def request(at: float, item: Item | None, position: Position | None = None, **more: Any) -> Request:
    more.setdefault("storeroom", main_room())
    return RequestFactory(at=day(at), item=item, position=position, **more)


def issue(at: float, item: Item, quantity: int = 1, **more: Any) -> ledger.Booked:
    return movements.issue(item, main_room(), quantity, by="Marta Keller", occurred_at=day(at), **more)


def bring_back(at: float, item: Item, quantity: int = 1, **more: Any) -> ledger.Booked:
    return movements.return_to_stock(
        item, main_room(), quantity, by="Marta Keller", occurred_at=day(at), **more
    )


def ran(
    position: Position,
    item: Item,
    begin: float,
    end: float | None = None,
    ended_by: str = "failure",
    **more: Any,
) -> Installation:
    """A unit from one day to another; without a second day it still sits there."""
    if end is not None:
        more |= {"removed_at": day(end), "ended_by": ended_by}
    return InstallationFactory(position=position, item=item, installed_at=day(begin), **more)


def events(until: float = LATER) -> tuple[DemandEvent, ...]:
    return load_demand_events(day(until))


def pieces(until: float = LATER) -> int:
    return sum(event.quantity for event in events(until))
