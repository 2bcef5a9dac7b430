"""Reservations of stock for a work order."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction
from django.utils import timezone

from inventory.catalogue.plant_practice import allowed_chain_joints
from inventory.facts import fact
from inventory.models import (
    AVAILABLE_CONDITIONS,
    Condition,
    Item,
    Kit,
    Reservation,
    ReservationState,
    Storeroom,
    Unit,
)
from inventory.plumbing.record_validation import refuse_naive
from inventory.stores.ledger.locking import close_kits, lock_shelves, write_shelves
from inventory.stores.ledger.movement import Who, check_quantity, check_text, name_of
from inventory.stores.ledger.movement_events import publish_reservations
from inventory.stores.ledger.refusals import LedgerRefusal, ReservationEnded
from inventory.stores.ledger.shelf import shelf_key, shelves_of


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
) -> Reservation:
    """Reserve available stock; raises StockShort or ReservedForOthers if there is too little."""
    line = ReservationLine(item, quantity, condition)
    try:
        (reservation,) = reserve_together(
            [line], storeroom, work_order=work_order, by=by, expires_at=expires_at, at=at
        )
    except LineRefused as refused:
        raise refused.refusal from refused
    return reservation


def reserve_together(
    lines: Sequence[ReservationLine],
    storeroom: Storeroom,
    *,
    work_order: str,
    by: Who,
    kit: Kit | None = None,
    expires_at: datetime | None = None,
    at: datetime | None = None,
) -> list[Reservation]:
    """Reserve every line, or none: raises LineRefused for the first that cannot be reserved."""
    now = at or timezone.now()
    reservations = [
        Reservation(
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
        for line in lines
    ]
    _for_each_line(reservations, lambda reservation: _check(reservation, now))
    with transaction.atomic():
        shelves = shelves_of(reservations)
        lock_shelves(shelves)
        joints = allowed_chain_joints() if any(one.item.unit == Unit.LINK for one in lines) else 0
        _for_each_line(reservations, lambda one: shelves[shelf_key(one)].reserve(one, joints))
        write_shelves(shelves.values(), now)
        for reservation in reservations:
            reservation.save(force_insert=True)
        publish_reservations("made", reservations, now)
    return reservations


def _for_each_line(reservations: Sequence[Reservation], act: Callable[[Reservation], None]) -> None:
    for number, reservation in enumerate(reservations):
        try:
            act(reservation)
        except LedgerRefusal as refusal:
            raise LineRefused(number, refusal) from refusal


def release(reservation: Reservation, *, at: datetime | None = None) -> Reservation:
    """End a reservation; raises ReservationEnded if it has ended already."""
    ended = release_together([reservation], at=at)
    if not ended:
        reservation.refresh_from_db(fields=["state", "open_quantity", "updated_at"])
        raise ReservationEnded(reservation)
    (current,) = ended
    reservation.state, reservation.open_quantity = current.state, current.open_quantity
    return reservation


def release_together(reservations: Sequence[Reservation], *, at: datetime | None = None) -> list[Reservation]:
    """End the open ones among these; gives the ended ones."""
    return _end(reservations, ReservationState.RELEASED, at or timezone.now())


def expire_reservations(now: datetime | None = None) -> tuple[Reservation, ...]:
    """End every open reservation that has expired."""
    moment = now or timezone.now()
    expired: list[Reservation] = []
    for reservation in Reservation.objects.expired_by(moment).with_places().order_by("pk"):
        # Nothing is left to expire where it was used or released since the query.
        expired += _end([reservation], ReservationState.EXPIRED, moment)
    return tuple(expired)


def _end(reservations: Sequence[Reservation], state: str, now: datetime) -> list[Reservation]:
    with transaction.atomic():
        shelves = shelves_of(reservations)
        lock_shelves(shelves)
        # The rows are read again under the lock: the caller's copies may be older than a use or a release.
        held = [
            (shelf, one) for shelf in shelves.values() for one in shelf.reservations if one in reservations
        ]
        for shelf, one in held:
            shelf.reduce(one, one.open_quantity, state)
        write_shelves(shelves.values(), now)
        ended = [one for _, one in held]
        publish_reservations(str(state), ended, now)
        close_kits(ended, now)
    return ended


def _check(reservation: Reservation, now: datetime) -> None:
    check_quantity("quantity", reservation.quantity)
    if not reservation.work_order.strip():
        raise LedgerRefusal(fact("reservation_without_work_order"), field="work_order")
    check_text("work_order", reservation.work_order, 60)
    check_text("by", reservation.reserved_by_name, 150)
    if reservation.condition not in AVAILABLE_CONDITIONS:
        allowed = tuple(str(one) for one in AVAILABLE_CONDITIONS)
        raise LedgerRefusal(fact("condition_not_reservable", allowed=allowed), field="condition")
    if reservation.expires_at is None:
        return
    refuse_naive("expires_at", reservation.expires_at, LedgerRefusal)
    if reservation.expires_at <= now:
        raise LedgerRefusal(fact("expiry_in_past"), field="expires_at")
