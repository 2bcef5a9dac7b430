"""The shelves that an act may be about; of chain, every length that lies there is a choice of its own."""

from collections.abc import Collection
from dataclasses import dataclass, replace

from django.utils.translation import gettext as _

from api.edge.scope import visible_to_caller
from inventory.catalogue.stock_on_hand import ShelfStock, load_stock_of_items
from inventory.models import Condition, Item, StockLevel, StockPiece, Storeroom
from inventory.models.item import Unit

MOST_STOREROOMS = 50


@dataclass(frozen=True)
class ShelfChoice:
    """`piece` is one length of chain; None where the shelf is meant as a whole."""

    shelf: ShelfStock
    piece: StockPiece | None = None
    is_chain: bool = False

    @property
    def key(self) -> str:
        name = f"{self.shelf.storeroom}/{self.shelf.condition}"
        return f"{name}/{self.piece.pk}" if self.piece else name

    @property
    def on_hand(self) -> int:
        return self.piece.links if self.piece else self.shelf.on_hand

    @property
    def words(self) -> str:
        shelf = self.shelf
        place = f"{shelf.storeroom}, {shelf.bin}" if shelf.bin else shelf.storeroom
        if self.piece is not None:
            name = _("{place}: the piece of {links} links").format(place=place, links=self.piece.links)
            return f"{name}, {self.piece.label}" if self.piece.label else name
        words = (
            _("{place}, {condition}: {available} links available of {on_hand}, any piece")
            if self.is_chain
            else _("{place}, {condition}: {available} available of {on_hand}")
        )
        return words.format(
            place=place,
            condition=Condition(shelf.condition).label,
            available=shelf.available,
            on_hand=shelf.on_hand,
        )


def shelves_of_item(
    item: Item, conditions: Collection[str], near: int | None, *, with_empty: bool = False
) -> list[ShelfChoice]:
    """Where it is best taken from first: available, and in the storeroom nearby."""
    known = load_stock_of_items([item.pk]).of_item(item.pk)
    shelves = [one for one in known if one.condition in conditions]
    if with_empty:
        shelves += _empty_shelves(
            item, {one.storeroom_id for one in shelves if one.condition == Condition.NEW}
        )
    shelves.sort(key=lambda one: (one.available < 1, one.storeroom_id != near))
    if item.unit != Unit.LINK:
        return [ShelfChoice(one) for one in shelves]
    pieces = list(
        StockPiece.objects.filter(level__item=item, links__gt=0)
        .select_related("level")
        .order_by("-links", "pk")
    )
    found = []
    for shelf in shelves:
        found.append(ShelfChoice(shelf, is_chain=True))
        place = shelf.storeroom_id, shelf.condition
        found += [
            ShelfChoice(shelf, one, is_chain=True)
            for one in pieces
            if (one.level.storeroom_id, one.level.condition) == place
        ]
    return found


def shelf_by_key(item: Item, conditions: Collection[str], key: str) -> list[ShelfChoice]:
    """The one of that key as the book has it now, whatever lies on it; none where there never was one."""
    pieces = StockPiece.objects.filter(level__item=item).order_by("pk")
    levels = StockLevel.objects.with_places().filter(item=item, condition__in=conditions)
    for level in visible_to_caller(levels):
        whole = ShelfChoice(_as_shelf(level), is_chain=item.unit == Unit.LINK)
        parts = pieces.filter(level=level) if key.startswith(f"{whole.key}/") else ()
        for choice in (whole, *(replace(whole, piece=one) for one in parts)):
            if choice.key == key:
                return [choice]
    return []


def _as_shelf(level: StockLevel) -> ShelfStock:
    return ShelfStock(
        stock_number=level.item.stock_number,
        storeroom_id=level.storeroom_id,
        storeroom=level.storeroom.code,
        bin=level.bin.code if level.bin else None,
        condition=level.condition,
        on_hand=level.on_hand,
        reserved=level.reserved,
        available=level.available,
        transfer_minutes=None,
    )


def _empty_shelves(item: Item, known: set[int]) -> list[ShelfStock]:
    """Of new pieces, in every storeroom where the book has none: what lies there can be counted all the same."""
    levels = StockLevel.objects.of_item(item).filter(condition=Condition.NEW)
    bins = dict(levels.values_list("storeroom", "bin__code"))
    rooms = visible_to_caller(Storeroom.objects.exclude(pk__in=known).order_by("code"))[:MOST_STOREROOMS]
    return [
        ShelfStock(
            stock_number=item.stock_number,
            storeroom_id=room.pk,
            storeroom=room.code,
            bin=bins.get(room.pk),
            condition=Condition.NEW,
            on_hand=0,
            reserved=0,
            available=0,
            transfer_minutes=None,
        )
        for room in sorted(rooms, key=lambda room: (room.pk not in bins, room.code))
    ]
