"""The pages for those who keep the records; stock itself is written by the ledger alone."""

from inventory.admin.catalogue import ItemAdmin, SpecificationAdmin
from inventory.admin.places import (
    BinAdmin,
    MachineShopAdmin,
    OpeningHoursAdmin,
    StoreroomAdmin,
    TransferTimeAdmin,
)
from inventory.admin.rules import RuleAdmin, ShopTimeAdmin
from inventory.admin.stock import ReservationAdmin, StockEntryAdmin, StockLevelAdmin, StockPieceAdmin

__all__ = [
    "BinAdmin",
    "ItemAdmin",
    "MachineShopAdmin",
    "OpeningHoursAdmin",
    "ReservationAdmin",
    "RuleAdmin",
    "ShopTimeAdmin",
    "SpecificationAdmin",
    "StockEntryAdmin",
    "StockLevelAdmin",
    "StockPieceAdmin",
    "StoreroomAdmin",
    "TransferTimeAdmin",
]
