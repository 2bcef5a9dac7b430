"""Locks stock levels in the order of their ids, and writes back what changed on them."""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import TypeVar

from django.db.models import F, Q

from inventory.models import (
    Item,
    Kit,
    KitState,
    Reservation,
    ReservationState,
    StockEntry,
    StockLevel,
    StockPiece,
    Storeroom,
    Unit,
)
from inventory.stores.ledger.refusals import ShelfMoved
from inventory.stores.ledger.shelf import Key, Shelf

AT_ONCE = 500
"""Keys per query: below what either database takes as parameters of one statement."""

T = TypeVar("T")


def chunks(values: Sequence[T]) -> Iterator[Sequence[T]]:
    for start in range(0, len(values), AT_ONCE):
        yield values[start : start + AT_ONCE]


def lock_shelves(
    wanted: Mapping[Key, Shelf], *, adding: Collection[Key] = (), named_pieces: Collection[int] = ()
) -> None:
    """Fill the shelves from their locked levels; a level that something comes to is made where it is missing."""
    ids = _level_ids(wanted)
    missing = sorted(key for key in adding if key not in ids)
    if missing:
        StockLevel.objects.bulk_create(
            [StockLevel(item_id=key[0], storeroom_id=key[1], condition=key[2]) for key in missing],
            ignore_conflicts=True,
        )
        ids |= _level_ids(missing)
    for chunk in chunks(sorted(ids.values())):
        for level in StockLevel.objects.select_for_update().filter(pk__in=chunk).order_by("pk"):
            _fill(wanted[level.item_id, level.storeroom_id, level.condition], level)
    for key in missing:
        wanted[key].is_new = True
    _add_pieces(wanted, named_pieces)
    _add_holds(wanted)


def locked_shelf(item: Item, storeroom: Storeroom, condition: str) -> Shelf:
    """One shelf, filled from its locked level."""
    shelf = Shelf(item, storeroom, condition)
    lock_shelves({(item.pk, storeroom.pk, condition): shelf})
    return shelf


def write_shelves(shelves: Iterable[Shelf], now: datetime) -> None:
    """Write what changed; the guard holds even where the database did not lock."""
    for shelf in shelves:
        if shelf.level is None:
            continue
        if shelf.is_new and not shelf.entries:
            _drop_unused(shelf, shelf.level)
            continue
        _write_level(shelf, shelf.level, now)
        for piece in shelf.changed_pieces:
            StockPiece.objects.filter(pk=piece.pk).update(links=piece.links, updated_at=now)
        StockPiece.objects.bulk_create([piece for piece in shelf.pieces if piece.pk is None])
        for hold in shelf.changed_holds:
            _write_hold(hold, now)


def settle_kits(holds: Iterable[Reservation], now: datetime) -> None:
    """A kit of which nothing is held back any more has ended: its row is locked after the levels, never before."""
    kits = sorted({hold.kit_id for hold in holds if hold.kit_id is not None})
    for kit in Kit.objects.select_for_update().alive().filter(pk__in=kits).order_by("pk") if kits else ():
        states = set(Reservation.objects.filter(kit=kit).values_list("state", flat=True))
        if ReservationState.OPEN not in states:
            ended = KitState.USED if ReservationState.USED in states else KitState.RELEASED
            Kit.objects.filter(pk=kit.pk).update(state=ended, updated_at=now)


def _level_ids(keys: Iterable[Key]) -> dict[Key, int]:
    wanted = set(keys)
    storerooms = sorted({key[1] for key in wanted})
    ids: dict[Key, int] = {}
    for items in chunks(sorted({key[0] for key in wanted})):
        rows = StockLevel.objects.filter(item_id__in=items, storeroom_id__in=storerooms)
        for pk, item, storeroom, condition in rows.values_list("pk", "item_id", "storeroom_id", "condition"):
            if (item, storeroom, condition) in wanted:
                ids[item, storeroom, condition] = pk
    return ids


def _fill(shelf: Shelf, level: StockLevel) -> None:
    shelf.level = level
    shelf.on_hand = shelf.booked_on_hand = level.on_hand
    shelf.reserved = shelf.booked_reserved = level.reserved
    shelf.last_counted_at = level.last_counted_at
    shelf.bin_id = level.bin_id


def _add_pieces(wanted: Mapping[Key, Shelf], named: Collection[int]) -> None:
    by_level = {
        shelf.level.pk: shelf for shelf in wanted.values() if shelf.level and shelf.item.unit == Unit.LINK
    }
    for chunk in chunks(sorted(by_level)):
        pieces = StockPiece.objects.filter(Q(links__gt=0) | Q(pk__in=list(named)), level_id__in=chunk)
        for piece in pieces.order_by("pk"):
            by_level[piece.level_id].pieces.append(piece)


def _add_holds(wanted: Mapping[Key, Shelf]) -> None:
    items = sorted({key[0] for key, shelf in wanted.items() if shelf.reserved})
    for chunk in chunks(items):
        for hold in Reservation.objects.open().with_places().filter(item_id__in=chunk).order_by("pk"):
            shelf = wanted.get((hold.item_id, hold.storeroom_id, hold.condition))
            if shelf is not None:
                shelf.holds.append(hold)


def _write_level(shelf: Shelf, level: StockLevel, now: datetime) -> None:
    more, more_reserved = shelf.on_hand - shelf.booked_on_hand, shelf.reserved - shelf.booked_reserved
    same_day = (shelf.last_counted_at, shelf.bin_id) == (level.last_counted_at, level.bin_id)
    if not more and not more_reserved and same_day:
        return
    as_locked = StockLevel.objects.filter(
        pk=level.pk, on_hand=shelf.booked_on_hand, reserved=shelf.booked_reserved
    )
    written = as_locked.update(
        on_hand=F("on_hand") + more,
        reserved=F("reserved") + more_reserved,
        last_counted_at=shelf.last_counted_at,
        bin_id=shelf.bin_id,
        updated_at=now,
    )
    if written != 1:
        raise ShelfMoved(f"Level {level.pk} changed under its lock: nothing was booked.")


def _write_hold(hold: Reservation, now: datetime) -> None:
    still_open = Reservation.objects.filter(pk=hold.pk, state=ReservationState.OPEN)
    ended = still_open.update(
        open_quantity=hold.open_quantity,
        state=hold.state,
        short_quantity=hold.short_quantity,
        taken_by=hold.taken_by,
        taken_reason=hold.taken_reason,
        updated_at=now,
    )
    if ended != 1:
        raise ShelfMoved(f"Reservation {hold.pk} ended under its lock: nothing was booked.")


def _drop_unused(shelf: Shelf, level: StockLevel) -> None:
    """A level made for a movement that was then refused; somebody else may have used it by now."""
    unused = StockLevel.objects.filter(pk=level.pk, on_hand=0, reserved=0)
    entries = StockEntry.objects.filter(item=shelf.item, storeroom=shelf.storeroom, condition=shelf.condition)
    if not shelf.pieces and not entries.exists():
        unused.delete()
