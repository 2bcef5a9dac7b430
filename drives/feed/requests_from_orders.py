"""Parts needed and used by a closed job become requests, the demand for parts."""

from collections import Counter
from datetime import datetime
from typing import Any

from drives.feed.message import Part
from drives.feed.movements_from_orders import prefix_of
from drives.feed.references import References
from drives.models import Request, RequestResult, WorkOrder, WorkOrderKind, WorkOrderStatus
from drives.service_record import requests
from inventory.models import Storeroom

Content = tuple[Any, ...]


def book_requests(
    order: WorkOrder, needed: tuple[Part, ...], used: tuple[Part, ...], references: References, now: datetime
) -> None:
    """Retract requests that the order no longer contains and record its new ones; an open job has no requests yet."""
    prefix = prefix_of(order.source, order.external_id)
    recorded = list(Request.objects.filter(reference__startswith=f"{prefix}:"))
    drafts = drafts_of(order, needed, used, references, now)
    if not recorded and not drafts:
        return
    missing = {content_of(draft): draft for draft in drafts}
    for request in recorded:
        if request.retracted_at is None and missing.pop(content_of(request), None) is None:
            requests.retract(request, max(now, request.at), now=now)
    for number, draft in enumerate(missing.values(), len(recorded) + 1):
        draft.reference = f"{prefix}:{number}"
    for outcome in requests.record_many(list(missing.values()), now=now) if missing else []:
        if isinstance(outcome, requests.RequestRefusal):
            raise outcome


def content_of(request: Request) -> Content:
    return tuple(getattr(request, name) for name in requests.CONTENT)


def drafts_of(
    order: WorkOrder, needed: tuple[Part, ...], used: tuple[Part, ...], references: References, now: datetime
) -> list[Request]:
    if order.status != WorkOrderStatus.CLOSED:
        return []
    requested, rooms = sums(needed, references)
    issued, rooms_of_used = sums(used, references)
    rooms |= rooms_of_used
    issued = {number: pieces for number, pieces in issued.items() if pieces > 0}
    beside = sorted(set(issued) - set(requested))
    drafts = []
    for number in sorted(set(requested) | set(issued)):
        lacks = number in requested and number not in issued
        substitute = beside.pop(0) if lacks and beside else ""
        drafts.append((number, requested.get(number, 0), issued.get(number, 0), substitute))
    replaced = {substitute for *_, substitute in drafts if substitute}
    return [
        draft_of(order, row, rooms, references, now)
        for row in drafts
        if row[0] not in replaced and rooms.get(row[0]) is not None
    ]


def sums(
    parts: tuple[Part, ...], references: References
) -> tuple[dict[str, int], dict[str, Storeroom | None]]:
    pieces: Counter[str] = Counter()
    rooms: dict[str, Storeroom | None] = {}
    for part in parts:
        pieces[part.item] += part.quantity
        rooms.setdefault(part.item, references.storeroom(part))
    return pieces, rooms


def draft_of(
    order: WorkOrder,
    row: tuple[str, int, int, str],
    rooms: dict[str, Storeroom | None],
    references: References,
    now: datetime,
) -> Request:
    number, requested, issued, substitute = row
    at = order.opened_at or order.removed_at or order.closed_at or order.source_updated_at
    return Request(
        at=min(at, now),
        item=references.items[number],
        position=order.position,
        storeroom=rooms[number],
        quantity=max(requested, issued),
        result=result_of(requested, issued, substitute),
        issued_item=references.items[substitute or number] if issued or substitute else None,
        is_planned=None if not order.kind else order.kind != WorkOrderKind.CORRECTIVE,
        work_order=order.external_id,
    )


def result_of(requested: int, issued: int, substitute: str) -> str:
    if substitute:
        return RequestResult.FILLED_BY_SUBSTITUTE
    if not issued:
        return RequestResult.NOT_FILLED
    return RequestResult.FILLED if issued >= requested else RequestResult.PARTLY
