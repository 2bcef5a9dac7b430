"""Requests from a file, recorded once by their reference; an empty cell contradicts nothing."""

from typing import Any

from django.db.models import QuerySet

from api.edge.change_log import logging_changes
from api.exchange.checking import ParsedRow, batches
from api.exchange.results import Report, RowOutcome
from drives.models import Request
from drives.service_record.requests import CONTENT, RequestRefusal, record_many
from inventory.stores.ledger.movement import Who


def record_requests(rows: list[ParsedRow], report: Report, by: Who) -> None:
    known = recorded(rows)
    drafts = [draft_of(row, known.get(row.values["reference"])) for row in rows]
    with logging_changes(*of_references(rows)):
        outcomes = record_many(drafts)
    for row, outcome in zip(rows, outcomes, strict=True):
        if isinstance(outcome, RequestRefusal):
            report.reject(row.line, row.name, outcome.field, outcome.fact)
        else:
            report.note(row.line, row.name, RowOutcome.UNCHANGED if outcome.is_known else RowOutcome.CREATED)


def recorded(rows: list[ParsedRow]) -> dict[str, Request]:
    return {request.reference: request for requests in of_references(rows) for request in requests}


def of_references(rows: list[ParsedRow]) -> list[QuerySet[Request]]:
    references = sorted({row.values["reference"] for row in rows})
    return [Request.objects.filter(reference__in=batch) for batch in batches(references)]


def draft_of(row: ParsedRow, before: Request | None) -> Request:
    given: dict[str, Any] = {name: value for name, value in row.values.items() if value not in (None, "")}
    recorded_values = {name: getattr(before, name) for name in CONTENT} if before is not None else {}
    draft = Request(**recorded_values)
    for name, value in given.items():
        setattr(draft, name, value)
    return draft
