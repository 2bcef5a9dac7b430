"""Why a movement was not booked: a field and a sentence that says what to do next."""

from collections.abc import Sequence

from inventory.models import Reservation, StockEntry


class LedgerRefusal(ValueError):  # noqa: N818 - reads as the refusal it is
    """Nothing was booked; `field` names what to change and `sentence` says how."""

    def __init__(self, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field
        self.sentence = sentence


class StockShort(LedgerRefusal):
    """More was asked for than may be taken."""

    def __init__(
        self,
        sentence: str,
        *,
        asked: int,
        available: int,
        on_hand: int,
        reserved: int,
        field: str = "quantity",
    ) -> None:
        super().__init__(field, sentence)
        self.asked = asked
        self.available = available
        self.on_hand = on_hand
        self.reserved = reserved


class Reserved(StockShort):
    """Enough is on the shelf, but other work orders hold it back: `reservations` names them."""

    def __init__(
        self,
        sentence: str,
        *,
        reservations: Sequence[Reservation],
        asked: int,
        available: int,
        on_hand: int,
        reserved: int,
        field: str = "quantity",
    ) -> None:
        super().__init__(
            sentence, asked=asked, available=available, on_hand=on_hand, reserved=reserved, field=field
        )
        self.reservations = tuple(reservations)


class PiecesTooShort(LedgerRefusal):
    """No single piece of chain is long enough: `pieces` gives the lengths that there are, longest first."""

    def __init__(self, sentence: str, *, pieces: Sequence[int], field: str = "piece") -> None:
        super().__init__(field, sentence)
        self.pieces = tuple(pieces)


class AlreadyBooked(LedgerRefusal):
    """The reference was used for a movement that differs from this one in `differs`."""

    def __init__(self, sentence: str, *, entry: StockEntry, differs: str) -> None:
        super().__init__("reference", sentence)
        self.entry = entry
        self.differs = differs


class AlreadyReversed(LedgerRefusal):
    def __init__(self, sentence: str, *, entry: StockEntry) -> None:
        super().__init__("entry", sentence)
        self.entry = entry


class NotReversible(LedgerRefusal):
    """There is nothing in this entry that could be taken back."""

    def __init__(self, sentence: str) -> None:
        super().__init__("entry", sentence)


class ReservationEnded(LedgerRefusal):
    def __init__(self, sentence: str, *, reservation: Reservation) -> None:
        super().__init__("reservation", sentence)
        self.reservation = reservation


class ShelfMoved(RuntimeError):  # noqa: N818
    """A locked level changed all the same: the isolation of the database is not what the ledger needs."""
