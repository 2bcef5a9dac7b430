"""The records of the storeroom, with the rules that the database itself holds."""

from inventory.models.item import HoldingReason, Item, Lifecycle, Unit
from inventory.models.places import Bin, MachineShop, OpeningHours, Storeroom, TransferTime
from inventory.models.rules import Rule, ShopTime
from inventory.models.specification import PartKind, Specification
from inventory.models.stock import (
    AVAILABLE_CONDITIONS,
    Condition,
    MovementKind,
    ReasonCode,
    Reservation,
    ReservationState,
    StockEntry,
    StockLevel,
    StockPiece,
    Totals,
)

__all__ = [
    "AVAILABLE_CONDITIONS",
    "Bin",
    "Condition",
    "HoldingReason",
    "Item",
    "Lifecycle",
    "MachineShop",
    "MovementKind",
    "OpeningHours",
    "PartKind",
    "ReasonCode",
    "Reservation",
    "ReservationState",
    "Rule",
    "ShopTime",
    "Specification",
    "StockEntry",
    "StockLevel",
    "StockPiece",
    "Storeroom",
    "Totals",
    "TransferTime",
    "Unit",
]
