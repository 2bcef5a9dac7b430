"""What a finished job asked for becomes requests: demand is what was asked for."""

from datetime import datetime
from typing import Any

from drives.feed.message import Part
from drives.feed.naming import Named
from drives.feed.parts import prefix_of
from drives.models import Request, RequestResult, WorkOrder, WorkOrderKind, WorkOrderStatus
from drives.service_record import requests
from inventory.models import Storeroom

Content = tuple[Any, ...]


def book_requests(
    order: WorkOrder, needed: tuple[Part, ...], used: tuple[Part, ...], named: Named, now: datetime
) -> None:
    """Retract what the order no longer says and record what it says beyond that; a job still open has no result yet."""
    prefix = prefix_of(order.source, order.external_id)
    told = list(Request.objects.filter(reference__startswith=f"{prefix}:"))
    drafts = drafts_of(order, needed, used, named, now)
    if not told and not drafts:
        return
    missing = {content_of(draft): draft for draft in drafts}
    for request in told:
        if request.retracted_at is None and missing.pop(content_of(request), None) is None:
            requests.retract(request, max(now, request.at), now=now)
    for number, draft in enumerate(missing.values(), len(told) + 1):
        draft.reference = f"{prefix}:{number}"
    for outcome in requests.record_many(list(missing.values()), now=now) if missing else []:
        if isinstance(outcome, requests.RequestRefusal):
            raise outcome


def content_of(request: Request) -> Content:
    return tuple(getattr(request, name) for name in requests.CONTENT)


def drafts_of(
    order: WorkOrder, needed: tuple[Part, ...], used: tuple[Part, ...], named: Named, now: datetime
) -> list[Request]:
    if order.status != WorkOrderStatus.CLOSED:
        return []
    asked, rooms = sums(needed, named)
    given, rooms_of_used = sums(used, named)
    rooms |= rooms_of_used
    given = {number: pieces for number, pieces in given.items() if pieces > 0}
    beside = sorted(set(given) - set(asked))
    drafts = []
    for number in sorted(set(asked) | set(given)):
        lacks = number in asked and number not in given
        substitute = beside.pop(0) if lacks and beside else ""
        drafts.append((number, asked.get(number, 0), given.get(number, 0), substitute))
    replaced = {substitute for *_, substitute in drafts if substitute}
    return [
        draft_of(order, row, rooms, named, now)
        for row in drafts
        if row[0] not in replaced and rooms.get(row[0]) is not None
    ]


def sums(parts: tuple[Part, ...], named: Named) -> tuple[dict[str, int], dict[str, Storeroom | None]]:
    pieces: dict[str, int] = {}
    rooms: dict[str, Storeroom | None] = {}
    for part in parts:
        pieces[part.item] = pieces.get(part.item, 0) + part.quantity
        rooms.setdefault(part.item, named.storeroom(part))
    return pieces, rooms


def draft_of(
    order: WorkOrder,
    row: tuple[str, int, int, str],
    rooms: dict[str, Storeroom | None],
    named: Named,
    now: datetime,
) -> Request:
    number, asked, given, substitute = row
    at = order.opened_at or order.removed_at or order.closed_at or order.source_updated_at
    return Request(
        at=min(at, now),
        item=named.items[number],
        position=order.position,
        storeroom=rooms[number],
        quantity=max(asked, given),
        result=result_of(asked, given, substitute),
        issued_item=named.items[substitute or number] if given or substitute else None,
        is_planned=None if not order.kind else order.kind != WorkOrderKind.CORRECTIVE,
        work_order=order.external_id,
    )


def result_of(asked: int, given: int, substitute: str) -> str:
    if substitute:
        return RequestResult.FILLED_BY_SUBSTITUTE
    if not given:
        return RequestResult.NOT_FILLED
    return RequestResult.FILLED if given >= asked else RequestResult.PARTLY
