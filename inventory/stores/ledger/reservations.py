"""What is held back on the shelf for a work order, from the promise to its one end."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.models import (
    AVAILABLE_CONDITIONS,
    Condition,
    Item,
    Kit,
    Reservation,
    ReservationState,
    Storeroom,
)
from inventory.stores.ledger.locking import lock_shelves, locked_shelf, settle_kits, write_shelves
from inventory.stores.ledger.movement import Who, check_quantity, check_text, name_of
from inventory.stores.ledger.movement_events import tell_holds
from inventory.stores.ledger.refusals import LedgerRefusal, ReservationEnded
from inventory.stores.ledger.shelf import Key, Shelf


@dataclass(frozen=True, slots=True)
class Hold:
    """A reservation, and its shelf after what was done."""

    reservation: Reservation
    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved


@dataclass(frozen=True, slots=True)
class Line:
    """What to hold back of one item."""

    item: Item
    quantity: int
    condition: str = Condition.NEW


class LineRefused(LedgerRefusal):
    """One line of several cannot be held back: nothing was; `line` counts from 0."""

    def __init__(self, line: int, refusal: LedgerRefusal) -> None:
        super().__init__(refusal.field, refusal.sentence)
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
) -> Hold:
    """Hold back what is free; raises StockShort or Reserved where that is less."""
    line = Line(item, quantity, condition)
    try:
        return reserve_together(
            [line], storeroom, work_order=work_order, by=by, expires_at=expires_at, at=at
        )[0]
    except LineRefused as refused:
        raise refused.refusal from refused


def reserve_together(
    lines: Sequence[Line],
    storeroom: Storeroom,
    *,
    work_order: str,
    by: Who,
    kit: Kit | None = None,
    expires_at: datetime | None = None,
    at: datetime | None = None,
) -> list[Hold]:
    """Hold back every line, or none: raises LineRefused for the first that cannot be."""
    now = at or timezone.now()
    for number, line in enumerate(lines):
        try:
            _check_reserve(line.quantity, work_order, by, line.condition, expires_at, now)
        except LedgerRefusal as refusal:
            raise LineRefused(number, refusal) from refusal
    with transaction.atomic():
        shelves: dict[Key, Shelf] = {}
        for line in lines:
            shelves.setdefault(_key(line, storeroom), Shelf(line.item, storeroom, line.condition))
        lock_shelves(shelves)
        held: list[tuple[Reservation, Shelf]] = []
        for number, line in enumerate(lines):
            reservation = _reservation(line, storeroom, work_order, by, expires_at, kit)
            shelf = shelves[_key(line, storeroom)]
            try:
                shelf.hold(reservation)
            except LedgerRefusal as refusal:
                raise LineRefused(number, refusal) from refusal
            held.append((reservation, shelf))
        write_shelves(shelves.values(), now)
        for reservation, _ in held:
            reservation.save(force_insert=True)
        tell_holds("made", [reservation for reservation, _ in held], now)
    return [Hold(reservation, shelf.on_hand, shelf.reserved) for reservation, shelf in held]


def _key(line: Line, storeroom: Storeroom) -> Key:
    return line.item.pk, storeroom.pk, line.condition


def _reservation(
    line: Line,
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


def release(reservation: Reservation, *, at: datetime | None = None) -> Hold:
    """End a reservation and free what it still held; raises ReservationEnded when it has ended before."""
    return _end(reservation, ReservationState.RELEASED, at or timezone.now())


def release_together(reservations: Sequence[Reservation], *, at: datetime | None = None) -> list[Reservation]:
    """End those that still hold something, their shelves locked in one order; gives what was ended."""
    now = at or timezone.now()
    with transaction.atomic():
        shelves: dict[Key, Shelf] = {}
        for one in reservations:
            shelves.setdefault(
                (one.item_id, one.storeroom_id, one.condition), Shelf(one.item, one.storeroom, one.condition)
            )
        lock_shelves(shelves)
        asked = {one.pk for one in reservations}
        ended = [
            (shelf, hold) for shelf in shelves.values() for hold in list(shelf.holds) if hold.pk in asked
        ]
        for shelf, hold in ended:
            shelf.end_hold(hold, hold.open_quantity, ReservationState.RELEASED)
        write_shelves(shelves.values(), now)
        released = [hold for _, hold in ended]
        tell_holds("released", released, now)
        settle_kits(released, now)
    return released


def expire_reservations(now: datetime | None = None) -> tuple[Reservation, ...]:
    """End every open reservation whose time is over; safe to run twice, and beside others."""
    moment = now or timezone.now()
    expired = []
    for reservation in Reservation.objects.expired_by(moment).with_places().order_by("pk"):
        try:
            expired.append(_end(reservation, ReservationState.EXPIRED, moment).reservation)
        except ReservationEnded:
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
        raise LedgerRefusal("reason", "Say why other work has to wait: give reason.")
    with transaction.atomic():
        shelf = locked_shelf(item, storeroom, condition)
        shelf.override(quantity, work_order, reason)
        write_shelves([shelf], now)
        tell_holds("short", shelf.shortened, now, taken_by=work_order, taken_reason=reason)
        settle_kits(shelf.shortened, now)
    return tuple(shelf.changed_holds)


def _end(reservation: Reservation, state: str, now: datetime) -> Hold:
    with transaction.atomic():
        shelf = locked_shelf(reservation.item, reservation.storeroom, reservation.condition)
        hold = next((hold for hold in shelf.holds if hold == reservation), None)
        if hold is None:
            reservation.refresh_from_db(fields=["state", "open_quantity", "updated_at"])
            raise ReservationEnded(
                f"The reservation for {reservation.work_order} has ended already: it is "
                f"{reservation.get_state_display()}.",
                reservation=reservation,
            )
        shelf.end_hold(hold, hold.open_quantity, state)
        write_shelves([shelf], now)
        tell_holds(str(state), [hold], now)
        settle_kits([hold], now)
    reservation.state, reservation.open_quantity, reservation.updated_at = state, 0, now
    return Hold(reservation, shelf.on_hand, shelf.reserved)


def _check_reserve(
    quantity: int, work_order: str, by: Who, condition: str, expires_at: datetime | None, now: datetime
) -> None:
    check_quantity("quantity", quantity)
    if not work_order.strip():
        raise LedgerRefusal("work_order", "Say for which work order it is held back: give work_order.")
    check_text("work_order", work_order, 60)
    check_text("by", name_of(by), 150)
    if condition not in AVAILABLE_CONDITIONS:
        words = " or ".join(AVAILABLE_CONDITIONS)
        raise LedgerRefusal("condition", f"Only what is {words} can be held back.")
    if expires_at is None:
        return
    if timezone.is_naive(expires_at):
        raise LedgerRefusal("expires_at", "expires_at needs an offset, such as 2024-03-04T06:30:00+01:00.")
    if expires_at <= now:
        raise LedgerRefusal(
            "expires_at", "expires_at is over already: give a moment to come, or leave it out."
        )
