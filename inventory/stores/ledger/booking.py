"""Books movements: locks the stock levels, decides each movement in order, writes what changed.

One movement and ten thousand take the same path, so the results cannot differ.
"""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.catalogue.plant_practice import allowed_chain_joints
from inventory.models import MovementKind, ReasonCode, Reservation, ReservationState, StockEntry
from inventory.plumbing.prepared import PreparedInsert
from inventory.stores.ledger.locking import chunks, close_kits, lock_shelves, write_shelves
from inventory.stores.ledger.movement import KINDS_IN, Booked, Movement, checked, name_of
from inventory.stores.ledger.movement_events import publish_movements, publish_reservations
from inventory.stores.ledger.refusals import AlreadyBooked, LedgerRefusal, ReservationGone
from inventory.stores.ledger.shelf import LockedShelf, ShelfKey, shelf_key, shelves_of

Outcome = Booked | LedgerRefusal
ONE_ENTRY = PreparedInsert(StockEntry)


@dataclass(slots=True)
class Batch:
    now: datetime
    shelves: dict[ShelfKey, LockedShelf]
    known: dict[tuple[str, int], StockEntry] = field(default_factory=dict)
    entries: list[StockEntry] = field(default_factory=list)

    def add(self, shelf: LockedShelf, entry: StockEntry) -> StockEntry:
        shelf.entries.append(entry)
        self.entries.append(entry)
        if entry.reference:
            self.known[entry.reference, entry.storeroom_id] = entry
        return entry


def book_many(movements: Sequence[Movement], *, at: datetime | None = None) -> tuple[Outcome, ...]:
    """One outcome per movement, in their order. All are booked in one transaction; a refused one changes nothing and stops no other.

    For all or nothing, open a transaction around the call and roll it back on a refusal.
    """
    now = at or timezone.now()
    try:
        return _book_once(movements, now)
    except IntegrityError:
        if not any(movement.reference for movement in movements):
            raise
        # Another transaction booked one of these references between the look-up and the insert. Its entry can be seen now,
        # so the second run answers with it or refuses the reference.
        return _book_once(movements, now)


def book(movement: Movement, *, at: datetime | None = None) -> Booked:
    """Book one movement, or raise its refusal."""
    (outcome,) = book_many([movement], at=at)
    if isinstance(outcome, LedgerRefusal):
        raise outcome
    return outcome


def new_entry(movement: Movement, shelf: LockedShelf, change: int, now: datetime, **extra: Any) -> StockEntry:
    by = movement.by
    return StockEntry(
        kind=movement.kind,
        reference=movement.reference,
        item=shelf.item,
        storeroom=shelf.storeroom,
        condition=shelf.condition,
        change=change,
        balance_after=shelf.on_hand,
        counted=movement.counted,
        work_order=movement.work_order,
        position=movement.position,
        reason=movement.reason,
        reason_code=movement.reason_code,
        expected_back_on=movement.expected_back_on,
        unit_cost=movement.unit_cost,
        occurred_at=movement.occurred_at or now,
        recorded_by=None if isinstance(by, str) else by,
        recorded_by_name=name_of(by),
        **extra,
    )


def write(batch: Batch) -> None:
    """Write the levels, the entries and their events."""
    shelves = batch.shelves.values()
    write_shelves(shelves, batch.now)
    if len(batch.entries) == 1:
        ONE_ENTRY.write(batch.entries[0])
    else:
        StockEntry.objects.bulk_create(batch.entries, batch_size=500)
    publish_movements(batch.entries)
    used = {reservation.pk: reservation for shelf in shelves for reservation in shelf.used_reservations}
    shortened = {reservation.pk: reservation for shelf in shelves for reservation in shelf.shortened}
    publish_reservations("used", used.values(), batch.now)
    for reservation in shortened.values():
        publish_reservations(
            "short",
            [reservation],
            batch.now,
            taken_by=reservation.taken_by,
            taken_reason=reservation.taken_reason,
        )
    close_kits([*used.values(), *shortened.values()], batch.now)


def target_key(movement: Movement) -> ShelfKey:
    return movement.item.pk, movement.target_storeroom.pk, movement.target_condition


