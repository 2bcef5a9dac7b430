"""The items that storerooms hold, and the positions in use that they serve: loaded once for every question about the assortment."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import F, Q, Sum

from drives.demand.cover import CoverEdge, cover_map
from drives.models import Criticality, Installation, Position
from inventory.interchange.vocabulary import GRADE_RANK, BoreType, Grade
from inventory.models import HoldingReason, Item, Lifecycle, PartKind, StockLevel, StockPolicy
from inventory.models.access_scope import current_scope, in_storerooms

GENERAL_BORES = frozenset({BoreType.PLAIN.value, BoreType.TAPERED.value, BoreType.QD.value})
"""Pilot-bored, or for a bush: one item serves many shafts."""


@dataclass(frozen=True, slots=True)
class HeldItem:
    """A sprocket of the catalogue; `pieces` are those available in the storerooms in scope."""

    item_id: int
    stock_number: str
    description: str
    bore_type: str
    unit_cost: Decimal | None
    currency: str
    lifecycle: str
    holding_reason: str
    is_held: bool
    """On hand or with a policy in any storeroom."""
    pieces: int

    @property
    def is_general(self) -> bool:
        return self.bore_type in GENERAL_BORES

    @property
    def is_active(self) -> bool:
        return self.lifecycle == Lifecycle.ACTIVE

    @property
    def is_kept_for_a_reason(self) -> bool:
        return self.holding_reason in (HoldingReason.INSURANCE, HoldingReason.PROJECT)


@dataclass(frozen=True, slots=True)
class UsedPosition:
    """A position in use, in any plant; `is_visible` says whether the caller may see it."""

    position_id: int
    tag: str
    storeroom_id: int
    criticality: str
    is_lifting: bool
    is_visible: bool

    @property
    def is_vital(self) -> bool:
        return self.criticality == Criticality.VITAL


@dataclass(frozen=True)
class Holdings:
    """Cover is that of all plants: an item that leaves one storeroom's list may be what another plant needs."""

    items: Mapping[int, HeldItem]
    positions: Mapping[int, UsedPosition]
    cover: Mapping[int, tuple[CoverEdge, ...]]
    """By position in use, down to `with_work`."""
    fitted: Mapping[int, int]
    """By position, the item last fitted for good."""

    def held_edges(self, position: int) -> list[CoverEdge]:
        """What is held and active there, the best first."""
        return [edge for edge in self.cover.get(position, ()) if self._serves(edge.item_id)]

    def _serves(self, item: int) -> bool:
        found = self.items.get(item)
        return found is not None and found.is_held and found.is_active


def best_first(edge: CoverEdge) -> tuple[int, bool, int, int]:
    """By grade, then by minutes of work; unknown minutes come last."""
    return GRADE_RANK[Grade(edge.grade)], edge.work_minutes is None, edge.work_minutes or 0, edge.item_id


def load_holdings(today: date) -> Holdings:
    """Five queries; linear in the rows of cover, stock and positions."""
    positions = _positions_in_use(today)
    cover: dict[int, list[CoverEdge]] = defaultdict(list)
    for edge in cover_map("with_work").edges:
        if edge.position_id in positions:
            cover[edge.position_id].append(edge)
    return Holdings(
        items=_sprockets(),
        positions=positions,
        cover={position: tuple(sorted(edges, key=best_first)) for position, edges in cover.items()},
        fitted=Installation.objects.last_for_good().items_by_position(),
    )


def _positions_in_use(today: date) -> dict[int, UsedPosition]:
    plant, plants = "drive__equipment__area__plant", current_scope().plants
    in_use = Position.objects.exclude(Q(in_use_until__lt=today) | Q(drive__in_use_until__lt=today)).order_by(
        "tag"
    )
    rows = in_use.values_list(
        "id", "tag", f"{plant}__storeroom_id", "drive__criticality", "drive__lifting", f"{plant}_id"
    )
    return {
        pk: UsedPosition(pk, tag, room or 0, criticality, lifting, plants is None or of_plant in plants)
        for pk, tag, room, criticality, lifting, of_plant in rows
    }


def _sprockets() -> dict[int, HeldItem]:
    pieces = dict(
        in_storerooms(StockLevel.objects.available())
        .order_by()
        .values_list("item")
        .annotate(free=Sum(F("on_hand") - F("reserved")))
    )
    held = set(StockLevel.objects.not_empty().order_by().values_list("item", flat=True))
    held |= set(StockPolicy.objects.order_by().values_list("item", flat=True))
    rows: Any = Item.objects.filter(specification__kind=PartKind.SPROCKET).order_by("stock_number")
    columns = ("id", "stock_number", "description", "specification__bore_type", "unit_cost", "currency")
    return {
        row[0]: HeldItem(*(*row, row[0] in held, pieces.get(row[0], 0)))
        for row in rows.values_list(*columns, "lifecycle", "holding_reason")
    }
