"""One locked stock level in memory: every rule of adding and removing stock, and no access to the database."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from inventory.facts import Fact, fact
from inventory.models import (
    Item,
    Reservation,
    ReservationState,
    StockEntry,
    StockLevel,
    StockPiece,
    Storeroom,
    Unit,
)
from inventory.models.fields import GREATEST_QUANTITY
from inventory.stocking.chain_pieces import ChainJob, cut_jobs
from inventory.stores.ledger.refusals import (
    LedgerRefusal,
    NumberMerged,
    PiecesTooShort,
    ReservedForOthers,
    StockShort,
)

ShelfKey = tuple[int, int, str]
"""Item, storeroom, condition."""
SHORTENED = ("open_quantity", "state", "short_quantity", "taken_by", "taken_reason")
"""The columns of a reservation that change when other work goes first."""


@dataclass(slots=True)
class LockedShelf:
    """Stock of one item, storeroom and condition. A method that raises has changed nothing."""

    item: Item
    storeroom: Storeroom
    condition: str
    level: StockLevel | None = None
    is_new: bool = False
    is_closed: bool = False
    """Its number is merged into another one: nothing is added, taken, counted or reserved here."""
    pieces: list[StockPiece] = field(default_factory=list)
    reservations: list[Reservation] = field(default_factory=list)
    on_hand: int = 0
    reserved: int = 0
    booked_on_hand: int = 0
    booked_reserved: int = 0
    last_counted_at: datetime | None = None
    bin_id: int | None = None
    changed_pieces: list[StockPiece] = field(default_factory=list)
    changed_reservations: list[Reservation] = field(default_factory=list)
    used_reservations: list[Reservation] = field(default_factory=list)
    shortened: list[Reservation] = field(default_factory=list)
    entries: list[StockEntry] = field(default_factory=list)

    @property
    def available(self) -> int:
        return self.on_hand - self.reserved

    @property
    def is_in_links(self) -> bool:
        return self.item.unit == Unit.LINK

    def put(self, quantity: int, lengths: Sequence[int] | None = None, label: str = "") -> StockPiece | None:
        """Add stock; gives the piece of chain if it is exactly one."""
        self.refuse_closed()
        self.refuse_overflow(quantity)
        self.on_hand += quantity
        if not self.is_in_links:
            return None
        pieces = [self._new_piece(links, label) for links in (lengths or [quantity])]
        return pieces[0] if len(pieces) == 1 else None

    def put_back(self, quantity: int, piece: StockPiece | None) -> StockPiece | None:
        """Add to the piece that it was cut from, or as a new piece if that is not known."""
        self.refuse_closed()
        own = self.find_piece(piece) if piece is not None else None
        if own is None:
            return self.put(quantity)
        self.refuse_overflow(quantity)
        self.on_hand += quantity
        self._lengthen(own, quantity)
        return own

    def take(
        self,
        quantity: int,
        *,
        piece: StockPiece | None = None,
        join: bool = False,
        most_joints: int | None = None,
        work_order: str = "",
    ) -> StockPiece | None:
        """Remove available stock and what is reserved for this work order; gives the piece of chain if it is exactly one."""
        self.refuse_closed()
        own = self.reserved_for(work_order)
        held = sum(reservation.open_quantity for reservation in own)
        self.refuse_short(quantity, self.available + held, own)
        cuts = self._cuts(quantity, piece, join)
        if most_joints is not None and len(cuts) - 1 > most_joints:
            raise self._too_short("too_many_joints", quantity, joints=len(cuts) - 1, chain_joints=most_joints)
        self._use_up(own, min(quantity, held))
        self.on_hand -= quantity
        for cut, links in cuts:
            self._lengthen(cut, -links)
        return cuts[0][0] if len(cuts) == 1 else None

    def count(
        self, counted: int, *, piece: StockPiece | None, seen: int | None
    ) -> tuple[int, StockPiece | None]:
        """Correct the book to the count; gives the change and the piece that changed."""
        self.refuse_closed()
        own = self.piece_here(piece) if piece is not None else None
        change = counted - (seen if seen is not None else self.on_hand if own is None else own.links)
        self._refuse_count(change, counted)
        if not self.is_in_links:
            self.on_hand += change
            return change, None
        return change, self._count_links(change, own)

    def find_piece(self, piece: StockPiece) -> StockPiece | None:
        return next((own for own in self.pieces if own == piece), None)

    def piece_here(self, piece: StockPiece) -> StockPiece:
        own = self.find_piece(piece)
        if own is None:
            raise LedgerRefusal(fact("piece_not_here", piece_links=tuple(self.lengths())), field="piece")
        return own

    def lengths(self) -> list[int]:
        return sorted((piece.links for piece in self.pieces if piece.links), reverse=True)

    def reserve(self, reservation: Reservation, most_joints: int) -> None:
        """A reservation of links is one chain, cut from what is left beside those before it."""
        self.refuse_closed()
        self.refuse_short(reservation.quantity, self.available, [])
        if not self._can_cut(reservation, reservation.open_quantity, most_joints):
            raise self._too_short("no_piece_to_reserve", reservation.quantity, chain_joints=most_joints)
        self.reserved += reservation.quantity
        self.reservations.append(reservation)

    def can_hold_again(self, reservation: Reservation, quantity: int, most_joints: int) -> int:
        """How many of the quantity it can hold more; a chain is held again whole or not at all."""
        part = min(quantity, self.available)
        return part if self._can_cut(reservation, reservation.open_quantity + part, most_joints) else 0

    def override(self, quantity: int, work_order: str, reason: str) -> None:
        """Shorten reservations of other work until this work order may take the quantity."""
        self.refuse_closed()
        own = self.reserved_for(work_order)
        held = sum(reservation.open_quantity for reservation in own)
        if quantity > self.on_hand:
            self.refuse_short(quantity, self.available + held, own)
        others = [reservation for reservation in self.reservations if reservation not in own]
        self._shorten(others, quantity - self.available - held, work_order, reason)

    def release_short(self, left: int, reason: str) -> None:
        """Shorten the reservations until no more than `left` is reserved."""
        self._shorten(self.reservations, self.reserved - left, "", reason)

    def snapshot_reservations(self) -> Callable[[], None]:
        """Gives a function that restores the reservations as they are now.

        A movement that overrides shortens reservations first and may then be refused: the shelf serves the rest of its
        batch, so the shortening must not stay.
        """
        kept = [
            (reservation, {name: getattr(reservation, name) for name in SHORTENED})
            for reservation in self.reservations
        ]
        lists = {
            name: list(getattr(self, name)) for name in ("reservations", "changed_reservations", "shortened")
        }
        reserved = self.reserved

        def restore() -> None:
            self.reserved = reserved
            for name, reservations in lists.items():
                setattr(self, name, reservations)
            for reservation, values in kept:
                for name, value in values.items():
                    setattr(reservation, name, value)

        return restore

    def reserved_for(self, work_order: str) -> list[Reservation]:
        return [
            reservation
            for reservation in self.reservations
            if work_order and reservation.work_order == work_order
        ]

    def _shorten(
        self, reservations: Sequence[Reservation], quantity: int, work_order: str, reason: str
    ) -> None:
        """The newest reservation first; each records what it lost as `short_quantity`."""
        for reservation in sorted(reservations, key=lambda reservation: -reservation.pk):
            if quantity <= 0:
                return
            part = min(quantity, reservation.open_quantity)
            reservation.short_quantity += part
            reservation.taken_by, reservation.taken_reason = work_order, reason
            self.shortened.append(reservation)
            self.reduce(reservation, part, ReservationState.RELEASED)
            quantity -= part

    def reduce(self, reservation: Reservation, quantity: int, state: str) -> None:
        """Release or use up part of a reservation; with nothing left it ends in that state."""
        reservation.open_quantity -= quantity
        self.reserved -= quantity
        if reservation.open_quantity == 0:
            reservation.state = state
            self.reservations.remove(reservation)
        if reservation not in self.changed_reservations:
            self.changed_reservations.append(reservation)

    def _can_cut(self, reservation: Reservation, links: int, most_joints: int) -> bool:
        """Whether a chain of so many links can be cut beside what the others hold."""
        if not self.is_in_links:
            return True
        others = [one.open_quantity for one in self.reservations if one != reservation]
        jobs = [ChainJob(one, joints=most_joints) for one in (*others, links)]
        return cut_jobs([own.links for own in self.pieces], jobs).cuts[-1] is not None

    def _use_up(self, own: list[Reservation], quantity: int) -> None:
        for reservation in own:
            part = min(quantity, reservation.open_quantity)
            if part:
                self.used_reservations.append(reservation)
                self.reduce(reservation, part, ReservationState.USED)
                quantity -= part

    def _cuts(self, quantity: int, piece: StockPiece | None, join: bool) -> list[tuple[StockPiece, int]]:
        if not self.is_in_links:
            return []
        if piece is not None:
            own = self.piece_here(piece)
            if own.links < quantity:
                raise self._too_short("piece_too_short", quantity, links=own.links)
            return [(own, quantity)]
        long_enough = [own for own in self.pieces if own.links >= quantity]
        if long_enough:
            return [(min(long_enough, key=lambda own: (own.links, own.pk or 0)), quantity)]
        if not join:
            raise self._too_short("no_piece_long_enough", quantity)
        return self._joined(quantity)

    def _joined(self, quantity: int) -> list[tuple[StockPiece, int]]:
        """The longest pieces whole, so that joints are few, then the shortest that covers what is missing."""
        cuts: list[tuple[StockPiece, int]] = []
        left = sorted((own for own in self.pieces if own.links), key=lambda own: (-own.links, own.pk or 0))
        while quantity and left:
            covers = [own for own in left if own.links >= quantity]
            chosen = min(covers, key=lambda own: (own.links, own.pk or 0)) if covers else left[0]
            left.remove(chosen)
            cuts.append((chosen, min(quantity, chosen.links)))
            quantity -= cuts[-1][1]
        return cuts

    def _count_links(self, change: int, own: StockPiece | None) -> StockPiece | None:
        lying = [piece for piece in self.pieces if piece.links]
        if own is None and len(lying) == 1:
            own = lying[0]
        if own is not None:
            if own.links + change < 0:
                raise LedgerRefusal(fact("piece_shorter_since_seen", links=own.links), field="seen")
            self.on_hand += change
            self._lengthen(own, change)
            return own
        if change > 0:
            return self.put(change)
        if self.on_hand + change == 0:
            for piece in lying:
                self._lengthen(piece, -piece.links)
            self.on_hand = 0
        elif change < 0:
            raise LedgerRefusal(
                fact("counted_piece_not_named", piece_links=tuple(self.lengths())), field="piece"
            )
        return None

    def _lengthen(self, piece: StockPiece, links: int) -> None:
        piece.links += links
        if piece.pk is not None and piece not in self.changed_pieces:
            self.changed_pieces.append(piece)

    def _new_piece(self, links: int, label: str) -> StockPiece:
        piece = StockPiece(level=self.level, links=links, label=label)
        self.pieces.append(piece)
        return piece

    def _too_short(self, code: str, quantity: int, **values: int) -> PiecesTooShort:
        lengths = self.lengths()
        found = fact(code, **self._place(), quantity=quantity, piece_links=tuple(lengths), **values)
        return PiecesTooShort(found, pieces=lengths)

    def _place(self) -> dict[str, str]:
        return {"item": self.item.stock_number, "storeroom": self.storeroom.code}

    def refuse_closed(self) -> None:
        if self.is_closed:
            raise NumberMerged(self.item)

    def refuse_overflow(self, quantity: int, *, field: str = "quantity") -> None:
        if self.on_hand + quantity > GREATEST_QUANTITY:
            raise LedgerRefusal(fact("stock_level_too_high", greatest=GREATEST_QUANTITY), field=field)

    def refuse_short(self, requested: int, available: int, own: list[Reservation]) -> None:
        if requested <= available:
            return
        counts = self._counts(requested, available)
        if requested <= self.on_hand:
            others = [reservation for reservation in self.reservations if reservation not in own]
            found = fact("stock_reserved", **self._place(), **counts, reservations=facts_of(others))
            raise ReservedForOthers(found, reservations=others, **counts)
        raise StockShort(fact("stock_short", **self._place(), **counts), **counts)

    def _counts(self, requested: int, available: int) -> dict[str, Any]:
        counts = {"requested": requested, "available": available}
        return counts | {"on_hand": self.on_hand, "reserved": self.reserved}

    def _refuse_count(self, change: int, counted: int) -> None:
        after = self.on_hand + change
        self.refuse_overflow(change, field="counted")
        if after < 0:
            raise LedgerRefusal(fact("count_below_zero", on_hand=self.on_hand), field="seen")
        if change < 0 and after < self.reserved:
            left = {"counted": counted, "left": after, "reserved": self.reserved}
            found = fact("count_below_reserved", **left, reservations=facts_of(self.reservations))
            counts = self._counts(-change, self.available)
            raise ReservedForOthers(found, reservations=self.reservations, field="counted", **counts)


def shelf_key(row: Any) -> ShelfKey:
    """The shelf that a movement, an entry, a reservation or a count is about."""
    return row.item.pk, row.storeroom.pk, row.condition


def shelves_of(rows: Iterable[Any]) -> dict[ShelfKey, LockedShelf]:
    return {shelf_key(row): LockedShelf(row.item, row.storeroom, row.condition) for row in rows}


def facts_of(reservations: Sequence[Reservation]) -> tuple[Fact, ...]:
    return tuple(
        fact("reserved_for_work_order", work_order=one.work_order, quantity=one.open_quantity)
        for one in reservations
    )
