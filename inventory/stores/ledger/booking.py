"""Books movements: locks the levels, lets the shelves decide in order, writes what changed.

One movement and ten thousand take the same way, so they cannot come out differently.
"""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import MovementKind, StockEntry
from inventory.stores.ledger.locking import chunks, lock_shelves, settle_kits, write_shelves
from inventory.stores.ledger.movement import KINDS_IN, Booked, Movement, checked, name_of
from inventory.stores.ledger.movement_events import tell_holds, tell_moved
from inventory.stores.ledger.refusals import AlreadyBooked, LedgerRefusal
from inventory.stores.ledger.shelf import Key, Shelf

Outcome = Booked | LedgerRefusal


@dataclass(frozen=True, slots=True)
class Posted:
    """One outcome per movement, in the order in which they were given."""

    outcomes: tuple[Outcome, ...]

    @property
    def booked(self) -> tuple[Booked, ...]:
        return tuple(outcome for outcome in self.outcomes if isinstance(outcome, Booked))

    @property
    def refusals(self) -> tuple[tuple[int, LedgerRefusal], ...]:
        """Number of the movement, counted from 0, and why it was refused."""
        return tuple((n, o) for n, o in enumerate(self.outcomes) if isinstance(o, LedgerRefusal))


@dataclass(slots=True)
class Batch:
    now: datetime
    shelves: dict[Key, Shelf]
    known: dict[tuple[str, int], StockEntry] = field(default_factory=dict)
    entries: list[StockEntry] = field(default_factory=list)

    def add(self, shelf: Shelf, entry: StockEntry) -> StockEntry:
        shelf.entries.append(entry)
        self.entries.append(entry)
        if entry.reference:
            self.known[entry.reference, entry.storeroom_id] = entry
        return entry


def post_many(movements: Sequence[Movement], *, at: datetime | None = None) -> Posted:
    """Book the movements in order in one transaction; a refused one leaves no trace and stops no other.

    Whoever wants all or nothing opens a transaction around the call and rolls it back on refusals.
    """
    now = at or timezone.now()
    try:
        return _post_once(movements, now)
    except IntegrityError:
        # Somebody booked one of these references in the same moment: by now its entry can be seen.
        return _post_once(movements, now)


def book(movement: Movement, *, at: datetime | None = None) -> Booked:
    """Book one movement, or raise its refusal."""
    with transaction.atomic():
        (outcome,) = post_many([movement], at=at).outcomes
        if isinstance(outcome, LedgerRefusal):
            raise outcome
        return outcome


def new_entry(movement: Movement, shelf: Shelf, change: int, now: datetime, **extra: Any) -> StockEntry:
    by = movement.by
    values: dict[str, Any] = {
        "kind": movement.kind,
        "reference": movement.reference,
        "balance_after": shelf.on_hand,
        "counted": movement.counted,
    }
    return StockEntry(
        item=shelf.item,
        storeroom=shelf.storeroom,
        condition=shelf.condition,
        change=change,
        work_order=movement.work_order,
        position=movement.position,
        reason=movement.reason,
        reason_code=movement.reason_code,
        expected_back_on=movement.expected_back_on,
        unit_cost=movement.unit_cost,
        occurred_at=movement.occurred_at or now,
        recorded_by=None if isinstance(by, str) else by,
        recorded_by_name=name_of(by),
        **values | extra,
    )


def write(batch: Batch) -> None:
    """Write the shelves, the entries and what others must hear of them."""
    shelves = batch.shelves.values()
    write_shelves(shelves, batch.now)
    StockEntry.objects.bulk_create(batch.entries, batch_size=500)
    tell_moved(batch.entries)
    used = {hold.pk: hold for shelf in shelves for hold in shelf.used_holds}
    shortened = {hold.pk: hold for shelf in shelves for hold in shelf.shortened}
    tell_holds("used", used.values(), batch.now)
    for hold in shortened.values():
        tell_holds("short", [hold], batch.now, taken_by=hold.taken_by, taken_reason=hold.taken_reason)
    settle_kits([*used.values(), *shortened.values()], batch.now)


def source_key(movement: Movement) -> Key:
    return movement.item.pk, movement.storeroom.pk, movement.condition


def target_key(movement: Movement) -> Key:
    return movement.item.pk, movement.target_storeroom.pk, movement.target_condition


def _post_once(movements: Sequence[Movement], now: datetime) -> Posted:
    with transaction.atomic():
        first = [_refusal_of(movement, now) for movement in movements]
        sound = [m for m, refusal in zip(movements, first, strict=True) if refusal is None]
        batch = _open_batch(sound, now)
        outcomes = [
            refusal if refusal is not None else _decide(batch, movement)
            for movement, refusal in zip(movements, first, strict=True)
        ]
        write(batch)
    return Posted(tuple(outcomes))


def _refusal_of(movement: Movement, now: datetime) -> LedgerRefusal | None:
    try:
        checked(movement, now)
    except LedgerRefusal as refusal:
        return refusal
    return None


