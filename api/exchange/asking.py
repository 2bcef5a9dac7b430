"""Requests of a file, recorded once each by their reference; what a row leaves empty it does not contradict."""

from typing import Any

from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from drives.models import Request
from drives.requests import CONTENT, RequestRefusal, record_many
from inventory.ledger.movement import Who


def record_requests(rows: list[ParsedRow], report: Report, by: Who) -> None:
    known = recorded(rows)
    drafts = [draft_of(row, known.get(row.values["reference"])) for row in rows]
    for row, outcome in zip(rows, record_many(drafts), strict=True):
        if isinstance(outcome, RequestRefusal):
            report.reject(row.line, row.name, outcome.field, outcome.sentence)
        else:
            report.note(row.line, row.name, RowOutcome.UNCHANGED if outcome.is_known else RowOutcome.CREATED)


def recorded(rows: list[ParsedRow]) -> dict[str, Request]:
    references = sorted({row.values["reference"] for row in rows})
    return {
        request.reference: request
        for batch in batches(references)
        for request in Request.objects.filter(reference__in=batch)
    }


def draft_of(row: ParsedRow, before: Request | None) -> Request:
    given: dict[str, Any] = {name: value for name, value in row.values.items() if value not in (None, "")}
    stands = {name: getattr(before, name) for name in CONTENT} if before is not None else {}
    draft = Request(**stands)
    for name, value in given.items():
        setattr(draft, name, value)
    return draft
