"""What lies in the storerooms for an answer: the stock of some items, and the available parts that go with a sprocket."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from django.db.models import F, FilteredRelation, OuterRef, Q, QuerySet, Subquery, Value

from inventory.catalogue.core_values import number, word_or_none
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.vocabulary import KeyStandard
from inventory.models import PartKind, Specification, StockLevel, Storeroom, TransferTime
from inventory.models.access_scope import in_storerooms
from inventory.standards.sizes import same_nominal

COMPANION_KINDS = (PartKind.BUSH, PartKind.KEY, PartKind.CHAIN, PartKind.JOINING_LINK, PartKind.CRANKED_LINK)


@dataclass(frozen=True)
class ShelfStock:
    """One row of stock of one item. `transfer_minutes` lead to the storeroom of the question; None where not recorded."""

    item_id: int
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
    """An available bush, key, chain or link; chain with the lengths of its pieces in links, longest first."""

    specification: Specification
    shelf: ShelfStock
    piece_links: tuple[int, ...]


@dataclass(frozen=True)
class StockOnHand:
    """Stock of items, largest quantity first; the available companions; the storerooms in which any of it lies."""

    of_items: Mapping[int, tuple[ShelfStock, ...]]
    companions: tuple[CompanionShelf, ...]
    storerooms: tuple[Storeroom, ...]

    def of_item(self, item_id: int) -> tuple[ShelfStock, ...]:
        return self.of_items.get(item_id, ())

    def of_kind(self, *kinds: str) -> list[CompanionShelf]:
        return [row for row in self.companions if row.specification.kind in kinds]

    def bushes(self, size: str, bore_mm: float) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.BUSH)
            if row.specification.bush_size.upper() == size.upper()
            and row.specification.bore_mm is not None
            and same_nominal(row.specification.bore_mm, bore_mm)
        ]

    def keys(self, width_mm: float) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.KEY)
            if row.specification.keyway_width_mm is not None
            and same_nominal(row.specification.keyway_width_mm, width_mm)
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
                    size=row.specification.bush_size,
                    bore_mm=float(row.specification.bore_mm),
                    keyway_width_mm=number(row.specification.keyway_width_mm),
                    key_standard=word_or_none(KeyStandard, row.specification.key_standard),
                    available=row.shelf.available,
                )
                for row in self.of_kind(PartKind.BUSH)
                if row.specification.bore_mm is not None
            )
        )


def _of_chain(rows: list[CompanionShelf], designation: str, strands: int) -> list[CompanionShelf]:
    return [
        row
        for row in rows
        if row.specification.chain_designation == designation and row.specification.strands == strands
    ]


def load_stock(item_ids: Iterable[int], *, to_storeroom_id: int | None = None) -> StockOnHand:
    """Stock of the items and of every companion; one query."""
    companions = StockLevel.objects.available().filter(item__specification__kind__in=COMPANION_KINDS)
    # A union and not an OR: each part keeps the index that serves it.
    rows = _of_items(item_ids, to_storeroom_id).union(
        _with_places(companions, to_storeroom_id, is_companion=True), all=True
    )
    return _gathered(rows, to_storeroom_id)


def load_stock_of_items(item_ids: Iterable[int], *, to_storeroom_id: int | None = None) -> StockOnHand:
    """Stock of the items alone; one query."""
    return _gathered(_of_items(item_ids, to_storeroom_id), to_storeroom_id)


def _of_items(item_ids: Iterable[int], to_storeroom_id: int | None) -> QuerySet[Any]:
    levels = StockLevel.objects.not_empty().filter(item_id__in=list(item_ids))
    return _with_places(levels, to_storeroom_id, is_companion=False)


def _with_places(
    levels: QuerySet[StockLevel], to_storeroom_id: int | None, *, is_companion: bool
) -> QuerySet[Any]:
    """The visible rows with what is shown of them; a row of chain comes once for each of its pieces."""
    way = TransferTime.objects.filter(from_storeroom=OuterRef("storeroom"), to_storeroom=to_storeroom_id)
    return (
        in_storerooms(levels)
        .select_related("item__specification", "storeroom", "bin")
        .annotate(
            stock_number=F("item__stock_number"),
            transfer_minutes=Subquery(way.order_by().values("minutes")[:1]),
            piece=FilteredRelation("pieces", condition=Q(pieces__links__gt=0)),
            links=F("piece__links"),
            is_companion=Value(is_companion),
        )
        .order_by()
    )


def _gathered(rows: QuerySet[Any], to_storeroom_id: int | None) -> StockOnHand:
    levels: dict[int, Any] = {}
    links: dict[int, list[int]] = defaultdict(list)
    for row in rows.order_by("stock_number", "storeroom_id", "condition"):
        levels.setdefault(row.pk, row)
        if row.links is not None:
            links[row.pk].append(row.links)
    of_items: dict[int, list[ShelfStock]] = defaultdict(list)
    companions = []
    for level in levels.values():
        shelf = _shelf_of(level, to_storeroom_id)
        if level.is_companion:
            pieces = tuple(sorted(links[level.pk], reverse=True))
            companions.append(CompanionShelf(level.item.specification, shelf, pieces))
        else:
            of_items[level.item_id].append(shelf)
    return StockOnHand(
        of_items={
            item: tuple(sorted(shelves, key=lambda shelf: -shelf.on_hand))
            for item, shelves in of_items.items()
        },
        companions=tuple(companions),
        storerooms=tuple({level.storeroom_id: level.storeroom for level in levels.values()}.values()),
    )


def _shelf_of(level: Any, to_storeroom_id: int | None) -> ShelfStock:
    return ShelfStock(
        item_id=level.item_id,
        stock_number=level.item.stock_number,
        storeroom_id=level.storeroom_id,
        storeroom=level.storeroom.code,
        bin=level.bin.code if level.bin else None,
        condition=level.condition,
        on_hand=level.on_hand,
        reserved=level.reserved,
        available=level.available,
        transfer_minutes=0 if level.storeroom_id == to_storeroom_id else level.transfer_minutes,
    )
