"""Reverses a mistaken movement."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.facts import fact
from inventory.models import MovementKind, StockEntry
from inventory.stores.ledger.booking import Batch, write
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Booked, Movement, Who, check_moment, checked, name_of
from inventory.stores.ledger.refusals import AlreadyReversed, LedgerRefusal, NotReversible
from inventory.stores.ledger.shelf import LockedShelf, ShelfKey


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
    _check_reversal(entry, by, reason, reference, occurred_at, now)
    try:
        with transaction.atomic():
            return _reverse_legs(legs, _Reversal(by, reason, reference, occurred_at or now, now))
    except IntegrityError as error:
        # `reverses` is unique: of two who reverse at the same time the database stops the second.
        if StockEntry.objects.filter(reverses__in=legs).exists():
            raise AlreadyReversed(entry) from error
        raise


@dataclass(frozen=True, slots=True)
class _Reversal:
    by: Who
    reason: str
    reference: str
    occurred_at: datetime
    now: datetime


def _check_reversal(
    entry: StockEntry, by: Who, reason: str, reference: str, occurred_at: datetime | None, now: datetime
) -> None:
    checked(
        Movement(
            kind=MovementKind.RECEIPT,
            item=entry.item,
            storeroom=entry.storeroom,
            quantity=1,
            by=by,
            reason=reason,
            reference=reference,
        ),
        now,
    )
    check_moment("occurred_at", occurred_at, now)
    if not reason.strip():
        raise LedgerRefusal(fact("reversal_reason_missing"), field="reason")
    if entry.reverses_id is not None:
        raise NotReversible(fact("movement_is_a_reversal", movement=entry.pk), field="entry")
    if entry.change == 0:
        raise NotReversible(fact("count_changed_nothing", movement=entry.pk), field="entry")


def _reverse_legs(legs: Sequence[StockEntry], reversal: _Reversal) -> Booked:
    shelves: dict[ShelfKey, LockedShelf] = {
        (leg.item_id, leg.storeroom_id, leg.condition): LockedShelf(leg.item, leg.storeroom, leg.condition)
        for leg in legs
    }
    named = {leg.piece_id for leg in legs if leg.piece_id is not None}
    lock_shelves(shelves, adding=list(shelves), named_pieces=named)
    # Asked under the lock: another caller may have reversed the entry while this one waited for it.
    if StockEntry.objects.filter(reverses__in=legs).exists():
        raise AlreadyReversed(legs[0])
    batch = Batch(reversal.now, shelves)
    for leg in legs:
        shelf = shelves[leg.item_id, leg.storeroom_id, leg.condition]
        batch.add(shelf, _reversing_entry(leg, shelf, reversal, with_reference=leg is legs[0]))
    write(batch)
    shelf = shelves[legs[0].item_id, legs[0].storeroom_id, legs[0].condition]
    return Booked(tuple(batch.entries), shelf.on_hand, shelf.reserved)


def _reversing_entry(
    leg: StockEntry, shelf: LockedShelf, reversal: _Reversal, *, with_reference: bool
) -> StockEntry:
    if leg.change < 0:
        piece = shelf.put_back(-leg.change, leg.piece)
    else:
        piece = shelf.take(leg.change, piece=leg.piece, join=leg.piece_id is None)
    return StockEntry(
        kind=leg.kind,
        item=shelf.item,
        storeroom=shelf.storeroom,
        condition=shelf.condition,
        piece=piece,
        change=-leg.change,
        balance_after=shelf.on_hand,
        counted=None if leg.counted is None else shelf.on_hand,
        transfer=leg.transfer,
        other_storeroom=leg.other_storeroom,
        work_order=leg.work_order,
        position=leg.position,
        reason=reversal.reason,
        reference=reversal.reference if with_reference else "",
        reverses=leg,
        unit_cost=leg.unit_cost,
        occurred_at=reversal.occurred_at,
        recorded_by=None if isinstance(reversal.by, str) else reversal.by,
        recorded_by_name=name_of(reversal.by),
    )
