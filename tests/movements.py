"""One movement of each kind, booked as the product books it."""

from typing import Any

from inventory.models import Item, MovementKind, Storeroom
from inventory.stores import ledger
from inventory.stores.ledger import Booked, Movement


def book(kind: str, item: Item, storeroom: Storeroom, **more: Any) -> Booked:
    return ledger.book(Movement(kind=kind, item=item, storeroom=storeroom, **more))


def receive(item: Item, storeroom: Storeroom, quantity: int, **more: Any) -> Booked:
    return book(MovementKind.RECEIPT, item, storeroom, quantity=quantity, **more)


def issue(item: Item, storeroom: Storeroom, quantity: int, **more: Any) -> Booked:
    return book(MovementKind.ISSUE, item, storeroom, quantity=quantity, **more)


def return_to_stock(item: Item, storeroom: Storeroom, quantity: int, **more: Any) -> Booked:
    return book(MovementKind.RETURN, item, storeroom, quantity=quantity, **more)


def scrap(item: Item, storeroom: Storeroom, quantity: int, **more: Any) -> Booked:
    return book(MovementKind.SCRAP, item, storeroom, quantity=quantity, **more)


def transfer(item: Item, storeroom: Storeroom, to_storeroom: Storeroom, quantity: int, **more: Any) -> Booked:
    return book(MovementKind.TRANSFER, item, storeroom, to_storeroom=to_storeroom, quantity=quantity, **more)


def count(item: Item, storeroom: Storeroom, counted: int, **more: Any) -> Booked:
    return book(MovementKind.COUNT, item, storeroom, counted=counted, **more)
