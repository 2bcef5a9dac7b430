"""What lies on the shelves, read in a fixed number of queries: the candidates' own stock, and the parts that go with them."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from inventory.catalogue.core_values import number, word_or_none
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.vocabulary import KeyStandard
from inventory.models import PartKind, Specification, StockLevel, StockPiece
from inventory.models.access_scope import in_storerooms
from inventory.standards.sizes import same_nominal

COMPANION_KINDS = (PartKind.BUSH, PartKind.KEY, PartKind.CHAIN, PartKind.JOINING_LINK, PartKind.CRANKED_LINK)


@dataclass(frozen=True)
class Shelf:
    """One row of stock of one item."""

    item_id: int
    stock_number: str
    storeroom_id: int
    storeroom: str
    bin: str | None
    condition: str
    on_hand: int
    reserved: int
    available: int


def shelf_of(level: StockLevel) -> Shelf:
    return Shelf(
        item_id=level.item_id,
        stock_number=level.item.stock_number,
        storeroom_id=level.storeroom_id,
        storeroom=level.storeroom.code,
        bin=level.bin.code if level.bin else None,
        condition=level.condition,
        on_hand=level.on_hand,
        reserved=level.reserved,
        available=level.available,
    )


def shelves_of(item_ids: Iterable[int]) -> dict[int, list[Shelf]]:
    """Stock of the items by item, fullest first; one query."""
    shelves: dict[int, list[Shelf]] = defaultdict(list)
    levels = in_storerooms(StockLevel.objects.with_places().filter(item_id__in=list(item_ids), on_hand__gt=0))
    for level in levels.order_by("item_id", "-on_hand", "storeroom_id", "condition"):
        shelves[level.item_id].append(shelf_of(level))
    return shelves


@dataclass(frozen=True)
class CompanionShelf:
    """A bush, key, chain or link that is free on a shelf; chain with the lengths of its pieces in links."""

    specification: Specification
    shelf: Shelf
    piece_links: tuple[int, ...] = ()


@dataclass(frozen=True)
class CompanionStock:
    """Every free bush, key, chain and link; two queries, however many candidates ask."""

    rows: tuple[CompanionShelf, ...]

    @classmethod
    def load(cls) -> "CompanionStock":
        levels = list(
            in_storerooms(StockLevel.objects.available())
            .with_places()
            .select_related("item__specification")
            .filter(item__specification__kind__in=COMPANION_KINDS)
            .order_by("item__stock_number", "storeroom_id", "condition")
        )
        pieces: dict[int, list[int]] = defaultdict(list)
        for level_id, links in StockPiece.objects.filter(level__in=levels, links__gt=0).values_list(
            "level_id", "links"
        ):
            pieces[level_id].append(links)
        return cls(
            tuple(
                CompanionShelf(
                    level.item.specification, shelf_of(level), tuple(sorted(pieces[level.pk], reverse=True))
                )
                for level in levels
                if level.item.specification is not None
            )
        )

    def of_kind(self, *kinds: str) -> list[CompanionShelf]:
        return [row for row in self.rows if row.specification.kind in kinds]

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
        return [
            row
            for row in self.of_kind(PartKind.CHAIN)
            if row.specification.chain_designation == designation and row.specification.strands == strands
        ]

    def links(self, designation: str, strands: int) -> list[CompanionShelf]:
        return [
            row
            for row in self.of_kind(PartKind.JOINING_LINK, PartKind.CRANKED_LINK)
            if row.specification.chain_designation == designation and row.specification.strands == strands
        ]

    def bushes_at_hand(self) -> BushesAtHand:
        """The free bushes as the core asks for them."""
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
