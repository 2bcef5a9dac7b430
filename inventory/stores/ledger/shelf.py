"""One locked stock level in memory: every rule of taking and putting, and nothing of the database."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

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
from inventory.stores.ledger.refusals import LedgerRefusal, PiecesTooShort, Reserved, StockShort

Key = tuple[int, int, str]
"""Item, storeroom, condition."""
SHORTENED = ("open_quantity", "state", "short_quantity", "taken_by", "taken_reason")
"""What of a reservation changes where it has to wait for other work."""


@dataclass(slots=True)
class Shelf:
    """What lies at one place. Each method either does all it says or raises and has done nothing."""

    item: Item
    storeroom: Storeroom
    condition: str
    level: StockLevel | None = None
    is_new: bool = False
    pieces: list[StockPiece] = field(default_factory=list)
    holds: list[Reservation] = field(default_factory=list)
    on_hand: int = 0
    reserved: int = 0
    booked_on_hand: int = 0
    booked_reserved: int = 0
    last_counted_at: datetime | None = None
    bin_id: int | None = None
    changed_pieces: list[StockPiece] = field(default_factory=list)
    changed_holds: list[Reservation] = field(default_factory=list)
    used_holds: list[Reservation] = field(default_factory=list)
    shortened: list[Reservation] = field(default_factory=list)
    entries: list[StockEntry] = field(default_factory=list)

    @property
    def free(self) -> int:
        return self.on_hand - self.reserved

    @property
    def is_in_links(self) -> bool:
        return self.item.unit == Unit.LINK

    def put(self, quantity: int, lengths: Sequence[int] | None = None, label: str = "") -> StockPiece | None:
        """Add to the shelf; gives the piece of chain when it became exactly one."""
        self.refuse_overflow(quantity)
        self.on_hand += quantity
        if not self.is_in_links:
            return None
        pieces = [self._new_piece(links, label) for links in (lengths or [quantity])]
        return pieces[0] if len(pieces) == 1 else None

    def put_back(self, quantity: int, piece: StockPiece | None) -> StockPiece | None:
        """Add to the piece that it was cut from, or as a piece of its own where that is not known."""
        own = self.find_piece(piece) if piece is not None else None
        if own is None:
            return self.put(quantity)
        self.refuse_overflow(quantity)
        self.on_hand += quantity
        self._lengthen(own, quantity)
        return own

    def take(
        self, quantity: int, *, piece: StockPiece | None = None, join: bool = False, work_order: str = ""
    ) -> StockPiece | None:
        """Take from what is free, and from what this work order holds back; gives the piece when it was one."""
        own = self.held_for(work_order)
        held = sum(hold.open_quantity for hold in own)
        self.refuse_short(quantity, self.free + held, own)
        cuts = self._cuts(quantity, piece, join)
        self._use_up(own, min(quantity, held))
        self.on_hand -= quantity
        for cut, links in cuts:
            self._lengthen(cut, -links)
        return cuts[0][0] if len(cuts) == 1 else None

    def count(
        self, counted: int, *, piece: StockPiece | None, seen: int | None
    ) -> tuple[int, StockPiece | None]:
        """Set the book right by what was found; gives the change and the piece that it fell on."""
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
            raise LedgerRefusal("piece", f"That piece does not lie here: {self._pieces_in_words()}.")
        return own

    def lengths(self) -> list[int]:
        return sorted((piece.links for piece in self.pieces if piece.links), reverse=True)

    def hold(self, reservation: Reservation) -> None:
        self.refuse_short(reservation.quantity, self.free, [])
        self.reserved += reservation.quantity
        self.holds.append(reservation)

    def override(self, quantity: int, work_order: str, reason: str) -> None:
        """Free what this work order lacks of that quantity from what other work holds back."""
        own = self.held_for(work_order)
        held = sum(hold.open_quantity for hold in own)
        if quantity > self.on_hand:
            self.refuse_short(quantity, self.free + held, own)
        others = [hold for hold in self.holds if hold not in own]
        self._shorten(others, quantity - self.free - held, work_order, reason)

    def give_up(self, left: int, reason: str) -> None:
        """Shorten what is held back to what was found."""
        self._shorten(self.holds, self.reserved - left, "", reason)

    def holds_as_they_are(self) -> Callable[[], None]:
        """A way back to what is held back now, for whoever shortens it and is then refused the rest."""
        kept = [(hold, {name: getattr(hold, name) for name in SHORTENED}) for hold in self.holds]
        lists = {name: list(getattr(self, name)) for name in ("holds", "changed_holds", "shortened")}
        reserved = self.reserved

        def put_back() -> None:
            self.reserved = reserved
            for name, holds in lists.items():
                setattr(self, name, holds)
            for hold, values in kept:
                for name, value in values.items():
                    setattr(hold, name, value)

        return put_back

    def held_for(self, work_order: str) -> list[Reservation]:
        return [hold for hold in self.holds if work_order and hold.work_order == work_order]

    def _shorten(self, holds: Sequence[Reservation], quantity: int, work_order: str, reason: str) -> None:
        """The newest reservation first; each keeps what it lacks as short."""
        for hold in sorted(holds, key=lambda hold: -hold.pk):
            if quantity <= 0:
                return
            part = min(quantity, hold.open_quantity)
            hold.short_quantity += part
            hold.taken_by, hold.taken_reason = work_order, reason
            self.shortened.append(hold)
            self.end_hold(hold, part, ReservationState.RELEASED)
            quantity -= part

    def end_hold(self, hold: Reservation, quantity: int, state: str) -> None:
        """Let go of part or all of what is held back; at nothing left it ends in that state."""
        hold.open_quantity -= quantity
        self.reserved -= quantity
        if hold.open_quantity == 0:
            hold.state = state
            self.holds.remove(hold)
        if hold not in self.changed_holds:
            self.changed_holds.append(hold)

    def _use_up(self, own: list[Reservation], quantity: int) -> None:
        for hold in own:
            part = min(quantity, hold.open_quantity)
            if part:
                self.used_holds.append(hold)
                self.end_hold(hold, part, ReservationState.USED)
                quantity -= part

    def _cuts(self, quantity: int, piece: StockPiece | None, join: bool) -> list[tuple[StockPiece, int]]:
        if not self.is_in_links:
            return []
        if piece is not None:
            own = self.piece_here(piece)
            if own.links < quantity:
                raise PiecesTooShort(
                    f"That piece has {own.links} links, {quantity} are asked for: {self._pieces_in_words()}.",
                    pieces=self.lengths(),
                )
            return [(own, quantity)]
        long_enough = [own for own in self.pieces if own.links >= quantity]
        if long_enough:
            return [(min(long_enough, key=lambda own: (own.links, own.pk or 0)), quantity)]
        if not join:
            raise PiecesTooShort(
                f"No single piece of {self.item} in {self.storeroom} has {quantity} links: "
                f"{self._pieces_in_words()}. Allow pieces to be joined, or issue fewer.",
                pieces=self.lengths(),
            )
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
                raise LedgerRefusal("seen", f"The piece has {own.links} links by now: count it again.")
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
            raise LedgerRefusal("piece", f"Say which piece was counted: {self._pieces_in_words()}.")
        return None

    def _lengthen(self, piece: StockPiece, links: int) -> None:
        piece.links += links
        if piece.pk is not None and piece not in self.changed_pieces:
            self.changed_pieces.append(piece)

    def _new_piece(self, links: int, label: str) -> StockPiece:
        piece = StockPiece(level=self.level, links=links, label=label)
        self.pieces.append(piece)
        return piece

    def refuse_overflow(self, quantity: int) -> None:
        if self.on_hand + quantity > GREATEST_QUANTITY:
            raise LedgerRefusal(
                "quantity", f"No shelf holds more than {GREATEST_QUANTITY}: is the number right?"
            )

    def refuse_short(self, asked: int, available: int, own: list[Reservation]) -> None:
        if asked <= available:
            return
        counts: dict[str, Any] = {
            "asked": asked,
            "available": available,
            "on_hand": self.on_hand,
            "reserved": self.reserved,
        }
        if asked <= self.on_hand:
            others = [hold for hold in self.holds if hold not in own]
            raise Reserved(
                f"{self.item} in {self.storeroom}: {asked} asked for, {available} free; the rest is held back "
                f"for {in_words(others)}. Release a reservation, take fewer, or take from another storeroom.",
                reservations=others,
                **counts,
            )
        raise StockShort(
            f"{self.item} in {self.storeroom}: {asked} asked for, {available} free "
            f"({self.on_hand} on hand, {self.reserved} held back). "
            "Take fewer, count the shelf, or take from another storeroom.",
            **counts,
        )

    def _refuse_count(self, change: int, counted: int) -> None:
        after = self.on_hand + change
        if after > GREATEST_QUANTITY:
            raise LedgerRefusal(
                "counted", f"No shelf holds more than {GREATEST_QUANTITY}: is the number right?"
            )
        if after < 0:
            raise LedgerRefusal(
                "seen", f"The book has {self.on_hand} by now, too few for that change: count the shelf again."
            )
        if change < 0 and after < self.reserved:
            raise Reserved(
                f"{counted} found, which leaves {after}, but {self.reserved} are held back "
                f"for {in_words(self.holds)}. Release a reservation first, then count again.",
                reservations=self.holds,
                asked=-change,
                available=self.free,
                on_hand=self.on_hand,
                reserved=self.reserved,
                field="counted",
            )

    def _pieces_in_words(self) -> str:
        lengths = self.lengths()
        return (
            "there are pieces of " + listed([str(links) for links in lengths]) if lengths else "there is none"
        )


def listed(words: Sequence[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"


def in_words(holds: Sequence[Reservation]) -> str:
    return listed([f"{hold.work_order} ({hold.open_quantity})" for hold in holds]) if holds else "other work"
