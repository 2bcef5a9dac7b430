"""A work order out of its messages: the newest that can be understood counts, and its effects are booked."""

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from drives.feed import outbound_events as tell
from drives.feed import stored_messages as messages
from drives.feed.codes import Read, note_codes, read_codes
from drives.feed.lives import rederive
from drives.feed.message import Part, Told, parts_of, told
from drives.feed.naming import NOT_FITTED, REFUSED, UNKNOWN, Named, Reason, find, reason
from drives.feed.parts import book_parts
from drives.feed.requests_from_orders import book_requests
from drives.feed.service_intervals import is_cut, moment_of
from drives.feed.stored_messages import PARTS_USED, WORK_ORDER, settle
from drives.models import InboundMessage, MessageOutcome, Position, WorkOrder, WorkOrderStatus
from drives.service_record.history import HistoryRefusal
from inventory.plumbing.record_validation import RecordRefusal
from inventory.stores.ledger import LedgerRefusal

CONTENT = (
    "title",
    "kind",
    "urgency",
    "status",
    "needed_by",
    "position_id",
    "equipment_id",
    "opened_at",
    "closed_at",
    "has_failure",
    "mechanism",
    "cause",
    "part",
    "detected_by",
    "ended_by",
    "removed_at",
    "running_hours",
    "failure_note",
    "parts_needed",
    "parts_used",
    "attributes",
    "unread_codes",
)
NOT_KNOWN_YET = "The work order of these parts is not known yet: they wait for its message."


@dataclass(frozen=True, slots=True)
class Understood:
    """A message with all that it names found."""

    message: InboundMessage
    told: Told
    named: Named
    used: tuple[Part, ...]
    used_lines: list[Any]
    codes: Read
    list_of_parts: InboundMessage | None
    """The message of its own that says which parts were used."""


@dataclass(frozen=True, slots=True)
class Derived:
    order: WorkOrder | None
    created: bool = False
    changed: bool = False


def derive(source: str, external_id: str, now: datetime) -> Derived:
    """Bring one order to what its messages say. To be called in a transaction, with the order held."""
    lists = list(messages.versions(PARTS_USED, source, external_id))
    found, blocked = understand(source, external_id, lists)
    standing = WorkOrder.objects.select_related("position", "equipment").filter(
        source=source, external_id=external_id
    )
    hold_places(standing, found)
    for message, lacking in blocked.found.values():
        settle(message, MessageOutcome.WAITING, now, lacking)
    if found is None:
        for message in (one for one in lists if one.pk not in blocked.found):
            settle(message, MessageOutcome.WAITING, now, [reason(UNKNOWN, "external_id", NOT_KNOWN_YET)])
        return Derived(None)
    order = standing.first() or WorkOrder(source=source, external_id=external_id)
    before = order.position
    derived = write(order, found)
    lacking = book_effects(order, before, found, now)
    settle_all(found, [one for one in lists if one.pk not in blocked.found], lacking, now)
    if derived.changed:
        tell.order_changed(order, now, created=derived.created)
    return derived


def hold_places(standing: QuerySet[WorkOrder], found: Understood | None) -> None:
    """The order's places, before any of its rows or shelves is touched: the way in which everybody takes locks."""
    places = set(standing.exclude(position=None).values_list("position_id", flat=True))
    if found is not None and found.named.position is not None:
        places.add(found.named.position.pk)
    hold_positions(places)


def hold_positions(places: Iterable[int]) -> None:
    held = Position.objects.select_for_update().filter(pk__in=sorted(places)).order_by("pk")
    list(held.values_list("pk", flat=True))


@dataclass(slots=True)
class Blocked:
    """Messages that name what is not recorded, each with its reasons."""

    found: dict[int, tuple[InboundMessage, list[Reason]]] = field(default_factory=dict)

    def add(self, message: InboundMessage, lacking: list[Reason]) -> None:
        self.found[message.pk] = (message, lacking)


def understand(
    source: str, external_id: str, lists: list[InboundMessage]
) -> tuple[Understood | None, Blocked]:
    """The newest message whose every reference is known, and those newer ones that wait."""
    blocked = Blocked()
    for message in messages.versions(WORK_ORDER, source, external_id):
        said = told(message.body)
        for origin in origins(message, said, lists):
            lines = (said.parts_used or []) if origin is None else origin.body["parts_used"]
            used = parts_of(lines)
            named, lacking = find(said, used)
            of_parts = [one for one in lacking if one["field"].startswith("parts_used")]
            if origin is not None and of_parts:
                blocked.add(origin, of_parts)
                continue
            if not lacking:
                codes = read_codes(source, said)
                return Understood(message, said, named, used, lines, codes, origin), blocked
            blocked.add(message, lacking)
            break
    return None, blocked


def origins(message: InboundMessage, said: Told, lists: list[InboundMessage]) -> list[InboundMessage | None]:
    """Who may say which parts were used, the first that can be understood: newer lists before the order itself."""
    if said.used is None:
        return [*lists, None]
    return [*(one for one in lists if one.version_at > message.version_at), None]


