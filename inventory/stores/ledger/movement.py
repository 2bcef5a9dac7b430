"""A movement as it is asked for, the checks that need no shelf, and what comes back."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.contrib.auth.models import User
from django.utils import timezone

from inventory.models import (
    AVAILABLE_CONDITIONS,
    Bin,
    Condition,
    Item,
    MovementKind,
    ReasonCode,
    StockEntry,
    StockPiece,
    Storeroom,
    Unit,
)
from inventory.models.fields import GREATEST_QUANTITY
from inventory.plumbing.record_validation import CLOCKS_APART
from inventory.stores.ledger.refusals import LedgerRefusal

GREATEST_COST = Decimal("999999999999.99")
KINDS_IN = frozenset({MovementKind.RECEIPT, MovementKind.RETURN})
KINDS_WITH_REASON_CODE = frozenset({MovementKind.RETURN, MovementKind.COUNT, MovementKind.SCRAP})

Who = User | str


@dataclass(frozen=True, slots=True, kw_only=True)
class Movement:
    """One movement to book. `quantity` is what moves, always positive; a count gives `counted` instead."""

    kind: str
    item: Item
    storeroom: Storeroom
    by: Who
    quantity: int | None = None
    condition: str = Condition.NEW
    bin: Bin | None = None
    pieces: Sequence[int] | None = None
    piece: StockPiece | None = None
    piece_label: str = ""
    join_pieces: bool = False
    to_storeroom: Storeroom | None = None
    to_condition: str = ""
    counted: int | None = None
    seen: int | None = None
    work_order: str = ""
    position: str = ""
    reason: str = ""
    reason_code: str = ""
    reference: str = ""
    override: str = ""
    """Why other work has to wait: of an issue that takes what is reserved, of a count that finds less than that."""
    expected_back_on: date | None = None
    unit_cost: Decimal | None = None
    occurred_at: datetime | None = None

    @property
    def target_storeroom(self) -> Storeroom:
        return self.to_storeroom or self.storeroom

    @property
    def target_condition(self) -> str:
        return self.to_condition or self.condition


@dataclass(frozen=True, slots=True)
class Booked:
    """What was booked: one entry, or the two legs of a transfer, the leg out first."""

    entries: tuple[StockEntry, ...]
    on_hand: int
    reserved: int
    is_replay: bool = False

    @property
    def entry(self) -> StockEntry:
        return self.entries[0]

    @property
    def balance_after(self) -> int:
        return self.entry.balance_after


def checked(movement: Movement, now: datetime) -> Movement:
    """The movement, when every field makes sense by itself; raises LedgerRefusal where one does not."""
    _check_words(movement)
    _check_texts(movement)
    _check_who(movement.by)
    _check_amounts(movement)
    _check_chain_fields(movement)
    _check_places(movement)
    check_moment("occurred_at", movement.occurred_at, now)
    return movement


def check_moment(field: str, moment: datetime | None, now: datetime) -> None:
    if moment is None:
        return
    if timezone.is_naive(moment):
        raise LedgerRefusal(field, f"{field} needs an offset, such as 2024-03-04T06:30:00+01:00.")
    if moment > now + CLOCKS_APART:
        raise LedgerRefusal(
            field, f"{field} lies in the future: book what has happened, at most 5 minutes ahead."
        )


def check_text(field: str, value: str, longest: int) -> None:
    if "\x00" in value:
        raise LedgerRefusal(field, f"{field} must not contain a zero character.")
    if len(value) > longest:
        raise LedgerRefusal(field, f"{field} must have at most {longest} characters; this has {len(value)}.")


def check_quantity(field: str, value: int | None, *, least: int = 1) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= GREATEST_QUANTITY:
        raise LedgerRefusal(
            field, f"{field} must be a whole number from {least} to {GREATEST_QUANTITY}, not {value!r}."
        )
    return value


def name_of(by: Who) -> str:
    return by if isinstance(by, str) else by.get_username()


def _check_who(by: Who) -> None:
    name = name_of(by)
    if not name.strip():
        raise LedgerRefusal("by", "Say who books this: a user or a name.")
    check_text("by", name, 150)


def _check_words(movement: Movement) -> None:
    if movement.kind not in MovementKind.values:
        raise LedgerRefusal("kind", f"kind must be one of {', '.join(MovementKind.values)}.")
    for field, value in (("condition", movement.condition), ("to_condition", movement.target_condition)):
        if value not in Condition.values:
            raise LedgerRefusal(field, f"{field} must be one of {', '.join(Condition.values)}.")
    if movement.reason_code:
        if movement.reason_code not in ReasonCode.values:
            raise LedgerRefusal("reason_code", f"reason_code must be one of {', '.join(ReasonCode.values)}.")
        if movement.kind not in KINDS_WITH_REASON_CODE:
            raise LedgerRefusal("reason_code", "reason_code belongs to a return, a count or a scrap.")
    if movement.kind == MovementKind.ISSUE and movement.condition not in AVAILABLE_CONDITIONS:
        raise LedgerRefusal(
            "condition", "What is on hold may not be issued: transfer it to another condition first."
        )


def _check_texts(movement: Movement) -> None:
    check_text("work_order", movement.work_order, 60)
    check_text("position", movement.position, 60)
    check_text("reason", movement.reason, 200)
    check_text("reference", movement.reference, 80)
    check_text("piece_label", movement.piece_label, 40)
    check_text("override", movement.override, 200)
    if movement.override and movement.kind not in (MovementKind.ISSUE, MovementKind.COUNT):
        raise LedgerRefusal("override", "Only an issue or a count may go before what is reserved.")


def _check_amounts(movement: Movement) -> None:
    if movement.kind == MovementKind.COUNT:
        check_quantity("counted", movement.counted, least=0)
        if movement.seen is not None:
            check_quantity("seen", movement.seen, least=0)
    else:
        check_quantity("quantity", movement.quantity)
        if movement.counted is not None:
            raise LedgerRefusal("counted", "counted belongs to a count: give quantity.")
    cost = movement.unit_cost
    if cost is not None and not (cost.is_finite() and 0 <= cost <= GREATEST_COST):
        raise LedgerRefusal("unit_cost", f"unit_cost must lie from 0 to {GREATEST_COST}.")


def _check_chain_fields(movement: Movement) -> None:
    if movement.pieces is not None:
        lengths = [check_quantity("pieces", links) for links in movement.pieces]
        if movement.kind not in KINDS_IN:
            raise LedgerRefusal("pieces", "pieces says what came in: it belongs to a receipt or a return.")
        if sum(lengths) != movement.quantity:
            raise LedgerRefusal(
                "pieces", f"The pieces add up to {sum(lengths)} links, the quantity is {movement.quantity}."
            )
    is_in_links = movement.item.unit == Unit.LINK
    if not is_in_links and (movement.pieces is not None or movement.piece is not None):
        raise LedgerRefusal("piece", f"{movement.item} is counted by the piece, not in links.")
    if movement.piece is not None and movement.kind in KINDS_IN:
        raise LedgerRefusal("piece", "What comes in becomes a piece of its own: give pieces.")


def _check_places(movement: Movement) -> None:
    is_transfer = movement.kind == MovementKind.TRANSFER
    if is_transfer and movement.to_storeroom is None:
        raise LedgerRefusal("to_storeroom", "Say where it goes: give to_storeroom.")
    if not is_transfer and (movement.to_storeroom is not None or movement.to_condition):
        raise LedgerRefusal("to_storeroom", "to_storeroom belongs to a transfer.")
    here = (movement.storeroom.pk, movement.condition)
    if is_transfer and here == (movement.target_storeroom.pk, movement.target_condition):
        raise LedgerRefusal("to_storeroom", "It lies there already: give another storeroom or condition.")
    if movement.bin is not None and movement.bin.storeroom_id != movement.target_storeroom.pk:
        raise LedgerRefusal(
            "bin",
            f"Bin {movement.bin} is not in storeroom {movement.target_storeroom}: choose one of its own.",
        )
