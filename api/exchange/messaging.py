"""Work-order messages from a file: each row is processed like a message sent over the API."""

from collections.abc import Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db import transaction
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.edge.errors import flatten
from api.exchange.checking import (
    MOST_IN_MEMORY,
    Checker,
    ParsedRow,
    Spool,
    check_columns,
    refuse_two_of_a_key,
    without_lines,
)
from api.exchange.message_tables import FAILURE_COLUMNS, MESSAGE_TABLES
from api.exchange.reading import Sheet, SourceRow, within_rows
from api.exchange.reference_finding import rows_of
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult, Report, RowOutcome
from api.wire.facts import stored_fact
from api.wire.work_order_bodies import check_key, valid_body
from drives.feed.intake import IntakeResult, take_in
from inventory.facts import Fact, fact

FEED_KIND = {"work-orders": "work_order", "parts-used": "parts_used", "meter-readings": "meter_reading"}
NESTED = frozenset({"failure", "parts_needed", "parts_used", "attributes"})
"""Members that say that the rows are messages as the API takes them, and no flat table."""


@dataclass(frozen=True, slots=True)
class Message:
    lines: tuple[int, ...]
    source: str
    external_id: str
    body: dict[str, Any]

    @property
    def name(self) -> str:
        return f"{self.source} / {self.external_id}"


def take_messages(kind: str, sheet: Sheet, *, dry_run: bool = False, partial: bool = False) -> ImportResult:
    """A rejected row keeps the whole file out, unless `partial` lets the others in; each message commits by itself.

    So a run that is broken off leaves whole messages behind, and running it again brings the rest.
    """
    report = Report()
    try:
        messages = list(valid_messages(kind, sheet, report))
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, notes=sheet.notes, dry_run=dry_run)
    written = partial or not report.has_rejected
    if written:
        with transaction.atomic() if dry_run else nullcontext():
            for message in messages:
                report_message(report, message, take_in(FEED_KIND[kind], *key_of(message), message.body))
            if dry_run:
                transaction.set_rollback(True)
    else:
        for message in messages:
            note_lines(report, message, RowOutcome.UNCHANGED)
    rows = report.rows()
    notes = (*sheet.notes, *report.notes())
    return ImportResult(kind, tuple(rows), (), notes, dry_run, written and not dry_run, report.counts)


def key_of(message: Message) -> tuple[str, str]:
    return message.source, message.external_id


def valid_messages(kind: str, sheet: Sheet, report: Report) -> Iterator[Message]:
    """Messages that are valid by themselves; errors in the others are reported by column."""
    for message in read_messages(kind, sheet, report):
        try:
            check_key(message.source, message.external_id)
            body = valid_body(FEED_KIND[kind], message.body)
        except ValidationError as error:
            for at, text in flatten(error.detail):
                for line in message.lines:
                    report.reject(line, message.name, at.removeprefix("/"), fact_of_error(text))
        else:
            yield Message(message.lines, message.source, message.external_id, body)


def fact_of_error(text: ErrorDetail | str) -> Fact:
    """A serializer's error: its rule and its text."""
    return fact("message_not_valid", rule=getattr(text, "code", "invalid"), text=str(text))


def read_messages(kind: str, sheet: Sheet, report: Report) -> list[Message]:
    if kind == "work-orders" and is_nested(sheet):
        rows_sent = ((row, sheet.named(row)) for row in within_rows(sheet.rows, MOST_IN_MEMORY))
        return [
            found for row, cells in rows_sent if (found := nested_message(row, cells, report)) is not None
        ]
    table = MESSAGE_TABLES[kind]
    check_columns(sheet, table)
    with Spool() as spool:
        for chunk in Checker(sheet, table, report).chunks():
            spool.add(chunk)
        spool.refuse_more_than(MOST_IN_MEMORY)
        repeats = refuse_two_of_a_key(spool, report)
        rows = [row for chunk in spool for row in rows_of(without_lines(chunk, repeats))]
    return list(gathered(rows)) if kind == "parts-used" else [flat_message(row) for row in rows]


def is_nested(sheet: Sheet) -> bool:
    """Rows of NDJSON carry objects and lists; a flat file has `failure` as yes or no."""
    return any(
        name in NESTED and not isinstance(value, str | bool | None)
        for row in sheet.rows
        for name, value in sheet.named(row).items()
    )


def nested_message(row: SourceRow, cells: dict[str, Any], report: Report) -> Message | None:
    if row.problem:
        report.reject(row.line, "", "", row.problem)
        return None
    body = json_value(cells)
    key = [body.pop(name, None) for name in ("source", "external_id")]
    if not all(isinstance(part, str) for part in key):
        report.reject(row.line, "", "external_id", fact("message_without_key"))
        return None
    return Message((row.line,), str(key[0]), str(key[1]), body)


def flat_message(row: ParsedRow) -> Message:
    given = {name: json_value(value) for name, value in row.cells.items() if value not in (None, "")}
    source, number = given.pop("source"), given.pop("external_id")
    has_failure = given.pop("failure", None)
    failure = {name: given.pop(name) for name in FAILURE_COLUMNS if name in given}
    if "failure_note" in failure:
        failure["note"] = failure.pop("failure_note")
    if failure or has_failure:
        given["failure"] = failure
    return Message((row.line,), source, number, given)


def gathered(rows: list[ParsedRow]) -> Iterator[Message]:
    """All lines of one order as one message, as new as its newest line."""
    of_order: dict[tuple[str, str], list[ParsedRow]] = {}
    for row in rows:
        of_order.setdefault((row.cells["source"], row.cells["external_id"]), []).append(row)
    for (source, number), lines in of_order.items():
        used = []
        for row in lines:
            left = ("source", "external_id", "updated_at")
            used.append(
                {name: json_value(v) for name, v in row.cells.items() if name not in left and v is not None}
            )
        newest = max(row.cells["updated_at"] for row in lines)
        yield Message(
            tuple(row.line for row in lines),
            source,
            number,
            {"parts_used": used, "updated_at": newest.isoformat()},
        )


def json_value(value: Any) -> Any:
    """A value as it would arrive in JSON."""
    if isinstance(value, list):
        return [json_value(one) for one in value]
    if isinstance(value, dict):
        return {name: json_value(one) for name, one in value.items()}
    if isinstance(value, datetime | date):
        return value.isoformat()
    return float(value) if isinstance(value, Decimal) else value


def report_message(report: Report, message: Message, taken: IntakeResult) -> None:
    if taken.reasons and taken.outcome in ("waiting", "unchanged"):
        for line in message.lines:
            for reason in taken.reasons:
                report.wait(line, message.name, reason["field"], stored_fact(reason))
        return
    applied = RowOutcome.CREATED if taken.created else RowOutcome.UPDATED
    note_lines(report, message, applied if taken.applied else RowOutcome.UNCHANGED)


def note_lines(report: Report, message: Message, outcome: RowOutcome) -> None:
    for line in message.lines:
        if not report.is_rejected(line):
            report.note(line, message.name, outcome)
