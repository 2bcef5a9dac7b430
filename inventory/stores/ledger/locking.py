"""Locks stock levels and writes back what changed on them.

Everybody locks in one order: positions, then items that get a level or are merged, then stock levels by id, then count tasks
and kits. Two writers that meet wait for each
other in turn and never in a circle. On SQLite a write transaction is alone from its first statement (IMMEDIATE).
"""

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, TypeVar

from django.db import connection, router
from django.db.models import Model, Q

from inventory.models import (
    Item,
    Kit,
    KitState,
    Reservation,
    ReservationState,
    StockEntry,
    StockLevel,
    StockPiece,
    Unit,
)
from inventory.plumbing.prepared import PreparedQuery, preparing_cursor
from inventory.stores.ledger.refusals import ShelfMoved
from inventory.stores.ledger.shelf import LockedShelf, ShelfKey, shelf_key, shelves_of

AT_ONCE = 500
"""Keys per query: below what either database takes as parameters of one statement."""

LOCKED_LEVEL = PreparedQuery(
    lambda: StockLevel.objects.select_for_update(), "item_id", "storeroom_id", "condition"
)
CHANGE_LEVEL = f"""
    UPDATE {StockLevel._meta.db_table}
    SET on_hand = on_hand + %s, reserved = reserved + %s, bin_id = %s, last_counted_at = %s, updated_at = %s
    WHERE id = %s AND on_hand = %s AND reserved = %s
"""

T = TypeVar("T")


def chunks(values: Sequence[T]) -> Iterator[Sequence[T]]:
    for start in range(0, len(values), AT_ONCE):
        yield values[start : start + AT_ONCE]


def lock_shelves(
    wanted: Mapping[ShelfKey, LockedShelf],
    *,
    adding: Collection[ShelfKey] = (),
    named_pieces: Collection[int] = (),
) -> None:
    """Fill the shelves from their locked levels; a missing level in `adding` is created."""
    missing = [] if _lock_alone(wanted) else _lock_in_turn(wanted, adding)
    for key in missing:
        wanted[key].is_new = True
    # Pieces and reservations are read after the lock and need none of their own: only a holder of the level writes them.
    _add_pieces(wanted, named_pieces)
    _add_reservations(wanted)


def _lock_alone(wanted: Mapping[ShelfKey, LockedShelf]) -> bool:
    """Whether it is one level, and is there: it needs no order, so it is locked by its place, without a look for its id."""
    if len(wanted) != 1:
        return False
    ((place, shelf),) = wanted.items()
    assert connection.in_atomic_block, "A lock is held to the end of a transaction."
    level = LOCKED_LEVEL.first(*place)
    if level is not None:
        _fill(shelf, level)
    return level is not None


def _lock_in_turn(wanted: Mapping[ShelfKey, LockedShelf], adding: Collection[ShelfKey]) -> list[ShelfKey]:
    """Lock the levels by id; gives those that were created."""
    ids = _level_ids(wanted)
    missing = sorted(key for key in adding if key not in ids)
    missing = _of_open_numbers(missing, wanted) if missing else missing
    if missing:
        # Somebody may create the same level at this moment: the conflict is ignored and their row is used.
        StockLevel.objects.bulk_create(
            [StockLevel(item_id=key[0], storeroom_id=key[1], condition=key[2]) for key in missing],
            ignore_conflicts=True,
        )
        ids |= _level_ids(missing)
    # Sorted ids across all chunks, and order_by within one: rows are locked in the order in which they are returned.
    for chunk in chunks(sorted(ids.values())):
        for level in StockLevel.objects.select_for_update().filter(pk__in=chunk).order_by("pk"):
            _fill(wanted[level.item_id, level.storeroom_id, level.condition], level)
    return missing


def _of_open_numbers(missing: Sequence[ShelfKey], wanted: Mapping[ShelfKey, LockedShelf]) -> list[ShelfKey]:
    """Without the shelves of merged numbers, which get no new level and are closed."""
    closed: set[int] = set()
    for items in chunks(sorted({key[0] for key in missing})):
        # Locked until the new level is there: a merge, which locks its items first, waits for it or is seen here.
        rows = Item.objects.select_for_update(no_key=True).filter(pk__in=items).order_by("pk")
        closed |= {pk for pk, into in rows.values_list("pk", "merged_into_id") if into is not None}
    for key in missing:
        wanted[key].is_closed = key[0] in closed
    return [key for key in missing if key[0] not in closed]


def lock_shelf(row: Any) -> LockedShelf:
    """The shelf that a movement or a count is about, filled from its locked level."""
    shelves = shelves_of([row])
    lock_shelves(shelves)
    return shelves[shelf_key(row)]


def write_shelves(shelves: Iterable[LockedShelf], now: datetime) -> None:
    """Write what changed since the levels were locked."""
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
        for reservation in shelf.changed_reservations:
            _write_reservation(reservation, now)


