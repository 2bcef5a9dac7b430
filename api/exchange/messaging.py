"""Work-order messages from a file: each row is processed like a message sent over the API."""

from array import array
from collections.abc import Iterable, Iterator
from contextlib import nullcontext
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

import numpy as np
from django.db import transaction
from rest_framework.exceptions import ErrorDetail, ValidationError

from api.edge.errors import flatten
from api.exchange.checking import (
    MOST_IN_MEMORY,
    Checker,
    OnDisk,
    ParsedRow,
    Spool,
    check_columns,
    refuse_two_of_a_key,
    without_lines,
)
from api.exchange.message_tables import FAILURE_COLUMNS, MESSAGE_TABLES
from api.exchange.progress import RowProgress
from api.exchange.reading import Sheet, SourceRow, within_rows
from api.exchange.reference_finding import rows_of
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult, Report, RowOutcome
from api.wire.facts import stored_fact
from api.wire.message_reach import is_about_hidden, refuse_places_out_of_reach
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


def take_messages(
    kind: str,
    sheet: Sheet,
    *,
    dry_run: bool = False,
    partial: bool = False,
    progress: RowProgress | None = None,
) -> ImportResult:
    """A rejected row keeps the whole file out, unless `partial` lets the others in; each message commits by itself.

    So a run that is broken off leaves whole messages behind, and running it again brings the rest.
    """
    report, counted = Report(), progress or RowProgress()
    counted.rows = sheet.expected_rows
    with OnDisk[Message]() as messages:
        try:
            for message in valid_messages(kind, sheet, report, counted):
                messages.add(message)
        except FileRefused as refusal:
            return ImportResult(kind, problems=refusal.facts, notes=sheet.notes, dry_run=dry_run)
        written = partial or not report.has_rejected
        with transaction.atomic() if dry_run else nullcontext():
            for message in messages:
                if written:
                    report_message(report, message, take_in(FEED_KIND[kind], *key_of(message), message.body))
                    counted.written += len(message.lines)
                else:
                    note_lines(report, message, RowOutcome.UNCHANGED)
                counted.checked += len(message.lines)
            if dry_run:
                transaction.set_rollback(True)
    counted.checked = counted.read
    rows = report.rows()
    notes = (*sheet.notes, *report.notes())
    return ImportResult(kind, tuple(rows), (), notes, dry_run, written and not dry_run, report.counts)


def key_of(message: Message) -> tuple[str, str]:
    return message.source, message.external_id


def valid_messages(kind: str, sheet: Sheet, report: Report, progress: RowProgress) -> Iterator[Message]:
    """Messages that are valid by themselves; errors in the others are reported by column."""
    for message in read_messages(kind, sheet, report, progress):
        try:
            check_key(message.source, message.external_id)
            body = valid_body(FEED_KIND[kind], message.body)
            refuse_places_out_of_reach(body)
        except ValidationError as error:
            for at, text in flatten(error.detail):
                for line in message.lines:
                    report.reject(line, message.name, at.removeprefix("/"), fact_of_error(text))
            continue
        if is_about_hidden(FEED_KIND[kind], message.source, message.external_id):
            for line in message.lines:
                report.reject(line, message.name, "", fact("record_outside_reach"))
            continue
        yield Message(message.lines, message.source, message.external_id, body)


def fact_of_error(text: ErrorDetail | str) -> Fact:
    """A serializer's error: its rule and its text."""
    return fact("message_not_valid", rule=getattr(text, "code", "invalid"), text=str(text))


def read_messages(kind: str, sheet: Sheet, report: Report, progress: RowProgress) -> Iterator[Message]:
    if kind == "work-orders" and is_nested(sheet):
        yield from nested_messages(sheet, report, progress)
        return
    table = MESSAGE_TABLES[kind]
    check_columns(sheet, table)
    with Spool() as spool:
        for chunk in Checker(sheet, table, report).chunks(progress):
            spool.add(chunk)
        repeats = refuse_two_of_a_key(spool, report)
        rows = (row for chunk in spool for row in rows_of(without_lines(chunk, repeats)))
        if kind == "parts-used":
            yield from gathered(rows, last_lines(spool, repeats))
        else:
            yield from map(flat_message, rows)


def nested_messages(sheet: Sheet, report: Report, progress: RowProgress) -> Iterator[Message]:
    for row in within_rows(sheet.rows):
        progress.read += 1
        found = nested_message(row, sheet.named(row), report)
        if found is not None:
            yield found
    progress.rows = progress.read


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


def order_of(row: ParsedRow) -> tuple[str, str]:
    return row.cells["source"], row.cells["external_id"]


def last_lines(spool: Spool, repeats: frozenset[int]) -> "np.ndarray[Any, Any]":
    """Of each row whether it is the last one of its order."""
    numbers = array("q")
    for chunk in spool:
        numbers.extend(hash(key[:2]) for key in without_lines(chunk, repeats).keys)
    backwards = np.frombuffer(numbers, dtype=np.int64)[::-1] if numbers else np.empty(0, np.int64)
    _, places = np.unique(backwards, return_index=True)
    found = np.zeros(len(backwards), dtype=bool)
    found[len(backwards) - 1 - places] = True
    return found


def gathered(rows: Iterable[ParsedRow], is_last: Iterable[bool]) -> Iterator[Message]:
    """All lines of one order as one message, once its last line is read."""
    of_order: dict[tuple[str, str], list[ParsedRow]] = {}
    waiting = 0
    for row, ends in zip(rows, is_last, strict=True):
        of_order.setdefault(order_of(row), []).append(row)
        waiting += 1
        if ends:
            lines = of_order.pop(order_of(row))
            waiting -= len(lines)
            yield message_of_lines(lines)
        elif waiting > MOST_IN_MEMORY:
            raise FileRefused(fact("lines_of_orders_too_far_apart", most=MOST_IN_MEMORY))
    # Two orders may share a number, and then the first of them has no last line.
    yield from map(message_of_lines, of_order.values())


def message_of_lines(lines: list[ParsedRow]) -> Message:
    """As new as the newest line."""
    left = ("source", "external_id", "updated_at")
    used = [
        {name: json_value(v) for name, v in row.cells.items() if name not in left and v is not None}
        for row in lines
    ]
    newest = max(row.cells["updated_at"] for row in lines)
    body = {"parts_used": used, "updated_at": newest.isoformat()}
    return Message(tuple(row.line for row in lines), *order_of(lines[0]), body)


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