def _book_once(movements: Sequence[Movement], now: datetime) -> tuple[Outcome, ...]:
    # Only a reference can meet that of another transaction and be looked up again; else an outer transaction needs no savepoint.
    with transaction.atomic(savepoint=any(movement.reference for movement in movements)):
        first = [_refusal_of(movement, now) for movement in movements]
        sound = [m for m, refusal in zip(movements, first, strict=True) if refusal is None]
        batch = _open_batch(sound, now)
        outcomes = [
            refusal if refusal is not None else _decide(batch, movement)
            for movement, refusal in zip(movements, first, strict=True)
        ]
        write(batch)
    return tuple(outcomes)


def _refusal_of(movement: Movement, now: datetime) -> LedgerRefusal | None:
    try:
        checked(movement, now)
    except LedgerRefusal as refusal:
        return refusal
    return None


def _open_batch(movements: Sequence[Movement], now: datetime) -> Batch:
    shelves = shelves_of(movements)
    adding: set[ShelfKey] = set()
    for movement in movements:
        if movement.kind not in (MovementKind.ISSUE, MovementKind.SCRAP):
            adding.add(target_key(movement))
            target = LockedShelf(movement.item, movement.target_storeroom, movement.target_condition)
            shelves.setdefault(target_key(movement), target)
    named = {movement.piece.pk for movement in movements if movement.piece is not None}
    # References are looked up after the lock: a movement of the same reference that was waited for is then seen.
    lock_shelves(shelves, adding=adding, named_pieces=named)
    batch = Batch(now, shelves)
    for chunk in chunks(sorted({movement.reference for movement in movements if movement.reference})):
        for entry in StockEntry.objects.filter(reference__in=chunk):
            batch.known[entry.reference, entry.storeroom_id] = entry
    return batch


def _decide(batch: Batch, movement: Movement) -> Outcome:
    shelf = batch.shelves[shelf_key(movement)]
    restore = shelf.snapshot_reservations() if movement.override else None
    try:
        entries = _booked_before(batch, movement)
        if entries:
            return Booked(entries, shelf.on_hand, shelf.reserved, is_replay=True)
        if movement.reservations:
            _refuse_released(movement, shelf)
        entries = DECISIONS[movement.kind](batch, movement, shelf)
    except LedgerRefusal as refusal:
        if restore is not None:
            restore()
        return refusal
    return Booked(entries, shelf.on_hand, shelf.reserved)


def _refuse_released(movement: Movement, shelf: LockedShelf) -> None:
    """A reservation used by another issue of the same work order is no surprise; one that was released or expired is."""
    gone = movement.reservations - {reservation.pk for reservation in shelf.reservations}
    ended = (ReservationState.RELEASED, ReservationState.EXPIRED)
    lost = Reservation.objects.filter(pk__in=gone, state__in=ended).order_by("pk").first() if gone else None
    if lost is not None:
        raise ReservationGone(lost)


def _put(batch: Batch, movement: Movement, shelf: LockedShelf) -> tuple[StockEntry, ...]:
    quantity = movement.quantity or 0
    piece = shelf.put(quantity, movement.pieces, movement.piece_label)
    if movement.bin is not None:
        shelf.bin_id = movement.bin.pk
    return (batch.add(shelf, new_entry(movement, shelf, quantity, batch.now, piece=piece)),)


def _bring_back(batch: Batch, movement: Movement, shelf: LockedShelf) -> tuple[StockEntry, ...]:
    """A worn part goes to no shelf: its return and its scrap are booked as a pair, and the balance stays."""
    if movement.reason_code != ReasonCode.WORN:
        return _put(batch, movement, shelf)
    quantity, pair = movement.quantity or 0, {"transfer": uuid.uuid4()}
    piece = shelf.put(quantity)
    back = new_entry(movement, shelf, quantity, batch.now, piece=piece, **pair)
    shelf.take(quantity, piece=piece)
    scrapped = replace(movement, kind=MovementKind.SCRAP, reference="")
    out = new_entry(scrapped, shelf, -quantity, batch.now, piece=piece, **pair)
    return batch.add(shelf, back), batch.add(shelf, out)


def _take(batch: Batch, movement: Movement, shelf: LockedShelf) -> tuple[StockEntry, ...]:
    quantity = movement.quantity or 0
    work_order = movement.work_order if movement.kind == MovementKind.ISSUE else ""
    if movement.override:
        shelf.override(quantity, work_order, movement.override)
    # Only what is fitted has joints; what is scrapped may come from many pieces.
    is_joined = movement.kind == MovementKind.ISSUE and movement.join_pieces and shelf.is_in_links
    piece = shelf.take(
        quantity,
        piece=movement.piece,
        join=movement.join_pieces,
        most_joints=allowed_chain_joints() if is_joined else None,
        work_order=work_order,
    )
    return (batch.add(shelf, new_entry(movement, shelf, -quantity, batch.now, piece=piece)),)


