"""A work order from its messages: the newest with every reference known counts, and its effects are booked."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from drives.feed import stored_messages as messages
from drives.feed.code_mapping import VOCABULARY, MappedCodes, mapped_codes, note_codes
from drives.feed.installations_from_orders import update_installations
from drives.feed.message import Part, WorkOrderMessage, parse_message, parts_of
from drives.feed.movements_from_orders import PartsBooked, book_parts, prefix_of
from drives.feed.outbound_events import publish_installations, publish_order
from drives.feed.references import NOT_FITTED, REFUSED, UNKNOWN, Reason, References, find_references, reason
from drives.feed.requests_from_orders import book_requests
from drives.feed.service_intervals import ends_installation, moment_of
from drives.feed.stored_messages import PARTS_USED, WORK_ORDER, set_outcome, supersede_older
from drives.models import InboundMessage, MessageOutcome, Position, WorkOrder, WorkOrderStatus
from drives.service_record.pieces_out import refuse_issue_of_fitted
from inventory.facts import Fact, fact
from inventory.plumbing.record_validation import RecordRefusal, day
from inventory.stores.ledger import LedgerRefusal

Blocked = dict[int, tuple[InboundMessage, list[Reason]]]
"""Messages that name something not recorded, each with its reasons."""


@dataclass(frozen=True, slots=True)
class ResolvedOrder:
    """A message whose references are all known."""

    message: InboundMessage
    content: WorkOrderMessage
    references: References
    used: tuple[Part, ...]
    used_lines: list[Any]
    codes: MappedCodes
    list_of_parts: InboundMessage | None
    """The message of its own that lists the parts used."""


@dataclass(frozen=True, slots=True)
class OrderUpdate:
    """`counted`: what people had booked for the order, and its list of parts has too."""

    order: WorkOrder | None
    created: bool = False
    changed: bool = False
    counted: tuple[Fact, ...] = ()


def update_order(source: str, external_id: str, now: datetime) -> OrderUpdate:
    """Update one order from its messages. To be called in a transaction, with the order locked."""
    lists = list(messages.versions(PARTS_USED, source, external_id))
    found, blocked = resolve(source, external_id, lists)
    existing = WorkOrder.objects.select_related("position", "equipment").filter(
        source=source, external_id=external_id
    )
    lock_positions_of(existing, found)
    lists = [one for one in lists if one.pk not in blocked]
    for message, lacking in blocked.values():
        set_outcome(message, MessageOutcome.WAITING, now, lacking)
    if found is None:
        not_known = reason(UNKNOWN, "external_id", fact("work_order_not_known_yet"))
        for message in lists:
            set_outcome(message, MessageOutcome.WAITING, now, [not_known])
        return OrderUpdate(None)
    order = existing.first() or WorkOrder(source=source, external_id=external_id)
    before = order.position
    updated = write(order, found)
    effects = book_effects(order, before, found, now)
    set_outcomes(found, lists, effects.lacking, now)
    if updated.changed:
        publish_order(order, created=updated.created)
    return replace(updated, counted=tuple(effects.counted))


def lock_positions_of(existing: QuerySet[WorkOrder], found: ResolvedOrder | None) -> None:
    """Lock the positions of the order, old and new, before any of its rows or stock levels is touched."""
    places = set(existing.exclude(position=None).values_list("position_id", flat=True))
    if found is not None and found.references.position is not None:
        places.add(found.references.position.pk)
    lock_positions(places)


def lock_positions(places: Iterable[int]) -> None:
    # Positions come first in the order of locks, sorted: orders of two positions that name each other do not block in a circle.
    held = Position.objects.select_for_update().filter(pk__in=sorted(places)).order_by("pk")
    # The query runs, and locks, only when it is read.
    list(held.values_list("pk", flat=True))


def resolve(
    source: str, external_id: str, lists: list[InboundMessage]
) -> tuple[ResolvedOrder | None, Blocked]:
    """The newest message with every reference known, and the newer ones that wait."""
    blocked: Blocked = {}
    for message in messages.versions(WORK_ORDER, source, external_id):
        content = parse_message(message.body)
        for origin in parts_sources(message, content, lists):
            lines = (content.parts_used or []) if origin is None else origin.body["parts_used"]
            used = parts_of(lines)
            references, lacking = find_references(content, used)
            of_parts = [one for one in lacking if one["field"].startswith("parts_used")]
            if origin is not None and of_parts:
                blocked[origin.pk] = (origin, of_parts)
                continue
            if not lacking:
                codes = mapped_codes(source, content)
                return ResolvedOrder(message, content, references, used, lines, codes, origin), blocked
            blocked[message.pk] = (message, lacking)
            break
    return None, blocked


def parts_sources(
    message: InboundMessage, content: WorkOrderMessage, lists: list[InboundMessage]
) -> list[InboundMessage | None]:
    """What may list the parts used, in the order of preference: newer lists before the order itself (None)."""
    if content.parts_used is None:
        return [*lists, None]
    return [*(one for one in lists if one.version_at > message.version_at), None]


def write(order: WorkOrder, found: ResolvedOrder) -> OrderUpdate:
    words = found.codes.words
    values: dict[str, Any] = {
        **found.content.columns,
        **{field: words.get(field, "") for field in VOCABULARY},
        "status": words.get("status") or WorkOrderStatus.OPEN,
        "position": found.references.position,
        "equipment": found.references.equipment,
        "parts_used": found.used_lines,
        "unread_codes": dict(found.codes.unread),
    }
    created = order.pk is None
    changed = created or any(getattr(order, name) != value for name, value in values.items())
    is_newer = created or order.source_updated_at != found.message.version_at
    for name, value in values.items():
        setattr(order, name, value)
    order.source_updated_at = found.message.version_at
    if created:
        order.save(force_insert=True)
    elif changed or is_newer:
        order.save(update_fields=[*values, "source_updated_at", "updated_at"])
    return OrderUpdate(order, created, changed)


def book_effects(
    order: WorkOrder, before: Position | None, found: ResolvedOrder, now: datetime
) -> PartsBooked:
    """Book movements, requests and installations of the order; what is refused becomes a reason to wait.

    Nothing is booked where the order takes back a piece that a person has fitted.
    """
    refused: list[Reason] = []
    effects = PartsBooked([], [])
    with refusals_into(refused):
        effects = book_each(order, before, found, now)
        refuse_issue_of_fitted(prefix_of(order.source, order.external_id))
    return PartsBooked(refused, []) if refused else effects


def book_each(order: WorkOrder, before: Position | None, found: ResolvedOrder, now: datetime) -> PartsBooked:
    lacking: list[Reason] = []
    counted: list[Fact] = []
    used = () if order.status == WorkOrderStatus.CANCELLED else found.used
    with refusals_into(lacking):
        parts = book_parts(order, used, found.references, now)
        lacking += parts.lacking
        counted += parts.counted
    with refusals_into(lacking):
        book_requests(order, found.content.needed, used, found.references, now)
    with refusals_into(lacking):
        lacking += correct_installations(order, before, now)
    return PartsBooked(lacking, counted)


@contextmanager
def refusals_into(lacking: list[Reason]) -> Iterator[None]:
    """What a writer refuses is not booked, and the message waits for a person."""
    try:
        # A savepoint: the refused part leaves nothing behind, the rest of the order stays.
        with transaction.atomic():
            yield
    except (LedgerRefusal, RecordRefusal) as refusal:
        lacking.append(reason(REFUSED, refusal.field, refusal.fact))


def correct_installations(order: WorkOrder, before: Position | None, now: datetime) -> list[Reason]:
    places = {place.pk: place for place in (before, order.position) if place is not None}
    if not (ends_installation(order) or order.ended_id or order.begun_id):
        return []
    lacking: list[Reason] = []
    for number in sorted(places):
        lacking += update_position(places[number], now, about=order)
    order.refresh_from_db(fields=["ended", "begun"])
    return lacking


def update_position(position: Position, now: datetime, *, about: WorkOrder | None = None) -> list[Reason]:
    """Update the installations of a position; other orders there may find or lose their unit by this."""
    # Locked already when it comes from a work order; a meter reading or a person's retry may come first.
    held = Position.objects.select_for_update(of=("self",)).select_related("drive").get(pk=position.pk)
    found = update_installations(held, now)
    publish_installations(found, now)
    lacking: list[Reason] = []
    for order in found.orders:
        missing = [no_unit_fitted(order, held)] if order.pk in found.unplaced else []
        if about is not None and order.pk == about.pk:
            lacking = missing
        else:
            set_position_reasons(order, missing, now)
    return lacking


def no_unit_fitted(order: WorkOrder, position: Position) -> Reason:
    found = fact("no_unit_fitted_then", position=position.tag, at_on=day(moment_of(order)))
    return reason(NOT_FITTED, "failure/removed_at", found, position.tag)


def set_position_reasons(order: WorkOrder, missing: list[Reason], now: datetime) -> None:
    message = (
        messages.versions(WORK_ORDER, order.source, order.external_id)
        .filter(version_at=order.source_updated_at)
        .first()
    )
    if message is None:
        return
    others = [one for one in message.reasons if one["about"] != NOT_FITTED]
    reasons = [*others, *missing]
    if reasons != message.reasons:
        outcome = MessageOutcome.WAITING if reasons else MessageOutcome.APPLIED
        set_outcome(message, outcome, now, reasons)


def set_outcomes(
    found: ResolvedOrder, lists: Iterable[InboundMessage], lacking: list[Reason], now: datetime
) -> None:
    """Outcomes of the message that counts, and of the older ones that were waiting."""
    set_outcome(found.message, MessageOutcome.WAITING if lacking else MessageOutcome.APPLIED, now, lacking)
    supersede_older(found.message, now)
    for message in lists:
        counts = found.list_of_parts is not None and message.pk == found.list_of_parts.pk
        set_outcome(message, MessageOutcome.APPLIED if counts else MessageOutcome.STALE, now)


def note_new_message(message: InboundMessage) -> None:
    """To be called once for each new message of an order."""
    if message.kind == WORK_ORDER:
        note_codes(message.source, parse_message(message.body))
