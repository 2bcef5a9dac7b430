"""What lies in the storerooms for an answer: the stock of some items, and the available parts that go with a sprocket."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import (
    Case,
    F,
    FilteredRelation,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Upper

from inventory.catalogue.core_values import core_value
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.key import keyseat_for
from inventory.interchange.requirement import Engagement, Requirement
from inventory.interchange.thresholds import Thresholds
from inventory.interchange.vocabulary import KeyStandard, ShaftKind
from inventory.models import Item, PartKind, StockLevel, TransferTime
from inventory.models.access_scope import in_storerooms
from inventory.models.engagement import DESIGNATION_TOLERANCE_MM
from inventory.models.stock import StockLevelQuerySet
from inventory.stocking.chain_pieces import pieces_left

OWN_COLUMNS = (
    *("pk", "item_id", "storeroom_id", "condition", "on_hand", "reserved", "free"),
    *("transfer_minutes", "is_companion"),
)
PART_COLUMNS = (
    *("kind", "bush_size", "bore_mm", "keyway_width_mm", "keyway_depth_mm", "key_height_mm", "key_standard"),
    *("chain_designation", "strands"),
)
COLUMNS = {
    "stock_number": "item__stock_number",
    "storeroom_code": "storeroom__code",
    "timezone": "storeroom__timezone",
    "pick_minutes": "storeroom__pick_minutes",
    "call_out_minutes": "storeroom__call_out_minutes",
    "bin_code": "bin__code",
    "links": "piece__links",
    **{name: f"item__specification__{name}" for name in PART_COLUMNS},
}
LEAST_STEP_MM = 1e-6
CHAIN_KINDS = (PartKind.CHAIN, PartKind.JOINING_LINK, PartKind.CRANKED_LINK)


@dataclass(frozen=True)
class ShelfStock:
    """One row of stock of one item. `transfer_minutes` lead to the storeroom of the question; None where not recorded."""

    stock_number: str
    storeroom_id: int
    storeroom: str
    bin: str | None
    condition: str
    on_hand: int
    reserved: int
    available: int
    transfer_minutes: int | None


@dataclass(frozen=True)
class CompanionShelf:
    """An available bush, key, chain or link; chain with its pieces in links without what is reserved, longest first."""

    shelf: ShelfStock
    kind: str
    bush_size: str | None
    bore_mm: float | None
    keyway_width_mm: float | None
    keyway_depth_mm: float | None
    key_height_mm: float | None
    key_standard: KeyStandard | None
    chain_designation: str | None
    strands: int | None
    piece_links: tuple[int, ...]


@dataclass(frozen=True)
class StoreroomTimes:
    """How quickly a storeroom hands out a piece."""

    pk: int
    timezone: str
    pick_minutes: int
    call_out_minutes: int | None


@dataclass(frozen=True)
class StockOnHand:
    """Stock of items, largest quantity first; the available companions; the storerooms in which any of it lies."""

    of_items: Mapping[int, tuple[ShelfStock, ...]]
    companions: tuple[CompanionShelf, ...]
    storerooms: tuple[StoreroomTimes, ...]

    def of_item(self, item_id: int) -> tuple[ShelfStock, ...]:
        return self.of_items.get(item_id, ())

    def of_kind(self, *kinds: str) -> list[CompanionShelf]:
        return [row for row in self.companions if row.kind in kinds]

    def bushes(self, size: str, bore_mm: float, limits: Thresholds) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.BUSH)
            if (row.bush_size or "").upper() == size.upper()
            and row.bore_mm is not None
            and limits.is_same_size(row.bore_mm, bore_mm)
        ]

    def keys(self, width_mm: float, limits: Thresholds) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.KEY)
            if row.keyway_width_mm is not None and limits.is_same_size(row.keyway_width_mm, width_mm)
        ]

    def chains(self, designation: str, strands: int) -> list[CompanionShelf]:
        return _of_chain(self.of_kind(PartKind.CHAIN), designation, strands)

    def links(self, designation: str, strands: int) -> list[CompanionShelf]:
        return _of_chain(self.of_kind(PartKind.JOINING_LINK, PartKind.CRANKED_LINK), designation, strands)

    def bushes_at_hand(self) -> BushesAtHand:
        """The available bushes as values of the core."""
        return BushesAtHand(
            tuple(
                BushAtHand(
                    size=row.bush_size or "",
                    bore_mm=row.bore_mm,
                    keyway_width_mm=row.keyway_width_mm,
                    keyway_depth_mm=row.keyway_depth_mm,
                    key_standard=row.key_standard,
                    available=row.shelf.available,
                )
                for row in self.of_kind(PartKind.BUSH)
                if row.bore_mm is not None
            )
        )


def _of_chain(rows: list[CompanionShelf], designation: str, strands: int) -> list[CompanionShelf]:
    return [row for row in rows if row.chain_designation == designation and row.strands == strands]


@dataclass(frozen=True)
class CompanionNeeds:
    """What goes with the sprockets of an answer; the shelves are searched for these sizes alone."""

    bush_sizes: frozenset[str] = frozenset()
    key_width_mm: float | None = None
    chain: Engagement | None = None
    strands: int | None = None

    @classmethod
    def of(cls, required: Requirement, items: Iterable[Item]) -> "CompanionNeeds":
        shaft = required.shaft
        is_keyed = shaft is not None and shaft.kind is ShaftKind.KEYED
        return cls(
            bush_sizes=bush_sizes_of(items),
            key_width_mm=keyseat_for(shaft).width_mm if shaft is not None and is_keyed else None,
            chain=required.chain,
            strands=required.strands,
        )

    def conditions(self, limits: Thresholds) -> Iterator[Q]:
        """One for each kind, so that each keeps the index that serves it."""
        part = "item__specification__"
        if self.bush_sizes:
            yield Q(**{f"{part}kind": PartKind.BUSH, "bush_size_upper__in": self.bush_sizes})
        if self.key_width_mm is not None:
            # A little wider than the tolerance: the core compares what comes back.
            span = limits.bore_tolerance_mm + LEAST_STEP_MM
            width = {f"{part}keyway_width_mm__gte": self.key_width_mm - span}
            yield Q(
                **width,
                **{f"{part}kind": PartKind.KEY, f"{part}keyway_width_mm__lte": self.key_width_mm + span},
            )
        if self.chain is not None and self.chain.designation and self.strands is not None:
            span = float(DESIGNATION_TOLERANCE_MM)
            yield Q(
                **{
                    f"{part}kind__in": CHAIN_KINDS,
                    f"{part}pitch_mm__gte": self.chain.pitch_mm - span,
                    f"{part}pitch_mm__lte": self.chain.pitch_mm + span,
                    f"{part}chain_designation": self.chain.designation,
                    f"{part}strands": self.strands,
                }
            )


def bush_sizes_of(items: Iterable[Item]) -> frozenset[str]:
    parts = (item.specification for item in items)
    return frozenset(part.bush_size.upper() for part in parts if part is not None and part.bush_size)


def load_stock(
    item_ids: Iterable[int],
    needs: CompanionNeeds,
    *,
    limits: Thresholds,
    to_storeroom_id: int | None = None,
) -> StockOnHand:
    """Stock of the items and of what goes with them; one query."""
    companions = StockLevel.objects.available().annotate(
        bush_size_upper=Upper("item__specification__bush_size")
    )
    # A union and not an OR: each part keeps the index that serves it.
    rows = _of_items(item_ids, to_storeroom_id).union(
        *(
            _rows(companions.filter(wanted), to_storeroom_id, is_companion=True)
            for wanted in needs.conditions(limits)
        ),
        all=True,
    )
    return _gathered(rows)


def load_stock_of_items(item_ids: Iterable[int], *, to_storeroom_id: int | None = None) -> StockOnHand:
    """Stock of the items alone; one query."""
    return _gathered(_of_items(item_ids, to_storeroom_id))


Row = dict[str, Any]
Rows = QuerySet[Any, Row]


def _of_items(item_ids: Iterable[int], to_storeroom_id: int | None) -> Rows:
    levels = StockLevel.objects.not_empty().filter(item_id__in=list(item_ids))
    return _rows(levels, to_storeroom_id, is_companion=False)


def _rows(levels: StockLevelQuerySet, to_storeroom_id: int | None, *, is_companion: bool) -> Rows:
    """The visible rows with what is shown of them; a row of chain comes once for each of its pieces."""
    way = TransferTime.objects.filter(from_storeroom=OuterRef("storeroom"), to_storeroom=to_storeroom_id)
    rows: Any = in_storerooms(levels).with_available()
    shown: Rows = (
        rows.annotate(
            piece=FilteredRelation("pieces", condition=Q(pieces__links__gt=0)),
            transfer_minutes=Case(
                When(storeroom=to_storeroom_id, then=0),
                default=Subquery(way.order_by().values("minutes")[:1]),
                output_field=IntegerField(),
            ),
            is_companion=Value(is_companion),
        )
        .order_by()
        .values(*OWN_COLUMNS, **{name: F(path) for name, path in COLUMNS.items()})
    )
    return shown


def _gathered(rows: Rows) -> StockOnHand:
    levels: dict[int, Row] = {}
    links: dict[int, list[int]] = defaultdict(list)
    for row in rows.order_by("stock_number", "storeroom_id", "condition"):
        levels.setdefault(row["pk"], row)
        if row["links"] is not None:
            links[row["pk"]].append(row["links"])
    of_items: dict[int, list[ShelfStock]] = defaultdict(list)
    for row in levels.values():
        if not row["is_companion"]:
            of_items[row["item_id"]].append(_shelf_of(row))
    return StockOnHand(
        of_items={
            item: tuple(sorted(shelves, key=lambda shelf: -shelf.on_hand))
            for item, shelves in of_items.items()
        },
        companions=tuple(
            _companion_of(row, links[row["pk"]]) for row in levels.values() if row["is_companion"]
        ),
        storerooms=tuple({row["storeroom_id"]: _storeroom_of(row) for row in levels.values()}.values()),
    )


def _shelf_of(row: Row) -> ShelfStock:
    return ShelfStock(
        stock_number=row["stock_number"],
        storeroom_id=row["storeroom_id"],
        storeroom=row["storeroom_code"],
        bin=row["bin_code"],
        condition=row["condition"],
        on_hand=row["on_hand"],
        reserved=row["reserved"],
        available=row["free"],
        transfer_minutes=row["transfer_minutes"],
    )


def _companion_of(row: Row, links: list[int]) -> CompanionShelf:
    part = {name: core_value(name, row[name]) for name in PART_COLUMNS}
    free = sorted((left for left in pieces_left(links, row["reserved"]) if left), reverse=True)
    return CompanionShelf(shelf=_shelf_of(row), **part, piece_links=tuple(free))


def _storeroom_of(row: Row) -> StoreroomTimes:
    return StoreroomTimes(row["storeroom_id"], row["timezone"], row["pick_minutes"], row["call_out_minutes"])
