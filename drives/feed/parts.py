"""Parts used and returned become movements: what an order tells is compared with what was booked for it."""

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Q

from drives.feed.message import Part
from drives.feed.naming import SHORT, Named, Reason, reason
from drives.models import WorkOrder
from inventory.models import Item, MovementKind, StockEntry, Storeroom
from inventory.stores import ledger
from inventory.stores.ledger import LedgerRefusal, StockShort


@dataclass(frozen=True, slots=True)
class Key:
    """What tells one sum of pieces from another."""

    kind: str
    item_id: int
    storeroom_id: int
    condition: str
    position: str


@dataclass(slots=True)
class Wanted:
    item: Item
    storeroom: Storeroom
    quantity: int
    at: datetime
    reason_code: str


def prefix_of(source: str, external_id: str) -> str:
    """The beginning of the references of an order's movements and requests, whatever the length of its number."""
    return "wo:" + hashlib.sha256(f"{source}\n{external_id}".encode()).hexdigest()[:20]


def book_parts(order: WorkOrder, used: Iterable[Part], named: Named, now: datetime) -> list[Reason]:
    """Book the difference; gives why pieces could not be booked, which are tried again later."""
    prefix = prefix_of(order.source, order.external_id)
    entries = list(
        StockEntry.objects.filter(reference__startswith=f"{prefix}:")
        .select_related("item", "storeroom", "piece", "reversed_by")
        .order_by("-id")
    )
    wanted = wanted_by(order, used, named, now)
    standing = [entry for entry in entries if not hasattr(entry, "reversed_by")]
    if not wanted and not standing:
        return []
    booked: dict[Key, list[StockEntry]] = {key: [] for key in wanted}
    for entry in standing:
        booked.setdefault(key_of(entry), []).append(entry)
    reasons: list[Reason] = []
    number = len(entries)
    # What fills a shelf comes before what empties one.
    for key in sorted(booked, key=lambda key: key.kind != MovementKind.ISSUE):
        reasons += take_back_surplus(order, key, booked[key], wanted.get(key))
    for key in sorted(wanted, key=lambda key: key.kind == MovementKind.ISSUE):
        missing = wanted[key].quantity - sum(abs(entry.change) for entry in booked[key])
        if missing > 0:
            number += 1
            reasons += book_missing(order, key, wanted[key], missing, f"{prefix}:{number}")
    return reasons


def wanted_by(order: WorkOrder, used: Iterable[Part], named: Named, now: datetime) -> dict[Key, Wanted]:
    found: dict[Key, Wanted] = {}
    tag = order.position.tag if order.position is not None else ""
    usual_at = order.removed_at or order.closed_at or order.opened_at or order.source_updated_at
    for part in used:
        item, storeroom = named.items[part.item], named.storeroom(part)
        assert storeroom is not None
        kind = MovementKind.ISSUE if part.quantity > 0 else MovementKind.RETURN
        key = Key(str(kind), item.pk, storeroom.pk, part.condition, tag)
        at = min(part.at or usual_at, now)
        code = part.reason_code if kind == MovementKind.RETURN else ""
        line = found.setdefault(key, Wanted(item, storeroom, 0, at, code))
        line.quantity += abs(part.quantity)
    return found


def key_of(entry: StockEntry) -> Key:
    return Key(str(entry.kind), entry.item_id, entry.storeroom_id, entry.condition, entry.position)


def take_back_surplus(
    order: WorkOrder, key: Key, booked: list[StockEntry], wanted: Wanted | None
) -> list[Reason]:
    """Reverse entries, the latest first, until no more is booked than the order tells; leaves the rest in `booked`."""
    most = wanted.quantity if wanted is not None else 0
    while booked and sum(abs(entry.change) for entry in booked) > most:
        try:
            why = f"no longer told by work order {order.external_id}"
            ledger.reverse(booked[0], by=order.source, reason=why)
        except LedgerRefusal as refusal:
            return [reason(SHORT, "parts_used", refusal.sentence, booked[0].item.stock_number)]
        del booked[0]
    return []


def book_missing(order: WorkOrder, key: Key, line: Wanted, missing: int, reference: str) -> list[Reason]:
    try:
        act(order, key, line, missing, reference)
    except StockShort as short:
        # What is there is booked, so that the shelf is right whichever of two orders is told first.
        if 0 < short.available < missing:
            act(order, key, line, short.available, reference)
        return [short_reason(line, short.sentence)]
    except LedgerRefusal as refusal:
        return [short_reason(line, refusal.sentence)]
    return []


def short_reason(line: Wanted, sentence: str) -> Reason:
    return reason(SHORT, "parts_used", sentence, line.item.stock_number)


def act(order: WorkOrder, key: Key, line: Wanted, quantity: int, reference: str) -> None:
    common: dict[str, Any] = {
        "by": order.source,
        "condition": key.condition,
        "work_order": order.external_id,
        "position": key.position,
        "reference": reference,
        "occurred_at": line.at,
    }
    if key.kind == MovementKind.ISSUE:
        ledger.issue(line.item, line.storeroom, quantity, **common)
    else:
        ledger.take_back(line.item, line.storeroom, quantity, reason_code=line.reason_code, **common)


def issued_for(orders: Iterable[WorkOrder]) -> dict[tuple[int, int], StockEntry]:
    """By order and item, the standing issue that brought a unit: it is named beside the life that it began."""
    prefixes = {prefix_of(order.source, order.external_id): order for order in orders}
    entries = StockEntry.objects.filter(
        Q(installation__isnull=True) | Q(installation__begun_for__isnull=False),
        kind=MovementKind.ISSUE,
        work_order__in=sorted({order.external_id for order in prefixes.values()}),
        reverses__isnull=True,
        reversed_by__isnull=True,
        reference__startswith="wo:",
    ).order_by("-id")
    return {
        (order.pk, entry.item_id): entry
        for entry in entries
        if (order := prefixes.get(entry.reference.rpartition(":")[0])) is not None
    }
