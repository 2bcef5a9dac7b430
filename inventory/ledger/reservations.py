"""What is held back on the shelf for a work order, from the promise to its one end."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.ledger.movement import Who, check_quantity, check_text, name_of
from inventory.ledger.refusals import LedgerRefusal, ReservationEnded
from inventory.ledger.shelf import Shelf
from inventory.ledger.shelves import lock_shelves, write_shelves
from inventory.models import AVAILABLE_CONDITIONS, Condition, Item, Reservation, ReservationState, Storeroom


@dataclass(frozen=True, slots=True)
class Hold:
    """A reservation, and its shelf after what was done."""

    reservation: Reservation
    on_hand: int
    reserved: int

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved


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
    now = at or timezone.now()
    _check_reserve(quantity, work_order, by, condition, expires_at, now)
    reservation = Reservation(
        item=item,
        storeroom=storeroom,
        condition=condition,
        quantity=quantity,
        open_quantity=quantity,
        work_order=work_order,
        expires_at=expires_at,
        reserved_by_name=name_of(by),
    )
    with transaction.atomic():
        shelf = _locked(item, storeroom, condition)
        shelf.hold(reservation)
        write_shelves([shelf], now)
        reservation.save(force_insert=True)
    return Hold(reservation, shelf.on_hand, shelf.reserved)


def release(reservation: Reservation, *, at: datetime | None = None) -> Hold:
    """End a reservation and free what it still held; raises ReservationEnded when it has ended before."""
    return _end(reservation, ReservationState.RELEASED, at or timezone.now())


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
        shelf = _locked(item, storeroom, condition)
        own = sum(hold.open_quantity for hold in shelf.holds if work_order and hold.work_order == work_order)
        missing = quantity - shelf.free - own
        if quantity > shelf.on_hand:
            shelf.refuse_short(quantity, shelf.free + own, [])
        for hold in sorted(shelf.holds, key=lambda hold: -hold.pk):
            if missing <= 0:
                break
            if not work_order or hold.work_order != work_order:
                part = min(missing, hold.open_quantity)
                shelf.end_hold(hold, part, ReservationState.RELEASED)
                missing -= part
        write_shelves([shelf], now)
    return tuple(shelf.changed_holds)


def _locked(item: Item, storeroom: Storeroom, condition: str) -> Shelf:
    shelf = Shelf(item, storeroom, condition)
    lock_shelves({(item.pk, storeroom.pk, condition): shelf})
    return shelf


def _end(reservation: Reservation, state: str, now: datetime) -> Hold:
    with transaction.atomic():
        shelf = _locked(reservation.item, reservation.storeroom, reservation.condition)
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
