"""Why a movement was not booked: a code with values, and the field to change."""

from collections.abc import Sequence
from typing import Any

from inventory.facts import Fact, Refusal, fact
from inventory.models import Item, Reservation, StockEntry


class LedgerRefusal(Refusal):
    """Nothing was booked."""


class StockShort(LedgerRefusal):
    """More is requested than may be taken."""

    def __init__(
        self,
        fact: Fact,
        *,
        requested: int,
        available: int,
        on_hand: int,
        reserved: int,
        field: str = "quantity",
    ) -> None:
        super().__init__(fact, field=field)
        self.requested = requested
        self.available = available
        self.on_hand = on_hand
        self.reserved = reserved


class ReservedForOthers(StockShort):
    """Enough is on the shelf, but it is reserved for other work orders: `reservations`."""

    def __init__(self, fact: Fact, *, reservations: Sequence[Reservation], **counts: Any) -> None:
        super().__init__(fact, **counts)
        self.reservations = tuple(reservations)


class PiecesTooShort(LedgerRefusal):
    """No single piece of chain is long enough: `pieces` gives the lengths that there are, longest first."""

    def __init__(self, fact: Fact, *, pieces: Sequence[int]) -> None:
        super().__init__(fact, field="piece")
        self.pieces = tuple(pieces)


class AlreadyBooked(LedgerRefusal):
    """The reference was used for a movement that differs from this one in `differs`."""

    def __init__(self, entry: StockEntry, differs: str) -> None:
        super().__init__(
            fact("reference_already_booked", reference=entry.reference, differs=differs), field="reference"
        )
        self.entry = entry
        self.differs = differs


class AlreadyReversed(LedgerRefusal):
    def __init__(self, entry: StockEntry) -> None:
        super().__init__(fact("movement_already_reversed", movement=entry.pk), field="entry")


class MoreThanLeft(LedgerRefusal):
    """Less is left of the entry than is to be reversed: `left`."""

    def __init__(self, entry: StockEntry, *, requested: int, left: int) -> None:
        values = {"movement": entry.pk, "requested": requested, "left": left}
        super().__init__(fact("reversal_above_what_is_left", **values), field="quantity")
        self.left = left


class NotReversible(LedgerRefusal):
    """There is nothing in this entry to reverse."""


class NumberMerged(LedgerRefusal):
    """The item goes on under another number."""

    def __init__(self, item: Item) -> None:
        into = item.merged_into or Item.objects.select_related("merged_into").get(pk=item.pk).merged_into
        names = {"item": item.stock_number, "into": into.stock_number if into else ""}
        super().__init__(fact("number_merged", **names), field="item")


class ReservationEnded(LedgerRefusal):
    def __init__(self, reservation: Reservation) -> None:
        ended = fact("reservation_ended", work_order=reservation.work_order, state=str(reservation.state))
        super().__init__(ended, field="reservation")


class ReservationGone(ReservationEnded):
    """The reservation that an issue was to use was released or expired at the same moment."""


class ShelfMoved(RuntimeError):  # noqa: N818
    """A locked level changed all the same: the isolation of the database is not what the ledger needs."""
