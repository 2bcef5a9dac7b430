"""What a recommendation needs beside the demand: the item's own facts, its lead time, the policy in force."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Protocol

from inventory.models import Item, StockPolicy

Place = tuple[int, int]
"""Item and storeroom, by their ids."""


class LeadTime(Protocol):
    """From order to shelf, with the sentence that says where it was taken from."""

    @property
    def mean_days(self) -> float: ...
    @property
    def sd_days(self) -> float: ...
    @property
    def basis(self) -> str: ...
    @property
    def sentence(self) -> str: ...


class LeadTimes(Protocol):
    def of(self, item_id: int, storeroom_id: int) -> LeadTime | None: ...


class Emergency(Protocol):
    """From a stop to an emergency delivery, by past ones."""

    @property
    def hours(self) -> float: ...
    @property
    def sentence(self) -> str: ...


class Emergencies(Protocol):
    def of(self, item_id: int) -> Emergency | None: ...


@dataclass(frozen=True, slots=True)
class Levels:
    """Order when on hand + on order - reserved has fallen to `reorder_point`, up to `order_up_to`."""

    stocked: bool
    reorder_point: int
    order_up_to: int

    def as_json(self) -> dict[str, Any]:
        return {
            "stocked": self.stocked,
            "reorder_point": self.reorder_point,
            "order_up_to": self.order_up_to,
        }


HOLD_NONE = Levels(False, -1, 0)
HOLD_ONE = Levels(True, 0, 1)


@dataclass(frozen=True, slots=True, kw_only=True)
class ItemFacts:
    stock_number: str
    unit_cost: Decimal | None = None
    currency: str = "EUR"
    holding_reason: str = "usage"
    lifecycle: str = "active"

    @property
    def price(self) -> Decimal | None:
        """What a piece costs; a price of 0 is a price that nobody entered."""
        return self.unit_cost if self.unit_cost else None


def load_facts(item_ids: Iterable[int]) -> dict[int, ItemFacts]:
    """The facts of these items by item; one query, however many they are."""
    wanted = set(item_ids)
    columns = ("stock_number", "unit_cost", "currency", "holding_reason", "lifecycle")
    return {
        row["id"]: ItemFacts(**{name: row[name] for name in columns})
        for row in Item.objects.order_by().values("id", *columns)
        if row["id"] in wanted
    }


def levels_of(row: Any) -> Levels:
    return Levels(row.stocked, row.reorder_point, row.order_up_to)


def levels_in(figures: Mapping[str, Any]) -> Levels | None:
    """The levels that figures kept as JSON are those of; None where there are none."""
    if not figures:
        return None
    return Levels(figures["stocked"], figures["reorder_point"], figures["order_up_to"])


def load_policies() -> dict[Place, Levels]:
    """What is in force, by place; one query."""
    return {(row.item_id, row.storeroom_id): levels_of(row) for row in StockPolicy.objects.order_by()}