def _move(batch: Batch, movement: Movement, shelf: LockedShelf) -> tuple[StockEntry, ...]:
    quantity = movement.quantity or 0
    target = batch.shelves[target_key(movement)]
    target.refuse_overflow(quantity)
    piece = shelf.take(quantity, piece=movement.piece, join=movement.join_pieces)
    arrived = target.put(quantity, label=piece.label if piece is not None else "")
    if movement.bin is not None:
        target.bin_id = movement.bin.pk
    leg = {"transfer": uuid.uuid4()}
    out = new_entry(
        movement, shelf, -quantity, batch.now, piece=piece, other_storeroom=target.storeroom, **leg
    )
    # A reference is unique in a storeroom: between two conditions of one room only the leg out carries it.
    other = movement if shelf.storeroom != target.storeroom else replace(movement, reference="")
    arrival = new_entry(
        other, target, quantity, batch.now, piece=arrived, other_storeroom=shelf.storeroom, **leg
    )
    return batch.add(shelf, out), batch.add(target, arrival)


def _count(batch: Batch, movement: Movement, shelf: LockedShelf) -> tuple[StockEntry, ...]:
    if movement.override and movement.piece is None:
        change = (movement.counted or 0) - (shelf.on_hand if movement.seen is None else movement.seen)
        shelf.release_short(shelf.on_hand + change, movement.override)
    change, piece = shelf.count(movement.counted or 0, piece=movement.piece, seen=movement.seen)
    counted_at = movement.occurred_at or batch.now
    shelf.last_counted_at = max(shelf.last_counted_at or counted_at, counted_at)
    if movement.bin is not None:
        shelf.bin_id = movement.bin.pk
    return (batch.add(shelf, new_entry(movement, shelf, change, batch.now, piece=piece)),)


DECISIONS: dict[str, Callable[[Batch, Movement, LockedShelf], tuple[StockEntry, ...]]] = {
    MovementKind.RECEIPT: _put,
    MovementKind.RETURN: _bring_back,
    MovementKind.ISSUE: _take,
    MovementKind.SCRAP: _take,
    MovementKind.TRANSFER: _move,
    MovementKind.COUNT: _count,
}


def _booked_before(batch: Batch, movement: Movement) -> tuple[StockEntry, ...]:
    """The entries of this movement if its reference is booked already; refuses a reference of another movement."""
    if not movement.reference:
        return ()
    entry = batch.known.get((movement.reference, movement.storeroom.pk))
    if entry is None:
        elsewhere = batch.known.get((movement.reference, movement.target_storeroom.pk))
        if elsewhere is not None:
            raise AlreadyBooked(elsewhere, "storeroom")
        return ()
    differs = _difference(movement, entry)
    if differs:
        raise AlreadyBooked(entry, differs)
    if entry.transfer is None:
        return (entry,)
    if entry.pk is None:
        return tuple(leg for leg in batch.entries if leg.transfer == entry.transfer)
    return tuple(StockEntry.objects.filter(transfer=entry.transfer, reverses=None).order_by("pk"))


def _difference(movement: Movement, entry: StockEntry) -> str:
    quantity = movement.quantity or 0
    signed = quantity if movement.kind in KINDS_IN else -quantity
    other = movement.to_storeroom.pk if movement.to_storeroom else None
    compared = {
        "kind": (movement.kind, entry.kind),
        "item": (movement.item.pk, entry.item_id),
        "condition": (movement.condition, entry.condition),
        "counted": (movement.counted, entry.counted),
        "quantity": (signed, entry.change if movement.kind != MovementKind.COUNT else signed),
        "to_storeroom": (other, entry.other_storeroom_id),
        "work_order": (movement.work_order, entry.work_order),
        "position": (movement.position, entry.position),
    }
    if movement.kind == MovementKind.TRANSFER and (arrived := _arrived_as(entry)) is not None:
        compared["to_condition"] = (movement.target_condition, arrived)
    return next((name for name, (requested, booked) in compared.items() if requested != booked), "")


def _arrived_as(entry: StockEntry) -> str | None:
    """The condition at the other end of a transfer; None until its legs are written."""
    legs = StockEntry.objects.filter(transfer=entry.transfer, change__gt=0, reverses__isnull=True)
    return legs.values_list("condition", flat=True).first() if entry.pk else None