def close_kits(reservations: Iterable[Reservation], now: datetime) -> None:
    """End the kits with no open reservation left."""
    # After the levels, never before: `kits.stage` locks only the kit, and the order of locks must be one.
    kits = sorted({reservation.kit_id for reservation in reservations if reservation.kit_id is not None})
    for kit in Kit.objects.select_for_update().alive().filter(pk__in=kits).order_by("pk") if kits else ():
        states = set(Reservation.objects.filter(kit=kit).values_list("state", flat=True))
        if ReservationState.OPEN not in states:
            ended = KitState.USED if ReservationState.USED in states else KitState.RELEASED
            Kit.objects.filter(pk=kit.pk).update(state=ended, updated_at=now)


def _level_ids(keys: Iterable[ShelfKey]) -> dict[ShelfKey, int]:
    wanted = set(keys)
    storerooms = sorted({key[1] for key in wanted})
    ids: dict[ShelfKey, int] = {}
    for items in chunks(sorted({key[0] for key in wanted})):
        rows = StockLevel.objects.filter(item_id__in=items, storeroom_id__in=storerooms)
        for pk, item, storeroom, condition in rows.values_list("pk", "item_id", "storeroom_id", "condition"):
            if (item, storeroom, condition) in wanted:
                ids[item, storeroom, condition] = pk
    return ids


def _fill(shelf: LockedShelf, level: StockLevel) -> None:
    shelf.level = level
    shelf.on_hand = shelf.booked_on_hand = level.on_hand
    shelf.reserved = shelf.booked_reserved = level.reserved
    shelf.last_counted_at = level.last_counted_at
    shelf.bin_id = level.bin_id
    shelf.is_closed = level.is_closed


def _add_pieces(wanted: Mapping[ShelfKey, LockedShelf], named: Collection[int]) -> None:
    by_level = {
        shelf.level.pk: shelf for shelf in wanted.values() if shelf.level and shelf.item.unit == Unit.LINK
    }
    for chunk in chunks(sorted(by_level)):
        pieces = StockPiece.objects.filter(Q(links__gt=0) | Q(pk__in=list(named)), level_id__in=chunk)
        for piece in pieces.order_by("pk"):
            by_level[piece.level_id].pieces.append(piece)


def _add_reservations(wanted: Mapping[ShelfKey, LockedShelf]) -> None:
    items = sorted({key[0] for key, shelf in wanted.items() if shelf.reserved})
    for chunk in chunks(items):
        for reservation in Reservation.objects.open().with_places().filter(item_id__in=chunk).order_by("pk"):
            shelf = wanted.get((reservation.item_id, reservation.storeroom_id, reservation.condition))
            if shelf is not None:
                shelf.reservations.append(reservation)


def _write_level(shelf: LockedShelf, level: StockLevel, now: datetime) -> None:
    more, more_reserved = shelf.on_hand - shelf.booked_on_hand, shelf.reserved - shelf.booked_reserved
    same_day = (shelf.last_counted_at, shelf.bin_id) == (level.last_counted_at, level.bin_id)
    if not more and not more_reserved and same_day:
        return
    # The condition proves that the level is as it was read under the lock. It can fail only where the isolation of the database
    # is not what the ledger needs; then nothing is booked. Adding there keeps the sum right in the database all the same.
    moments = [
        _stored(StockLevel, name, value)
        for name, value in (("last_counted_at", shelf.last_counted_at), ("updated_at", now))
    ]
    with preparing_cursor(router.db_for_write(StockLevel)) as cursor:
        cursor.execute(
            CHANGE_LEVEL,
            [
                more,
                more_reserved,
                shelf.bin_id,
                *moments,
                level.pk,
                shelf.booked_on_hand,
                shelf.booked_reserved,
            ],
        )
        written = cursor.rowcount
    if written != 1:
        raise ShelfMoved(f"Level {level.pk} changed under its lock: nothing was booked.")


def _stored(model: type[Model], name: str, value: Any) -> Any:
    """As the database takes it."""
    return model._meta.get_field(name).get_db_prep_save(value, connection)  # type: ignore[union-attr]


def _write_reservation(reservation: Reservation, now: datetime) -> None:
    # The same proof for the reservation: an ended one is never opened again by a late writer.
    still_open = Reservation.objects.filter(pk=reservation.pk, state=ReservationState.OPEN)
    ended = still_open.update(
        open_quantity=reservation.open_quantity,
        state=reservation.state,
        short_quantity=reservation.short_quantity,
        taken_by=reservation.taken_by,
        taken_reason=reservation.taken_reason,
        updated_at=now,
    )
    if ended != 1:
        raise ShelfMoved(f"Reservation {reservation.pk} ended under its lock: nothing was booked.")


def _drop_unused(shelf: LockedShelf, level: StockLevel) -> None:
    """Delete a level that was created for a movement that was then refused, unless it has been used."""
    unused = StockLevel.objects.filter(pk=level.pk, on_hand=0, reserved=0)
    entries = StockEntry.objects.filter(item=shelf.item, storeroom=shelf.storeroom, condition=shelf.condition)
    if not shelf.pieces and not entries.exists():
        unused.delete()
