"""Parts used and returned become movements: an order is compared with what was booked for it."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import Q

from drives.feed.message import Part
from drives.feed.recorded_texts import recorded_text
from drives.feed.references import SHORT, Reason, References, reason
from drives.models import WorkOrder
from drives.models.feed import ORDER_REFERENCE
from drives.substitutes.past_verdicts import keep_issue_verdicts
from inventory.facts import Fact
from inventory.models import Item, MovementKind, StockEntry
from inventory.stores import ledger
from inventory.stores.ledger import LedgerRefusal, Movement, StockShort


@dataclass(frozen=True, slots=True)
class PartKey:
    """Pieces with the same key are summed."""

    kind: str
    item_id: int
    storeroom_id: int
    condition: str
    position: str


def prefix_of(source: str, external_id: str) -> str:
    """The beginning of the references of an order's movements and requests; a hash, as its number may be too long."""
    return ORDER_REFERENCE + hashlib.sha256(f"{source}\n{external_id}".encode()).hexdigest()[:20]


def book_parts(order: WorkOrder, used: Iterable[Part], references: References, now: datetime) -> list[Reason]:
    """Book the difference; gives why pieces could not be booked, which is tried again later."""
    prefix = prefix_of(order.source, order.external_id)
    entries = list(
        StockEntry.objects.filter(reference__startswith=f"{prefix}:")
        .with_net()
        .select_related("item", "storeroom", "piece")
        .order_by("-id")
    )
    needed = movements_by_key(order, used, references, now)
    not_reversed = [entry for entry in entries if entry.net]
    if not needed and not not_reversed:
        return []
    booked: dict[PartKey, list[Any]] = {key: [] for key in needed}
    for entry in not_reversed:
        booked.setdefault(key_of(entry), []).append(entry)
    reasons: list[Reason] = []
    number = len(entries)
    # What adds to a shelf is booked before what removes from one, so that a correction does not fail for lack of its own pieces.
    for key in sorted(booked, key=lambda key: key.kind != MovementKind.ISSUE):
        reasons += reverse_surplus(order, booked[key], needed.get(key))
    for key in sorted(needed, key=lambda key: key.kind == MovementKind.ISSUE):
        missing = pieces_of(needed[key]) - sum(abs(entry.net) for entry in booked[key])
        if missing > 0:
            number += 1
            reasons += book(replace(needed[key], quantity=missing, reference=f"{prefix}:{number}"))
    return reasons


def movements_by_key(
    order: WorkOrder, used: Iterable[Part], references: References, now: datetime
) -> dict[PartKey, Movement]:
    found: dict[PartKey, Movement] = {}
    usual_at = order.removed_at or order.closed_at or order.opened_at or order.source_updated_at
    for part in used:
        storeroom = references.storeroom(part)
        assert storeroom is not None
        is_issue = part.quantity > 0
        line = Movement(
            kind=MovementKind.ISSUE if is_issue else MovementKind.RETURN,
            item=references.items[part.item],
            storeroom=storeroom,
            quantity=abs(part.quantity),
            by=order.source,
            condition=part.condition,
            work_order=order.external_id,
            position=order.position.tag if order.position is not None else "",
            reason_code="" if is_issue else part.reason_code,
            occurred_at=min(part.at or usual_at, now),
        )
        key = key_of(line)
        if key in found:
            line = replace(found[key], quantity=pieces_of(found[key]) + pieces_of(line))
        found[key] = line
    return found


def key_of(one: StockEntry | Movement) -> PartKey:
    """What was booked under a number that is merged since counts as the item that goes on."""
    item = one.item.merged_into_id or one.item.pk
    return PartKey(str(one.kind), item, one.storeroom.pk, one.condition, one.position)


def pieces_of(line: Movement) -> int:
    return line.quantity or 0


def reverse_surplus(order: WorkOrder, booked: list[Any], needed: Movement | None) -> list[Reason]:
    """Reverse entries, the latest first, until no more is booked than the order says; leaves the rest in `booked`."""
    most = pieces_of(needed) if needed is not None else 0
    while booked and sum(abs(entry.net) for entry in booked) > most:
        try:
            why = recorded_text("no_longer_in_order", order=order.external_id)
            ledger.reverse(booked[0], by=order.source, reason=why)
        except LedgerRefusal as refusal:
            return [short_reason(booked[0].item, refusal.fact)]
        del booked[0]
    return []


def book(line: Movement) -> list[Reason]:
    try:
        _book(line)
    except StockShort as short:
        # What is there is booked, so that the stock is the same whichever of two orders arrives first.
        if 0 < short.available < pieces_of(line):
            _book(replace(line, quantity=short.available))
        return [short_reason(line.item, short.fact)]
    except LedgerRefusal as refusal:
        return [short_reason(line.item, refusal.fact)]
    return []


def _book(line: Movement) -> None:
    # In one transaction with its verdict.
    with transaction.atomic():
        keep_issue_verdicts(ledger.book(line).entries)


def short_reason(item: Item, found: Fact) -> Reason:
    return reason(SHORT, "parts_used", found, item.stock_number)


def issued_for(orders: Iterable[WorkOrder]) -> dict[tuple[int, int], StockEntry]:
    """By order and item, the issue of a unit that is not reversed: it is recorded with the installation that it began."""
    prefixes = {prefix_of(order.source, order.external_id): order for order in orders}
    entries = StockEntry.objects.filter(
        Q(installation__isnull=True) | Q(installation__begun_for__isnull=False),
        kind=MovementKind.ISSUE,
        work_order__in=sorted({order.external_id for order in prefixes.values()}),
        reference__startswith=ORDER_REFERENCE,
    )
    return {
        (order.pk, entry.item_id): entry
        for entry in entries.not_reversed().order_by("-id")
        if (order := prefixes.get(entry.reference.rpartition(":")[0])) is not None
    }
