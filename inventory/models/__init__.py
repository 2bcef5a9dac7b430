"""The records of the storerooms, with their database constraints."""

from inventory.models.checks import CountCause, CountState, CountTask, FitQuestion, Lease
from inventory.models.deliveries import DeliveryCheck, DeliveryOutcome
from inventory.models.duplicates import (
    DuplicateGroup,
    DuplicateMember,
    DuplicateShelf,
    Likeness,
    Merge,
    MergeLine,
    MergeState,
    MergeStep,
)
from inventory.models.event import Event
from inventory.models.item import HoldingReason, Item, Lifecycle, Unit
from inventory.models.kits import Kit, KitState
from inventory.models.places import Bin, MachineShop, OpeningHours, Storeroom, TransferTime
from inventory.models.rules import PlantSetting, Rule, ShopTime
from inventory.models.run_downs import RunDown
from inventory.models.specification import CHAIN_KINDS, PartKind, Specification
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
    with_stock_totals,
)
from inventory.models.stocking import (
    Importance,
    Recommendation,
    RecommendationState,
    RunState,
    ServiceTarget,
    StockingRun,
    StockingTerms,
    StockPolicy,
    TargetKind,
)
from inventory.models.supply import SupplyOrder, SupplyStatus
