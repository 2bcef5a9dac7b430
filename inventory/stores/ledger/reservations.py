"""Reservations of stock for a work order."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.facts import fact
from inventory.models import (
    AVAILABLE_CONDITIONS,
    Condition,
    Item,
    Kit,
    Reservation,
    ReservationState,
    Storeroom,
)
from inventory.plumbing.record_validation import refuse_naive
from inventory.stores.ledger.locking import close_kits, lock_shelf, lock_shelves, write_shelves
from inventory.stores.ledger.movement import Who, check_quantity, check_text, name_of
from inventory.stores.ledger.movement_events import publish_reservations
from inventory.stores.ledger.refusals import LedgerRefusal, ReservationEnded
from inventory.stores.ledger.shelf import LockedShelf, ShelfKey


@dataclass(frozen=True, slots=True)
class ReservationResult:
    """A reservation, and what its shelf holds afterwards."""

    reservation: Reservation
    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved


@dataclass(frozen=True, slots=True)
class ReservationLine:
    """How many of one item to reserve."""

    item: Item
    quantity: int
    condition: str = Condition.NEW


class LineRefused(LedgerRefusal):
    """One of several lines cannot be reserved, so none was; `line` counts from 0."""

    def __init__(self, line: int, refusal: LedgerRefusal) -> None:
        super().__init__(refusal.fact, field=refusal.field)
        self.line = line
        self.refusal = refusal


def reserve(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    work_order: str,
    by: Who,
    condition: str = Condition.NEW,
    expires_at: datetime | None = None,
    at: datetime | None = None,
) -> ReservationResult:
    """Reserve available stock; raises StockShort or ReservedForOthers if there is too little."""
    line = ReservationLine(item, quantity, condition)
    try:
        return reserve_together(
            [line], storeroom, work_order=work_order, by=by, expires_at=expires_at, at=at
        )[0]
    except LineRefused as refused:
        raise refused.refusal from refused


def reserve_together(
    lines: Sequence[ReservationLine],
    storeroom: Storeroom,
    *,
    work_order: str,
    by: Who,
    kit: Kit | None = None,
    expires_at: datetime | None = None,
    at: datetime | None = None,
) -> list[ReservationResult]:
    """Reserve every line, or none: raises LineRefused for the first that cannot be reserved."""
    now = at or timezone.now()
    for number, line in enumerate(lines):
        try:
            _check_reserve(line.quantity, work_order, by, line.condition, expires_at, now)
        except LedgerRefusal as refusal:
            raise LineRefused(number, refusal) from refusal
    with transaction.atomic():
        shelves: dict[ShelfKey, LockedShelf] = {}
        for line in lines:
            shelves.setdefault(_key(line, storeroom), LockedShelf(line.item, storeroom, line.condition))
        lock_shelves(shelves)
        held: list[tuple[Reservation, LockedShelf]] = []
        for number, line in enumerate(lines):
            reservation = _reservation(line, storeroom, work_order, by, expires_at, kit)
            shelf = shelves[_key(line, storeroom)]
            try:
                shelf.reserve(reservation)
            except LedgerRefusal as refusal:
                raise LineRefused(number, refusal) from refusal
            held.append((reservation, shelf))
        write_shelves(shelves.values(), now)
        for reservation, _ in held:
            reservation.save(force_insert=True)
        publish_reservations("made", [reservation for reservation, _ in held], now)
    return [ReservationResult(reservation, shelf.on_hand, shelf.reserved) for reservation, shelf in held]


def _key(line: ReservationLine, storeroom: Storeroom) -> ShelfKey:
    return line.item.pk, storeroom.pk, line.condition


def _reservation(
    line: ReservationLine,
    storeroom: Storeroom,
    work_order: str,
    by: Who,
    expires_at: datetime | None,
    kit: Kit | None,
) -> Reservation:
    return Reservation(
        item=line.item,
        storeroom=storeroom,
        condition=line.condition,
        quantity=line.quantity,
        open_quantity=line.quantity,
        work_order=work_order,
        expires_at=expires_at,
        kit=kit,
        reserved_by_name=name_of(by),
    )


def release(reservation: Reservation, *, at: datetime | None = None) -> ReservationResult:
    """End a reservation; raises ReservationEnded if it has ended already."""
    return _end(reservation, ReservationState.RELEASED, at or timezone.now())


def release_together(reservations: Sequence[Reservation], *, at: datetime | None = None) -> list[Reservation]:
    """End the open ones among these; gives the ended ones."""
    now = at or timezone.now()
    with transaction.atomic():
        shelves: dict[ShelfKey, LockedShelf] = {}
        for one in reservations:
            shelves.setdefault(
                (one.item_id, one.storeroom_id, one.condition),
                LockedShelf(one.item, one.storeroom, one.condition),
            )
        lock_shelves(shelves)
        keys = {one.pk for one in reservations}
        ended = [
            (shelf, reservation)
            for shelf in shelves.values()
            for reservation in list(shelf.reservations)
            if reservation.pk in keys
        ]
        for shelf, reservation in ended:
            shelf.reduce(reservation, reservation.open_quantity, ReservationState.RELEASED)
        write_shelves(shelves.values(), now)
        released = [reservation for _, reservation in ended]
        publish_reservations("released", released, now)
        close_kits(released, now)
    return released


def expire_reservations(now: datetime | None = None) -> tuple[Reservation, ...]:
    """End every open reservation that has expired."""
    moment = now or timezone.now()
    expired = []
    for reservation in Reservation.objects.expired_by(moment).with_places().order_by("pk"):
        try:
            expired.append(_end(reservation, ReservationState.EXPIRED, moment).reservation)
        except ReservationEnded:
            # Used or released since the query: nothing is left to expire.
            continue
    return tuple(expired)


def override_reservations(
    item: Item,
    storeroom: Storeroom,
    quantity: int,
    *,
    reason: str,
    condition: str = Condition.NEW,
    work_order: str = "",
    at: datetime | None = None,
) -> tuple[Reservation, ...]:
    """Shorten other work orders' reservations, the newest first, until this quantity may be issued.

    Book the issue in the same transaction, or somebody else takes what was freed.
    """
    now = at or timezone.now()
    check_quantity("quantity", quantity)
    if not reason.strip():
        raise LedgerRefusal(fact("override_reason_missing"), field="reason")
    with transaction.atomic():
        shelf = lock_shelf(item, storeroom, condition)
        shelf.override(quantity, work_order, reason)
        write_shelves([shelf], now)
        publish_reservations("short", shelf.shortened, now, taken_by=work_order, taken_reason=reason)
        close_kits(shelf.shortened, now)
    return tuple(shelf.changed_reservations)


def _end(reservation: Reservation, state: str, now: datetime) -> ReservationResult:
    with transaction.atomic():
        shelf = lock_shelf(reservation.item, reservation.storeroom, reservation.condition)
        # The row is read again under the lock: the caller's copy may be older than a use or a release.
        current = next((one for one in shelf.reservations if one == reservation), None)
        if current is None:
            reservation.refresh_from_db(fields=["state", "open_quantity", "updated_at"])
            raise ReservationEnded(reservation)
        shelf.reduce(current, current.open_quantity, state)
        write_shelves([shelf], now)
        publish_reservations(str(state), [current], now)
        close_kits([current], now)
    reservation.state, reservation.open_quantity, reservation.updated_at = state, 0, now
    return ReservationResult(reservation, shelf.on_hand, shelf.reserved)


def _check_reserve(
    quantity: int, work_order: str, by: Who, condition: str, expires_at: datetime | None, now: datetime
) -> None:
    check_quantity("quantity", quantity)
    if not work_order.strip():
        raise LedgerRefusal(fact("reservation_without_work_order"), field="work_order")
    check_text("work_order", work_order, 60)
    check_text("by", name_of(by), 150)
    if condition not in AVAILABLE_CONDITIONS:
        allowed = tuple(str(one) for one in AVAILABLE_CONDITIONS)
        raise LedgerRefusal(fact("condition_not_reservable", allowed=allowed), field="condition")
    if expires_at is None:
        return
    refuse_naive("expires_at", expires_at, LedgerRefusal)
    if expires_at <= now:
        raise LedgerRefusal(fact("expiry_in_past"), field="expires_at")
