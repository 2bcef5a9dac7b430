"""Moves all stock and open reservations of one number to another one, and back; each pair of movements is a transfer in its storeroom.

The levels of the number that goes are closed under the lock, so whoever waited for them books nothing there.
"""

import uuid
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import connection
from django.db.models import QuerySet

from inventory.facts import Fact, fact
from inventory.models import (
    Item,
    MovementKind,
    Reservation,
    StockEntry,
    StockLevel,
    StockPiece,
    Storeroom,
    Unit,
)
from inventory.stores.ledger.booking import Batch, new_entry, write
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Movement, Who
from inventory.stores.ledger.movement_events import publish_reservations
from inventory.stores.ledger.shelf import LockedShelf, ShelfKey


@dataclass(frozen=True, slots=True)
class MovedStock:
    """One pair of movements: whole, or one piece of chain."""

    storeroom: Storeroom
    condition: str
    quantity: int
    transfer: uuid.UUID
    bin_id: int | None = None
    """Where the number that stays lay before."""


@dataclass(frozen=True, slots=True)
class MovedReservation:
    reservation: Reservation
    open_quantity: int


@dataclass(frozen=True, slots=True)
class Renumbered:
    stock: tuple[MovedStock, ...]
    reservations: tuple[MovedReservation, ...]


def lock_items(items: Iterable[Item]) -> dict[int, Item]:
    """The items as they are now, locked in the order of their ids and before any level."""
    assert connection.in_atomic_block, "A lock is held to the end of a transaction."
    rows = Item.objects.select_for_update(of=("self",), no_key=True).select_related("specification")
    return {item.pk: item for item in rows.filter(pk__in={item.pk for item in items}).order_by("pk")}


def move_number(item: Item, into: Item, *, by: Who, reason: str, at: datetime) -> Renumbered:
    """Everything of `item` that lies on shelves or is reserved goes on as `into`; its levels are closed. Both are locked."""
    levels = list(StockLevel.objects.filter(item=item).with_places().order_by("pk"))
    shelves = _locked(levels, item, into)
    batch = Batch(at, shelves)
    stock: list[MovedStock] = []
    held: list[MovedReservation] = []
    for level in levels:
        source = shelves[item.pk, level.storeroom_id, level.condition]
        target = shelves.get((into.pk, level.storeroom_id, level.condition))
        if target is None:
            continue
        held += _take_reservations(source, target, source.reservations)
        stock += _move_shelf(batch, source, target, by=by, reason=reason)
    _write(batch, held, into)
    StockLevel.objects.filter(item=item).update(is_closed=True, updated_at=at)
    return Renumbered(tuple(stock), tuple(held))


def bring_back_number(
    item: Item,
    into: Item,
    *,
    stock: Sequence[MovedStock],
    reservations: Sequence[MovedReservation],
    by: Who,
    reason: str,
    at: datetime,
) -> tuple[Fact, ...]:
    """Undo `move_number`; gives what cannot be put back. Where there is anything, nothing may be kept: roll back."""
    StockLevel.objects.filter(item=item).update(is_closed=False, updated_at=at)
    levels = list(StockLevel.objects.filter(item=item).with_places().order_by("pk"))
    shelves = _locked(levels, item, into)
    batch = Batch(at, shelves)
    obstacles: list[Fact] = []
    opened = {one.reservation.pk: one for one in reservations}
    held: list[MovedReservation] = []
    for level in levels:
        source = shelves[item.pk, level.storeroom_id, level.condition]
        target = shelves.get((into.pk, level.storeroom_id, level.condition))
        if target is None:
            continue
        own = [one for one in target.reservations if one.pk in opened]
        held += _take_reservations(target, source, own)
        moved = [
            one for one in stock if (one.storeroom.pk, one.condition) == (level.storeroom_id, level.condition)
        ]
        obstacles += _bring_back_shelf(batch, source, target, moved, by=by, reason=reason)
    if not obstacles:
        _write(batch, held, item)
    return tuple(obstacles)


def legs_of(ways: Iterable[uuid.UUID | None]) -> QuerySet[StockEntry]:
    """The legs of pairs, the leg out first."""
    legs = StockEntry.objects.filter(transfer__in=list(ways), reverses__isnull=True)
    return legs.select_related("item", "storeroom", "piece").order_by("pk")


def piece_now(piece: StockPiece, current: Item) -> StockPiece:
    """The piece of chain that goes on for it under that number; itself where it was not moved."""
    while piece.level.item_id != current.pk:
        out = piece.entries.filter(kind=MovementKind.TRANSFER, change__lt=0, reverses__isnull=True)
        arrivals = legs_of(out.values_list("transfer", flat=True)).filter(change__gt=0)
        arrival = arrivals.exclude(item=piece.level.item_id).select_related("piece__level").last()
        if arrival is None or arrival.piece is None:
            return piece
        piece = arrival.piece
    return piece


