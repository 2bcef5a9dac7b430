"""Parts used and returned become movements: an order is compared with what was booked for it, by its messages and by people."""

import hashlib
from collections.abc import Collection, Iterable, Sequence
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
from inventory.facts import Fact, fact
from inventory.models import Item, MovementKind, StockEntry
from inventory.stores import ledger
from inventory.stores.ledger import LedgerRefusal, Movement, StockShort
from inventory.stores.ledger.locking import lock_shelves
from inventory.stores.ledger.shelf import shelves_of


@dataclass(frozen=True, slots=True)
class PartKey:
    """Pieces with the same key are summed."""

    kind: str
    item_id: int
    storeroom_id: int
    condition: str
    position: str


@dataclass(frozen=True, slots=True)
class PartsBooked:
    """`lacking`: why pieces could not be booked, which is tried again later. `counted`: what people had booked for the order before."""

    lacking: list[Reason]
    counted: list[Fact]


def prefix_of(source: str, external_id: str) -> str:
    """The beginning of the references of an order's movements and requests; a hash, as its number may be too long."""
    return ORDER_REFERENCE + hashlib.sha256(f"{source}\n{external_id}".encode()).hexdigest()[:20]


def book_parts(order: WorkOrder, used: Sequence[Part], references: References, now: datetime) -> PartsBooked:
    """Book the difference between what the order lists and what was booked for it."""
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
        return PartsBooked([], [])
    booked: dict[PartKey, list[Any]] = {key: [] for key in needed}
    for entry in not_reversed:
        booked.setdefault(key_of(entry), []).append(entry)
    reasons: list[Reason] = []
    number = len(entries)
    # What adds to a shelf is booked before what removes from one, so that a correction does not fail for lack of its own pieces.
    for key in sorted(booked, key=lambda key: key.kind != MovementKind.ISSUE):
        reasons += reverse_surplus(order, booked[key], needed.get(key))
    missing = {
        key: line
        for key in sorted(needed, key=lambda key: key.kind == MovementKind.ISSUE)
        if pieces_of(line := less(needed[key], sum(abs(entry.net) for entry in booked[key]))) > 0
    }
    by_people = booked_by_people(order, missing.values())
    # A line that names no storeroom is about pieces of any.
    anywhere = {references.items[part.item].pk for part in used if not part.storeroom}
    counted: list[Fact] = []
    for key, line in missing.items():
        found = [one for one in by_people if one.is_for(key, in_any_room=key.item_id in anywhere)]
        for one in sorted(found, key=lambda one: one.entry.storeroom_id != key.storeroom_id):
            if pieces := one.take(pieces_of(line)):
                counted.append(fact("booked_for_order_before", **one.shown(pieces)))
                line = less(line, pieces)
        if pieces_of(line):
            number += 1
            reasons += book(replace(line, reference=f"{prefix}:{number}"))
    return PartsBooked(reasons, counted)


@dataclass(slots=True)
class EntryByPeople:
    """What somebody booked for the number of an order; `left` are the pieces that no line of its list has taken yet."""

    entry: StockEntry
    left: int

    def is_for(self, key: PartKey, *, in_any_room: bool) -> bool:
        own = key_of(self.entry)
        is_same = (own.kind, own.item_id) == (key.kind, key.item_id)
        return is_same and (in_any_room or own.storeroom_id == key.storeroom_id)

    def take(self, pieces: int) -> int:
        taken = min(self.left, pieces)
        self.left -= taken
        return taken

    def shown(self, pieces: int) -> dict[str, Any]:
        order, item = self.entry.work_order, self.entry.item.stock_number
        return {"work_order": order, "item": item, "pieces": pieces, "movement": self.entry.pk}


def booked_by_people(order: WorkOrder, lines: Collection[Movement]) -> list[EntryByPeople]:
    """Issues and returns for the order's number that no message booked: the list of the order counts them too.

    None where an order of another source has the same number, as nothing then tells for which of them they were.
    """
    if not lines:
        return []
    # Who books at the same moment is before this, and seen here, or after it, and told.
    lock_shelves(shelves_of(lines))
    entries = StockEntry.objects.filter(
        kind__in=[MovementKind.ISSUE, MovementKind.RETURN], work_order=order.external_id
    )
    others = entries.exclude(reference__startswith=ORDER_REFERENCE)
    found = list(others.not_reversed().select_related("item", "storeroom").order_by("pk"))
    if found and WorkOrder.objects.filter(external_id=order.external_id).exclude(pk=order.pk).exists():
        return []
    return [EntryByPeople(one, abs(one.net)) for one in found if one.net]


def issued_by_message(item: Item, work_order: str) -> tuple[Fact, ...]:
    """To be told to who issues for an order that has booked the item itself: whether it is one piece or two, only they know."""
    entries = StockEntry.objects.issues().filter(
        item=item, work_order=work_order, reference__startswith=ORDER_REFERENCE
    )
    return tuple(
        fact("order_has_booked", **EntryByPeople(one, 0).shown(-one.net))
        for one in entries.not_reversed().select_related("item").order_by("pk")
        if one.net
    )


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


def less(line: Movement, pieces: int) -> Movement:
    return replace(line, quantity=pieces_of(line) - pieces)


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


def issued_for(orders: Collection[WorkOrder], position: str) -> dict[tuple[int, int], StockEntry]:
    """By order and item, the issue of a unit that is not reversed: it is recorded with the installation that it began.

    What the order booked itself comes before what a person did, for this position or for none, of an item that it lists.
    """
    prefixes = {prefix_of(order.source, order.external_id): order for order in orders}
    entries = StockEntry.objects.filter(
        Q(installation__isnull=True) | Q(installation__begun_for__isnull=False),
        kind=MovementKind.ISSUE,
        work_order__in=sorted({order.external_id for order in prefixes.values()}),
    )
    own: dict[tuple[int, int], StockEntry] = {}
    by_people: dict[tuple[int, int], StockEntry] = {}
    for entry in entries.not_reversed().select_related("item").order_by("-id"):
        if entry.reference.startswith(ORDER_REFERENCE):
            if order := prefixes.get(entry.reference.rpartition(":")[0]):
                own[order.pk, entry.item_id] = entry
        elif entry.position in ("", position):
            for order in orders:
                if order.external_id == entry.work_order and lists(order, entry.item):
                    by_people[order.pk, entry.item_id] = entry
    return by_people | own


def lists(order: WorkOrder, item: Item) -> bool:
    return any(line["item"] == item.stock_number for line in order.parts_used)
