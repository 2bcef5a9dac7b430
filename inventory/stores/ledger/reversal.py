"""Reverses a mistaken movement, wholly or in part."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db import transaction
from django.db.models import Sum
from django.utils import timezone

from inventory.facts import fact
from inventory.models import Item, MovementKind, StockEntry, StockPiece
from inventory.stores.ledger.booking import Batch, new_entry, write
from inventory.stores.ledger.kit_lines import hold_again
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Booked, Movement, Who, checked
from inventory.stores.ledger.movement_events import publish_reservations
from inventory.stores.ledger.refusals import (
    AlreadyBooked,
    AlreadyReversed,
    LedgerRefusal,
    MoreThanLeft,
    NotReversible,
    NumberMerged,
)
from inventory.stores.ledger.renumbering import lock_items, piece_now
from inventory.stores.ledger.shelf import LockedShelf, shelf_key


def reverse(
    entry: StockEntry,
    *,
    by: Who,
    reason: str,
    reference: str = "",
    occurred_at: datetime | None = None,
    quantity: int | None = None,
) -> Booked:
    """Reverse what is left of a mistaken movement, or `quantity` of it; of a pair both entries, what adds stock last."""
    now = timezone.now()
    how = Movement(
        kind=MovementKind.RECEIPT,
        item=entry.item,
        storeroom=entry.storeroom,
        quantity=1 if quantity is None else quantity,
        by=by,
        reason=reason,
        reference=reference,
        occurred_at=occurred_at,
    )
    checked(how, now)
    _check_reversible(entry, reason, quantity)
    legs = _legs_of(entry)
    if len({leg.item_id for leg in legs}) > 1:
        raise NotReversible(fact("movement_of_merge", movement=entry.pk), field="entry")
    with transaction.atomic():
        return _reverse_legs(legs, lock_current(entry.item), how, quantity, now)


def lock_current(item: Item) -> Item:
    """The item under whose number its stock lies: where it is merged, the one that goes on; then both are locked before any level.

    A merge that comes after this has closed the shelf, and the movement is refused.
    """
    into = Item.objects.filter(merged_numbers=item).first()
    if into is None:
        return item
    locked = lock_items([item, into])
    current = locked.get(locked[item.pk].merged_into_id or item.pk)
    if current is None:
        raise NumberMerged(item)
    return current


def _legs_of(entry: StockEntry) -> list[StockEntry]:
    """The entry, or both of its pair: the arrival of a transfer first, the scrap of a worn part before its return."""
    if entry.transfer is None:
        return [entry]
    pair = StockEntry.objects.filter(transfer=entry.transfer, reverses__isnull=True)
    first_out = entry.kind == MovementKind.TRANSFER
    rows = pair.select_related("item", "storeroom", "other_storeroom", "piece")
    return list(rows.order_by("-change" if first_out else "change"))


def _check_reversible(entry: StockEntry, reason: str, quantity: int | None) -> None:
    if not reason.strip():
        raise LedgerRefusal(fact("reversal_reason_missing"), field="reason")
    if entry.reverses_id is not None:
        raise NotReversible(fact("movement_is_a_reversal", movement=entry.pk), field="entry")
    if entry.change == 0:
        raise NotReversible(fact("count_changed_nothing", movement=entry.pk), field="entry")
    if entry.kind == MovementKind.COUNT and quantity not in (None, abs(entry.change)):
        raise NotReversible(fact("count_reversed_whole", movement=entry.pk), field="quantity")


def _reverse_legs(
    legs: Sequence[StockEntry], current: Item, how: Movement, quantity: int | None, now: datetime
) -> Booked:
    """What was booked under a number that is merged since comes to the shelf, and from the pieces, that go on for it."""
    keys = {leg: (current.pk, *shelf_key(leg)[1:]) for leg in legs}
    pieces = {leg: leg.piece and piece_now(leg.piece, current) for leg in legs}
    shelves = {keys[leg]: LockedShelf(current, leg.storeroom, leg.condition) for leg in legs}
    named = {piece.pk for piece in pieces.values() if piece is not None}
    lock_shelves(shelves, adding=list(shelves), named_pieces=named)
    shelf = shelves[keys[legs[0]]]
    if known := _booked_before(legs, how, quantity):
        return Booked((known,), shelf.on_hand, shelf.reserved, is_replay=True)
    # Asked under the lock: another caller may have reversed the entry while this one waited for it.
    left = _left_of(legs[0])
    if left == 0:
        raise AlreadyReversed(legs[0])
    wanted = left if quantity is None else quantity
    if wanted > left:
        raise MoreThanLeft(legs[0], requested=wanted, left=left)
    batch = Batch(now, shelves)
    for leg in legs:
        own = how if leg is legs[0] else replace(how, reference="")
        there = shelves[keys[leg]]
        batch.add(there, _reversing_entry(leg, there, pieces[leg], own, wanted, now))
    held = hold_again(shelf, legs[0], wanted, now)
    write(batch)
    publish_reservations("made", held, now)
    return Booked(tuple(batch.entries), shelf.on_hand, shelf.reserved)


def _left_of(entry: StockEntry) -> int:
    back = StockEntry.objects.filter(reverses=entry).aggregate(total=Sum("change", default=0))["total"]
    return abs(entry.change + int(back))


def _booked_before(legs: Sequence[StockEntry], how: Movement, quantity: int | None) -> StockEntry | None:
    """The reversal of that reference; refuses a reference of anything else."""
    if not how.reference:
        return None
    known = (
        StockEntry.objects.with_places().filter(reference=how.reference, storeroom=legs[0].storeroom).first()
    )
    if known is None:
        return None
    if known.reverses_id != legs[0].pk:
        raise AlreadyBooked(known, "movement")
    if quantity is not None and quantity != abs(known.change):
        raise AlreadyBooked(known, "quantity")
    return known


def _reversing_entry(
    leg: StockEntry, shelf: LockedShelf, own: StockPiece | None, how: Movement, quantity: int, now: datetime
) -> StockEntry:
    change = quantity if leg.change < 0 else -quantity
    is_put_back = change > 0
    piece = (
        shelf.put_back(quantity, own) if is_put_back else shelf.take(quantity, piece=own, join=own is None)
    )
    opposite = replace(
        how,
        kind=leg.kind,
        counted=None if leg.counted is None else shelf.on_hand,
        work_order=leg.work_order,
        position=leg.position,
        reason_code=leg.reason_code if leg.transfer else "",
        unit_cost=leg.unit_cost,
    )
    pair = {"transfer": leg.transfer, "other_storeroom": leg.other_storeroom}
    return new_entry(opposite, shelf, change, now, piece=piece, reverses=leg, **pair)
