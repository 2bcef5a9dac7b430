"""Administration pages; stock is written by the ledger alone."""

from inventory.admin.catalogue import ItemAdmin, SpecificationAdmin
from inventory.admin.checks import CountTaskAdmin, EventAdmin, FitQuestionAdmin, KitAdmin, LeaseAdmin
from inventory.admin.places import (
    BinAdmin,
    MachineShopAdmin,
    OpeningHoursAdmin,
    StoreroomAdmin,
    TransferTimeAdmin,
)
from inventory.admin.rules import RuleAdmin, ShopTimeAdmin
from inventory.admin.stock import ReservationAdmin, StockEntryAdmin, StockLevelAdmin, StockPieceAdmin
from inventory.admin.stocking import (
    RecommendationAdmin,
    ServiceTargetAdmin,
    StockingRunAdmin,
    StockingTermsAdmin,
    StockPolicyAdmin,
    SupplyOrderAdmin,
)

__all__ = [
    "BinAdmin",
    "CountTaskAdmin",
    "EventAdmin",
    "FitQuestionAdmin",
    "ItemAdmin",
    "KitAdmin",
    "LeaseAdmin",
    "MachineShopAdmin",
    "OpeningHoursAdmin",
    "RecommendationAdmin",
    "ReservationAdmin",
    "RuleAdmin",
    "ServiceTargetAdmin",
    "ShopTimeAdmin",
    "SpecificationAdmin",
    "StockEntryAdmin",
    "StockLevelAdmin",
    "StockPieceAdmin",
    "StockPolicyAdmin",
    "StockingRunAdmin",
    "StockingTermsAdmin",
    "StoreroomAdmin",
    "SupplyOrderAdmin",
    "TransferTimeAdmin",
]
