"""The movements, one function each."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.utils import timezone

from inventory.models import Bin, Condition, Item, MovementKind, StockEntry, StockPiece, Storeroom
from inventory.stores.ledger.booking import Batch, book, write
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.movement import Booked, Movement, Who, check_moment, checked, name_of
from inventory.stores.ledger.refusals import AlreadyReversed, LedgerRefusal, NotReversible
from inventory.stores.ledger.shelf import Key, Shelf


def receive(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    bin: Bin | None = None,
    pieces: Sequence[int] | None = None,
    piece_label: str = "",
    work_order: str = "",
    reason: str = "",
    reference: str = "",
    unit_cost: Decimal | None = None,
    occurred_at: datetime | None = None,
) -> Booked:
    """Book what was delivered; `pieces` gives the lengths of chain in links, else it is one piece."""
    return book(
        Movement(
            kind=MovementKind.RECEIPT,
            item=item,
            storeroom=storeroom,
            quantity=quantity,
            by=by,
            condition=condition,
            bin=bin,
            pieces=pieces,
            piece_label=piece_label,
            work_order=work_order,
            reason=reason,
            reference=reference,
            unit_cost=unit_cost,
            occurred_at=occurred_at,
        )
    )


def issue(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    piece: StockPiece | None = None,
    join_pieces: bool = False,
    work_order: str = "",
    position: str = "",
    reason: str = "",
    reference: str = "",
    expected_back_on: date | None = None,
    occurred_at: datetime | None = None,
) -> Booked:
    """Book what was taken; open reservations of the same work order are used up first.

    Of chain, the shortest single piece that is long enough is cut, unless `piece` names one.
    """
    return book(
        Movement(
            kind=MovementKind.ISSUE,
            item=item,
            storeroom=storeroom,
            quantity=quantity,
            by=by,
            condition=condition,
            piece=piece,
            join_pieces=join_pieces,
            work_order=work_order,
            position=position,
            reason=reason,
            reference=reference,
            expected_back_on=expected_back_on,
            occurred_at=occurred_at,
        )
    )


def take_back(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    bin: Bin | None = None,
    pieces: Sequence[int] | None = None,
    work_order: str = "",
    position: str = "",
    reason: str = "",
    reason_code: str = "",
    reference: str = "",
    occurred_at: datetime | None = None,
) -> Booked:
    """Book what came back from a job."""
    return book(
        Movement(
            kind=MovementKind.RETURN,
            item=item,
            storeroom=storeroom,
            quantity=quantity,
            by=by,
            condition=condition,
            bin=bin,
            pieces=pieces,
            work_order=work_order,
            position=position,
            reason=reason,
            reason_code=reason_code,
            reference=reference,
            occurred_at=occurred_at,
        )
    )


def scrap(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    piece: StockPiece | None = None,
    join_pieces: bool = False,
    work_order: str = "",
    reason: str = "",
    reason_code: str = "",
    reference: str = "",
    occurred_at: datetime | None = None,
) -> Booked:
    """Book what was thrown away; what is held back for a job stays."""
    return book(
        Movement(
            kind=MovementKind.SCRAP,
            item=item,
            storeroom=storeroom,
            quantity=quantity,
            by=by,
            condition=condition,
            piece=piece,
            join_pieces=join_pieces,
            work_order=work_order,
            reason=reason,
            reason_code=reason_code,
            reference=reference,
            occurred_at=occurred_at,
        )
    )


def transfer(
    item: Item,
    from_storeroom: Storeroom,
    to_storeroom: Storeroom,
    quantity: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    to_condition: str = "",
    bin: Bin | None = None,
    piece: StockPiece | None = None,
    join_pieces: bool = False,
    work_order: str = "",
    reason: str = "",
    reference: str = "",
    occurred_at: datetime | None = None,
) -> Booked:
    """Book the way from one storeroom to another, or from one condition to another: two entries or none."""
    return book(
        Movement(
            kind=MovementKind.TRANSFER,
            item=item,
            storeroom=from_storeroom,
            to_storeroom=to_storeroom,
            quantity=quantity,
            by=by,
            condition=condition,
            to_condition=to_condition,
            bin=bin,
            piece=piece,
            join_pieces=join_pieces,
            work_order=work_order,
            reason=reason,
            reference=reference,
            occurred_at=occurred_at,
        )
    )


def count(
    item: Item,
    storeroom: Storeroom,
    counted: int,
    *,
    by: Who,
    condition: str = Condition.NEW,
    piece: StockPiece | None = None,
    seen: int | None = None,
    bin: Bin | None = None,
    work_order: str = "",
    reason: str = "",
    reason_code: str = "",
    reference: str = "",
    occurred_at: datetime | None = None,
) -> Booked:
    """Book what was found, relative to the book as it stands.

    `seen` is what the book said when the shelf was counted: movements booked since then are kept.
    """
    return book(
        Movement(
            kind=MovementKind.COUNT,
            item=item,
            storeroom=storeroom,
            counted=counted,
            by=by,
            condition=condition,
            piece=piece,
            seen=seen,
            bin=bin,
            work_order=work_order,
            reason=reason,
            reason_code=reason_code,
            reference=reference,
            occurred_at=occurred_at,
        )
    )


def reverse(
    entry: StockEntry, *, by: Who, reason: str, reference: str = "", occurred_at: datetime | None = None
) -> Booked:
    """Take a mistaken movement back, once: both legs of a transfer, the arrival first."""
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
        if StockEntry.objects.filter(reverses__in=legs).exists():
            raise _reversed_before(entry) from error
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
        raise LedgerRefusal("reason", "Say what was wrong with the movement: give reason.")
    if entry.reverses_id is not None:
        raise NotReversible("This entry takes another one back: book the movement anew instead.")
    if entry.change == 0:
        raise NotReversible("This count changed nothing: there is nothing to take back.")


def _reversed_before(entry: StockEntry) -> AlreadyReversed:
    return AlreadyReversed(f"Entry {entry.pk} was taken back already.", entry=entry)


def _reverse_legs(legs: Sequence[StockEntry], reversal: _Reversal) -> Booked:
    shelves: dict[Key, Shelf] = {
        (leg.item_id, leg.storeroom_id, leg.condition): Shelf(leg.item, leg.storeroom, leg.condition)
        for leg in legs
    }
    named = {leg.piece_id for leg in legs if leg.piece_id is not None}
    lock_shelves(shelves, adding=list(shelves), named_pieces=named)
    if StockEntry.objects.filter(reverses__in=legs).exists():
        raise _reversed_before(legs[0])
    batch = Batch(reversal.now, shelves)
    for leg in legs:
        shelf = shelves[leg.item_id, leg.storeroom_id, leg.condition]
        batch.add(shelf, _reversing_entry(leg, shelf, reversal, with_reference=leg is legs[0]))
    write(batch)
    shelf = shelves[legs[0].item_id, legs[0].storeroom_id, legs[0].condition]
    return Booked(tuple(batch.entries), shelf.on_hand, shelf.reserved)


def _reversing_entry(
    leg: StockEntry, shelf: Shelf, reversal: _Reversal, *, with_reference: bool
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
