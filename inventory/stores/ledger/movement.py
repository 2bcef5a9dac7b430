"""A requested movement, the checks that need no shelf, and the result of booking it."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.contrib.auth.models import User

from inventory.facts import fact
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
from inventory.plumbing.record_validation import refuse_moment, refuse_quantity, word_not_known
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
    """Why other work has to wait: for an issue that takes reserved stock, or a count that finds less than is reserved."""
    reservations: frozenset[int] = frozenset()
    """Of an issue: the open reservations that it is to use. One that was released since is refused, not passed over."""
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
    """The movement, if every field is valid by itself."""
    _check_choices(movement)
    _check_texts(movement)
    _check_who(movement.by)
    _check_amounts(movement)
    _check_chain_fields(movement)
    _check_places(movement)
    check_moment("occurred_at", movement.occurred_at, now)
    return movement


def check_moment(field: str, moment: datetime | None, now: datetime) -> None:
    if moment is not None:
        refuse_moment(field, moment, now, LedgerRefusal)


def check_text(field: str, value: str, longest: int) -> None:
    if "\x00" in value:
        raise LedgerRefusal(fact("text_with_zero_character", field=field), field=field)
    if len(value) > longest:
        raise LedgerRefusal(
            fact("text_too_long", field=field, limit_characters=longest, characters=len(value)), field=field
        )


def check_quantity(field: str, value: int | None, *, least: int = 1) -> int:
    return refuse_quantity(field, value, least=least, refusal=LedgerRefusal)


def name_of(by: Who) -> str:
    return by if isinstance(by, str) else by.get_username()


def _check_who(by: Who) -> None:
    name = name_of(by)
    if not name.strip():
        raise LedgerRefusal(fact("recorder_missing"), field="by")
    check_text("by", name, 150)


def check_choice(field: str, value: str, allowed: Sequence[str]) -> None:
    if value not in allowed:
        raise LedgerRefusal(word_not_known(field, value, allowed), field=field)


def _check_choices(movement: Movement) -> None:
    check_choice("kind", movement.kind, MovementKind.values)
    check_choice("condition", movement.condition, Condition.values)
    check_choice("to_condition", movement.target_condition, Condition.values)
    if movement.reason_code:
        check_choice("reason_code", movement.reason_code, ReasonCode.values)
        if movement.kind not in KINDS_WITH_REASON_CODE:
            raise LedgerRefusal(
                fact("reason_code_not_for_kind", kind=str(movement.kind)), field="reason_code"
            )
    if movement.kind == MovementKind.ISSUE and movement.condition not in AVAILABLE_CONDITIONS:
        raise LedgerRefusal(fact("stock_on_hold_not_issued"), field="condition")


def _check_texts(movement: Movement) -> None:
    check_text("work_order", movement.work_order, 60)
    check_text("position", movement.position, 60)
    check_text("reason", movement.reason, 200)
    check_text("reference", movement.reference, 80)
    check_text("piece_label", movement.piece_label, 40)
    check_text("override", movement.override, 200)
    if movement.override and movement.kind not in (MovementKind.ISSUE, MovementKind.COUNT):
        raise LedgerRefusal(fact("override_not_for_kind", kind=str(movement.kind)), field="override")


def _check_amounts(movement: Movement) -> None:
    if movement.kind == MovementKind.COUNT:
        check_quantity("counted", movement.counted, least=0)
        if movement.seen is not None:
            check_quantity("seen", movement.seen, least=0)
    else:
        check_quantity("quantity", movement.quantity)
        if movement.counted is not None:
            raise LedgerRefusal(fact("counted_not_for_kind", kind=str(movement.kind)), field="counted")
    cost = movement.unit_cost
    if cost is not None and not (cost.is_finite() and 0 <= cost <= GREATEST_COST):
        raise LedgerRefusal(fact("unit_cost_out_of_range", greatest=str(GREATEST_COST)), field="unit_cost")


def _check_chain_fields(movement: Movement) -> None:
    if movement.pieces is not None:
        _check_pieces(movement, movement.pieces)
    is_in_links = movement.item.unit == Unit.LINK
    if not is_in_links and (movement.pieces is not None or movement.piece is not None):
        raise LedgerRefusal(fact("item_not_in_links", item=movement.item.stock_number), field="piece")
    if movement.piece is not None and movement.kind in KINDS_IN:
        raise LedgerRefusal(fact("piece_not_for_kind", kind=str(movement.kind)), field="piece")


def _check_pieces(movement: Movement, pieces: Sequence[int]) -> None:
    links = sum(check_quantity("pieces", piece) for piece in pieces)
    if movement.kind not in KINDS_IN:
        raise LedgerRefusal(fact("pieces_not_for_kind", kind=str(movement.kind)), field="pieces")
    if links != movement.quantity:
        found = fact("pieces_do_not_add_up", links=links, quantity=movement.quantity)
        raise LedgerRefusal(found, field="pieces")


def _check_places(movement: Movement) -> None:
    is_transfer = movement.kind == MovementKind.TRANSFER
    if is_transfer and movement.to_storeroom is None:
        raise LedgerRefusal(fact("to_storeroom_missing"), field="to_storeroom")
    if not is_transfer and (movement.to_storeroom is not None or movement.to_condition):
        raise LedgerRefusal(fact("to_storeroom_not_for_kind", kind=str(movement.kind)), field="to_storeroom")
    here = (movement.storeroom.pk, movement.condition)
    if is_transfer and here == (movement.target_storeroom.pk, movement.target_condition):
        raise LedgerRefusal(fact("transfer_to_same_place"), field="to_storeroom")
    if movement.bin is not None and movement.bin.storeroom_id != movement.target_storeroom.pk:
        found = fact(
            "bin_in_other_storeroom", bin=movement.bin.code, storeroom=movement.target_storeroom.code
        )
        raise LedgerRefusal(found, field="bin")
