"""The only writer of stock levels, pieces of chain, ledger entries and reservations.

Each function does all it says in one transaction, or raises a LedgerRefusal and has done nothing.
"""

from inventory.stores.ledger.booking import book, book_many
from inventory.stores.ledger.movement import Booked, Movement, Who
from inventory.stores.ledger.refusals import (
    AlreadyBooked,
    AlreadyReversed,
    LedgerRefusal,
    MoreThanLeft,
    NotReversible,
    NumberMerged,
    PiecesTooShort,
    ReservationEnded,
    ReservationGone,
    ReservedForOthers,
    StockShort,
)
from inventory.stores.ledger.replay import balance_at, replay
from inventory.stores.ledger.reservations import (
    LineRefused,
    ReservationLine,
    expire_reservations,
    release,
    reserve,
    reserve_together,
)
from inventory.stores.ledger.reversal import reverse
