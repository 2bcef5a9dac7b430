"""Reverses a mistaken movement."""

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.facts import fact
from inventory.models import MovementKind, StockEntry
from inventory.stores.ledger.booking import Batch, new_entry, write
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Booked, Movement, Who, checked
from inventory.stores.ledger.refusals import AlreadyReversed, LedgerRefusal, NotReversible
from inventory.stores.ledger.shelf import LockedShelf, shelf_key, shelves_of


def reverse(
    entry: StockEntry, *, by: Who, reason: str, reference: str = "", occurred_at: datetime | None = None
) -> Booked:
    """Reverse a mistaken movement, once: both legs of a transfer, the arrival first."""
    now = timezone.now()
    legs = [entry]
    if entry.transfer is not None:
        pair = StockEntry.objects.filter(transfer=entry.transfer, reverses__isnull=True)
        legs = list(pair.select_related("item", "storeroom", "other_storeroom", "piece").order_by("change"))
        legs.reverse()
    how = Movement(
        kind=MovementKind.RECEIPT,
        item=entry.item,
        storeroom=entry.storeroom,
        quantity=1,
        by=by,
        reason=reason,
        reference=reference,
        occurred_at=occurred_at,
    )
    checked(how, now)
    _check_reversible(entry, reason)
    try:
        with transaction.atomic():
            return _reverse_legs(legs, how, now)
    except IntegrityError as error:
        # `reverses` is unique: of two who reverse at the same time the database stops the second.
        if StockEntry.objects.filter(reverses__in=legs).exists():
            raise AlreadyReversed(entry) from error
        raise


def _check_reversible(entry: StockEntry, reason: str) -> None:
    if not reason.strip():
        raise LedgerRefusal(fact("reversal_reason_missing"), field="reason")
    if entry.reverses_id is not None:
        raise NotReversible(fact("movement_is_a_reversal", movement=entry.pk), field="entry")
    if entry.change == 0:
        raise NotReversible(fact("count_changed_nothing", movement=entry.pk), field="entry")


def _reverse_legs(legs: Sequence[StockEntry], how: Movement, now: datetime) -> Booked:
    shelves = shelves_of(legs)
    named = {leg.piece_id for leg in legs if leg.piece_id is not None}
    lock_shelves(shelves, adding=list(shelves), named_pieces=named)
    # Asked under the lock: another caller may have reversed the entry while this one waited for it.
    if StockEntry.objects.filter(reverses__in=legs).exists():
        raise AlreadyReversed(legs[0])
    batch = Batch(now, shelves)
    for leg in legs:
        shelf = shelves[shelf_key(leg)]
        own = how if leg is legs[0] else replace(how, reference="")
        batch.add(shelf, _reversing_entry(leg, shelf, own, now))
    write(batch)
    shelf = shelves[shelf_key(legs[0])]
    return Booked(tuple(batch.entries), shelf.on_hand, shelf.reserved)


def _reversing_entry(leg: StockEntry, shelf: LockedShelf, how: Movement, now: datetime) -> StockEntry:
    if leg.change < 0:
        piece = shelf.put_back(-leg.change, leg.piece)
    else:
        piece = shelf.take(leg.change, piece=leg.piece, join=leg.piece_id is None)
    opposite = replace(
        how,
        kind=leg.kind,
        counted=None if leg.counted is None else shelf.on_hand,
        work_order=leg.work_order,
        position=leg.position,
        unit_cost=leg.unit_cost,
    )
    pair = {"transfer": leg.transfer, "other_storeroom": leg.other_storeroom}
    return new_entry(opposite, shelf, -leg.change, now, piece=piece, reverses=leg, **pair)