def _open_batch(movements: Sequence[Movement], now: datetime) -> Batch:
    shelves: dict[Key, Shelf] = {}
    adding: set[Key] = set()
    for movement in movements:
        shelves.setdefault(source_key(movement), Shelf(movement.item, movement.storeroom, movement.condition))
        if movement.kind not in (MovementKind.ISSUE, MovementKind.SCRAP):
            adding.add(target_key(movement))
            target = Shelf(movement.item, movement.target_storeroom, movement.target_condition)
            shelves.setdefault(target_key(movement), target)
    named = {movement.piece.pk for movement in movements if movement.piece is not None}
    lock_shelves(shelves, adding=adding, named_pieces=named)
    batch = Batch(now, shelves)
    for chunk in chunks(sorted({movement.reference for movement in movements if movement.reference})):
        for entry in StockEntry.objects.filter(reference__in=chunk):
            batch.known[entry.reference, entry.storeroom_id] = entry
    return batch


def _decide(batch: Batch, movement: Movement) -> Outcome:
    shelf = batch.shelves[source_key(movement)]
    put_back = shelf.holds_as_they_are() if movement.override else None
    try:
        entries = _booked_before(batch, movement)
        if entries:
            return Booked(entries, shelf.on_hand, shelf.reserved, is_replay=True)
        entries = DECISIONS[movement.kind](batch, movement, shelf)
    except LedgerRefusal as refusal:
        if put_back is not None:
            put_back()
        return refusal
    return Booked(entries, shelf.on_hand, shelf.reserved)


def _put(batch: Batch, movement: Movement, shelf: Shelf) -> tuple[StockEntry, ...]:
    quantity = movement.quantity or 0
    piece = shelf.put(quantity, movement.pieces, movement.piece_label)
    if movement.bin is not None:
        shelf.bin_id = movement.bin.pk
    return (batch.add(shelf, new_entry(movement, shelf, quantity, batch.now, piece=piece)),)


def _take(batch: Batch, movement: Movement, shelf: Shelf) -> tuple[StockEntry, ...]:
    quantity = movement.quantity or 0
    work_order = movement.work_order if movement.kind == MovementKind.ISSUE else ""
    if movement.override:
        shelf.override(quantity, work_order, movement.override)
    piece = shelf.take(quantity, piece=movement.piece, join=movement.join_pieces, work_order=work_order)
    return (batch.add(shelf, new_entry(movement, shelf, -quantity, batch.now, piece=piece)),)


def _move(batch: Batch, movement: Movement, shelf: Shelf) -> tuple[StockEntry, ...]:
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
    # A reference is unique in a storeroom: between two conditions of one room the leg out bears it alone.
    reference = movement.reference if shelf.storeroom != target.storeroom else ""
    arrival = new_entry(
        movement,
        target,
        quantity,
        batch.now,
        piece=arrived,
        other_storeroom=shelf.storeroom,
        reference=reference,
        **leg,
    )
    return batch.add(shelf, out), batch.add(target, arrival)


def _count(batch: Batch, movement: Movement, shelf: Shelf) -> tuple[StockEntry, ...]:
    if movement.override and movement.piece is None:
        change = (movement.counted or 0) - (shelf.on_hand if movement.seen is None else movement.seen)
        shelf.give_up(shelf.on_hand + change, movement.override)
    change, piece = shelf.count(movement.counted or 0, piece=movement.piece, seen=movement.seen)
    counted_at = movement.occurred_at or batch.now
    shelf.last_counted_at = max(shelf.last_counted_at or counted_at, counted_at)
    if movement.bin is not None:
        shelf.bin_id = movement.bin.pk
    return (batch.add(shelf, new_entry(movement, shelf, change, batch.now, piece=piece)),)


DECISIONS: dict[str, Callable[[Batch, Movement, Shelf], tuple[StockEntry, ...]]] = {
    MovementKind.RECEIPT: _put,
    MovementKind.RETURN: _put,
    MovementKind.ISSUE: _take,
    MovementKind.SCRAP: _take,
    MovementKind.TRANSFER: _move,
    MovementKind.COUNT: _count,
}


def _booked_before(batch: Batch, movement: Movement) -> tuple[StockEntry, ...]:
    """The entries of this very movement, where its reference was booked; refuses another one's reference."""
    if not movement.reference:
        return ()
    entry = batch.known.get((movement.reference, movement.storeroom.pk))
    if entry is None:
        elsewhere = batch.known.get((movement.reference, movement.target_storeroom.pk))
        if elsewhere is not None:
            raise _another(movement, elsewhere, "storeroom")
        return ()
    differs = _difference(movement, entry)
    if differs:
        raise _another(movement, entry, differs)
    if entry.transfer is None:
        return (entry,)
    if entry.pk is None:
        return tuple(leg for leg in batch.entries if leg.transfer == entry.transfer)
    return tuple(StockEntry.objects.filter(transfer=entry.transfer, reverses=None).order_by("pk"))


def _another(movement: Movement, entry: StockEntry, differs: str) -> AlreadyBooked:
    return AlreadyBooked(
        f"Reference {movement.reference} is booked already with another {differs}: "
        "give this movement a reference of its own.",
        entry=entry,
        differs=differs,
    )


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
    return next((name for name, (asked, booked) in compared.items() if asked != booked), "")


def _arrived_as(entry: StockEntry) -> str | None:
    """The condition at the other end of a transfer; None while its legs are not written."""
    legs = StockEntry.objects.filter(transfer=entry.transfer, change__gt=0, reverses__isnull=True)
    return legs.values_list("condition", flat=True).first() if entry.pk else None