def _locked(levels: Sequence[StockLevel], item: Item, into: Item) -> dict[ShelfKey, LockedShelf]:
    """The shelves of both numbers wherever there is something of the one that goes or came."""
    shelves: dict[ShelfKey, LockedShelf] = {}
    adding: list[ShelfKey] = []
    for level in levels:
        key = (into.pk, level.storeroom_id, level.condition)
        shelves[item.pk, *key[1:]] = LockedShelf(item, level.storeroom, level.condition)
        shelves[key] = LockedShelf(into, level.storeroom, level.condition)
        adding.append(key)
    pieces = StockPiece.objects.filter(level__in=[level.pk for level in levels])
    named = list(pieces.values_list("pk", flat=True)) if item.unit == Unit.LINK else []
    lock_shelves(shelves, adding=adding, named_pieces=named)
    return shelves


def _take_reservations(
    source: LockedShelf, target: LockedShelf, chosen: Sequence[Reservation]
) -> list[MovedReservation]:
    """In memory only: the stock for them follows."""
    moved = [MovedReservation(one, one.open_quantity) for one in chosen]
    for one in moved:
        source.reservations.remove(one.reservation)
        target.reservations.append(one.reservation)
        source.reserved -= one.open_quantity
        target.reserved += one.open_quantity
    return moved


def _move_shelf(
    batch: Batch, source: LockedShelf, target: LockedShelf, *, by: Who, reason: str
) -> list[MovedStock]:
    if not source.is_in_links:
        parts: list[tuple[int, StockPiece | None]] = [(source.on_hand, None)] if source.on_hand else []
    else:
        parts = [(piece.links, piece) for piece in source.pieces if piece.links]
    moved = []
    for quantity, piece in parts:
        label = piece.label if piece is not None else ""
        movement = _movement(source, quantity, by=by, reason=reason)
        way = uuid.uuid4()
        taken = source.take(quantity, piece=piece)
        out = new_entry(movement, source, -quantity, batch.now, piece=taken, **_pair(source, way))
        arrived = target.put(quantity, label=label)
        batch.add(source, out)
        entry = new_entry(movement, target, quantity, batch.now, piece=arrived, **_pair(source, way))
        batch.add(target, entry)
        moved.append(MovedStock(source.storeroom, source.condition, quantity, way, target.bin_id))
    if moved:
        target.bin_id = target.bin_id or source.bin_id
    return moved


def _bring_back_shelf(
    batch: Batch,
    source: LockedShelf,
    target: LockedShelf,
    moved: Sequence[MovedStock],
    *,
    by: Who,
    reason: str,
) -> list[Fact]:
    """Reverse each pair; what is missing on the shelf that has it now is named, with what is left there."""
    wanted = sum(one.quantity for one in moved)
    # What is reserved under the old number comes back with its reservation; the rest must be free.
    if wanted > target.available or source.reserved > wanted:
        return [_missing(source, target, wanted)]
    by_way: dict[uuid.UUID | None, list[StockEntry]] = {one.transfer: [] for one in moved}
    for entry in legs_of(one.transfer for one in moved):
        by_way[entry.transfer].append(entry)
    for one in moved:
        out, arrival = by_way[one.transfer]
        piece = arrival.piece and target.find_piece(arrival.piece)
        if arrival.piece is not None and (piece is None or piece.links != one.quantity):
            return [_missing(source, target, wanted)]
        movement = _movement(source, one.quantity, by=by, reason=reason)
        taken = target.take(one.quantity, piece=piece)
        pair = _pair(source, one.transfer)
        back = new_entry(movement, target, -one.quantity, batch.now, piece=taken, reverses=arrival, **pair)
        batch.add(target, back)
        own = source.put_back(one.quantity, out.piece)
        batch.add(
            source, new_entry(movement, source, one.quantity, batch.now, piece=own, reverses=out, **pair)
        )
    if moved and target.bin_id == source.bin_id:
        target.bin_id = moved[0].bin_id
    return []


def _missing(source: LockedShelf, target: LockedShelf, wanted: int) -> Fact:
    return fact(
        "merged_stock_gone",
        item=source.item.stock_number,
        into=target.item.stock_number,
        storeroom=source.storeroom.code,
        condition=str(source.condition),
        moved=wanted,
        available=target.available,
        on_hand=target.on_hand,
    )


def _movement(source: LockedShelf, quantity: int, *, by: Who, reason: str) -> Movement:
    return Movement(
        kind=MovementKind.TRANSFER,
        item=source.item,
        storeroom=source.storeroom,
        condition=source.condition,
        to_storeroom=source.storeroom,
        quantity=quantity,
        by=by,
        reason=reason,
    )


def _pair(source: LockedShelf, way: uuid.UUID) -> dict[str, object]:
    return {"transfer": way, "other_storeroom": source.storeroom}


def _write(batch: Batch, held: Sequence[MovedReservation], item: Item) -> None:
    keys = [one.reservation.pk for one in held]
    write(batch)
    Reservation.objects.filter(pk__in=keys).update(item=item, updated_at=batch.now)
    for one in held:
        one.reservation.item = item
    publish_reservations("renumbered", [one.reservation for one in held], batch.now)
