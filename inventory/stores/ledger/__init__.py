"""The only writer of stock levels, pieces of chain, ledger entries and reservations.

Each function does all it says in one transaction, or raises a LedgerRefusal and has done nothing.
"""

from inventory.stores.ledger.booking import Posted, post_many
from inventory.stores.ledger.movement import Booked, Movement, Who
from inventory.stores.ledger.movements import count, issue, receive, reverse, scrap, take_back, transfer
from inventory.stores.ledger.refusals import (
    AlreadyBooked,
    AlreadyReversed,
    LedgerRefusal,
    NotReversible,
    PiecesTooShort,
    ReservationEnded,
    Reserved,
    StockShort,
)
from inventory.stores.ledger.replay import Difference, balance_at, replay
from inventory.stores.ledger.reservations import (
    Hold,
    Line,
    LineRefused,
    expire_reservations,
    override_reservations,
    release,
    reserve,
    reserve_together,
)

__all__ = [
    "AlreadyBooked",
    "AlreadyReversed",
    "Booked",
    "Difference",
    "Hold",
    "LedgerRefusal",
    "Line",
    "LineRefused",
    "Movement",
    "NotReversible",
    "PiecesTooShort",
    "Posted",
    "ReservationEnded",
    "Reserved",
    "StockShort",
    "Who",
    "balance_at",
    "count",
    "expire_reservations",
    "issue",
    "override_reservations",
    "post_many",
    "receive",
    "release",
    "replay",
    "reserve",
    "reserve_together",
    "reverse",
    "scrap",
    "take_back",
    "transfer",
]