def write(order: WorkOrder, found: Understood) -> Derived:
    before = None if order.pk is None else [getattr(order, name) for name in CONTENT]
    version = order.source_updated_at if order.pk else None
    said, failure, words = found.told, found.told.failure, found.codes.words
    values: dict[str, Any] = {
        "title": said.title,
        "kind": words.get("kind", ""),
        "urgency": said.urgency,
        "status": words.get("status") or WorkOrderStatus.OPEN,
        "needed_by": said.needed_by,
        "position": found.named.position,
        "equipment": found.named.equipment,
        "opened_at": said.opened_at,
        "closed_at": said.closed_at,
        "has_failure": failure is not None,
        "cause": failure.cause if failure else "",
        "part": failure.part if failure else "",
        "removed_at": failure.removed_at if failure else None,
        "running_hours": failure.running_hours if failure else None,
        "failure_note": failure.note if failure else "",
        "parts_needed": said.parts_needed,
        "parts_used": found.used_lines,
        "attributes": said.attributes,
        "unread_codes": dict(found.codes.unread),
        **{name: words.get(name, "") for name in ("mechanism", "detected_by", "ended_by")},
    }
    for name, value in values.items():
        setattr(order, name, value)
    order.source_updated_at = found.message.version_at
    created, changed = before is None, before != [getattr(order, name) for name in CONTENT]
    if created:
        order.save(force_insert=True)
    elif changed or version != order.source_updated_at:
        order.save(update_fields=[*values, "source_updated_at", "updated_at"])
    return Derived(order, created, changed)


def book_effects(order: WorkOrder, before: Position | None, found: Understood, now: datetime) -> list[Reason]:
    """Lives, movements and requests as the order wants them; what cannot be is a reason to look at it."""
    lacking: list[Reason] = []
    used = () if order.status == WorkOrderStatus.CANCELLED else found.used
    with refusals_into(lacking):
        lacking += book_parts(order, used, found.named, now)
    with refusals_into(lacking):
        book_requests(order, found.told.needed, used, found.named, now)
    with refusals_into(lacking):
        lacking += book_lives(order, before, now)
    return lacking


@contextmanager
def refusals_into(lacking: list[Reason]) -> Iterator[None]:
    """What a writer refuses is booked not at all, and a person is told why."""
    try:
        with transaction.atomic():
            yield
    except (HistoryRefusal, LedgerRefusal, RecordRefusal) as refusal:
        lacking.append(reason(REFUSED, refusal.field, refusal.sentence))


def book_lives(order: WorkOrder, before: Position | None, now: datetime) -> list[Reason]:
    places = {place.pk: place for place in (before, order.position) if place is not None}
    if not (is_cut(order) or order.ended_id or order.begun_id):
        return []
    lacking: list[Reason] = []
    for number in sorted(places):
        lacking += rederive_place(places[number], now, about=order)
    order.refresh_from_db(fields=["ended", "begun"])
    return lacking


def rederive_place(position: Position, now: datetime, *, about: WorkOrder | None = None) -> list[Reason]:
    """Work the lives of a position out anew; the other orders there may have found or lost their unit by it."""
    held = Position.objects.select_for_update(of=("self",)).select_related("drive").get(pk=position.pk)
    found = rederive(held, now)
    tell.lives_changed(found, now)
    lacking: list[Reason] = []
    for order in found.orders:
        missing = [nothing_fitted(order, held)] if order.pk in found.unplaced else []
        if about is not None and order.pk == about.pk:
            lacking = missing
        else:
            settle_place(order, missing, now)
    return lacking


def nothing_fitted(order: WorkOrder, position: Position) -> Reason:
    day = f"{moment_of(order):%Y-%m-%d}"
    sentence = (
        f"Nothing is recorded as fitted at {position.tag} on {day}: record what sat there, then try again."
    )
    return reason(NOT_FITTED, "failure/removed_at", sentence, position.tag)


def settle_place(order: WorkOrder, missing: list[Reason], now: datetime) -> None:
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
        settle(message, outcome, now, reasons)


def settle_all(
    found: Understood, lists: Iterable[InboundMessage], lacking: list[Reason], now: datetime
) -> None:
    """The message that counts, and the older ones that waited until it came."""
    settle(found.message, MessageOutcome.WAITING if lacking else MessageOutcome.APPLIED, now, lacking)
    older = messages.versions(WORK_ORDER, found.message.source, found.message.external_id).filter(
        outcome=MessageOutcome.WAITING, version_at__lte=found.message.version_at
    )
    for message in older.exclude(pk=found.message.pk):
        settle(message, MessageOutcome.STALE, now)
    for message in lists:
        is_told = found.list_of_parts is not None and message.pk == found.list_of_parts.pk
        settle(message, MessageOutcome.APPLIED if is_told else MessageOutcome.STALE, now)


def first_seen(message: InboundMessage) -> None:
    """To be called once for each new message of an order."""
    if message.kind == WORK_ORDER:
        note_codes(message.source, told(message.body))
