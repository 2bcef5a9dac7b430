"""Records of a sender, as they came, into messages and movements. Safe to repeat: the reference of the sender is the key."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from typing import IO, Any

from api.exchange.feeds.held_records import RECORD, hold, release
from api.exchange.feeds.omissions import settle_omitted
from api.exchange.mapping.headings import is_heading_of
from api.exchange.mapping.mapped_file import MappedFile, Mapper, Remembered, table_of_kind
from api.exchange.mapping.mapped_rows import MappedRows
from api.exchange.mapping.questions import CONTENT, RECEIVED
from api.exchange.mapping.remembered import remembered
from api.exchange.mapping.untidy import RawRow, RawTable, read_table
from api.exchange.messaging import FEED_KIND
from api.exchange.reading import SourceRow
from api.exchange.refusals import FileRefused
from api.exchange.results import ImportResult, RowOutcome, RowResult
from api.exchange.run import run_import
from api.exchange.tables import MESSAGE_KINDS
from drives.feed.quarantine import RETRIED_BY
from drives.feed.references import REFUSED, reason
from drives.feed.stored_messages import set_outcome
from drives.models import InboundMessage, MessageOutcome
from inventory.facts import Fact, fact
from inventory.stores.ledger.movement import Who

KINDS = (*MESSAGE_KINDS, "movements", "requests", "supply-orders", "inspections")
MOST_RECORDS = 1_000
ASKED_LATER = ("heading", "word")
"""A new field of the sender, or a code that nobody has mapped yet, does not stop the feed."""


@dataclass(frozen=True)
class FeedResult:
    kind: str
    result: ImportResult
    notes: tuple[Fact, ...] = field(default=())

    @property
    def rows(self) -> Sequence[RowResult]:
        return self.result.row_results


def take_records(source: str, kind: str, stream: IO[bytes], *, by: Who) -> FeedResult:
    known = remembered(source, kind)
    if not known.answers:
        raise FileRefused(fact("source_not_known", source=source, kind=kind))
    table = table_of_kind(kind)
    raw = read_table(stream, is_known=lambda text: is_heading_of(table, text), rows_at=known.rows_at)
    if len(raw.rows) > MOST_RECORDS:
        raise FileRefused(fact("file_has_too_many_rows", most=MOST_RECORDS))
    result = take_table(kind, raw, known, by=by)
    notes = settle_omitted(kind, known, result.listed) if known.answers.get("omitted") else ()
    return FeedResult(kind, result.result, (*result.result.notes, *notes))


@dataclass(frozen=True)
class TakenTable:
    """`listed` are source and number of each record of the list; None where one of them has none."""

    result: ImportResult
    listed: tuple[tuple[str, str], ...] | None


def take_table(kind: str, raw: RawTable, known: Remembered, *, by: Who) -> TakenTable:
    mapped = Mapper(table_of_kind(kind), raw, known).map()
    if kind in MESSAGE_KINDS:
        mapped.rows.received_before.update(known_before(kind, mapped))
    sheet = mapped.sheet_despite(*ASKED_LATER)
    result = run_import(kind, sheet, partial=True, by=by)
    if result.problems:
        raise FileRefused(*result.problems)
    rows = {row.line: row for row in mapped.rows.read()}
    of_line = {row.line: row for row in raw.rows}
    for one in mapped.with_headings(result).row_results:
        record = record_of(raw, of_line[one.line])
        reference = reference_of(kind, mapped, rows[one.line])
        if one.outcome == RowOutcome.REJECTED:
            hold(known.source, kind, reference, record, one)
        else:
            release(known.source, kind, reference)
            if kind in MESSAGE_KINDS:
                note_sent(kind, mapped, rows[one.line], record)
    return TakenTable(mapped.with_headings(result), listed_in(mapped, rows.values()))


def record_of(raw: RawTable, row: RawRow) -> dict[str, Any]:
    """As it was sent, for JSON: a member without a value is left out."""
    pairs = zip(raw.headings, row.cells, strict=True)
    return {
        name: float(cell) if isinstance(cell, Decimal) else cell for name, cell in pairs if cell is not None
    }


def value_of(mapped: MappedFile, row: SourceRow, name: str) -> str:
    cell = dict(zip(mapped.rows.names, row.cells, strict=True)).get(name)
    return "" if cell is None else str(cell)


def reference_of(kind: str, mapped: MappedFile, row: SourceRow) -> str:
    """The sender's own for the record; that of its content where it has none."""
    names = table_of_kind(kind).key[: 2 if kind != "parts-used" else 3]
    parts = [value_of(mapped, row, name) for name in names if name not in ("source", "updated_at")]
    return " ".join(part for part in parts if part) or mapped.rows.made(CONTENT, row_index(mapped, row.line))


def row_index(mapped: MappedFile, line: int) -> int:
    return next(at for at, row in enumerate(mapped.table.rows) if row.line == line)


def newest_of(kind: str, source: str, number: str) -> InboundMessage | None:
    rows = InboundMessage.objects.filter(kind=FEED_KIND[kind], source=source, external_id=number)
    return rows.order_by("-version_at", "-id").first()


def note_sent(kind: str, mapped: MappedFile, row: SourceRow, record: Mapping[str, Any]) -> None:
    """Keep the record with its message: reasons to wait are shown with the names of the sender."""
    message = newest_of(kind, value_of(mapped, row, "source"), value_of(mapped, row, "external_id"))
    if message is not None and message.sent.get("record") != record:
        message.sent = {"fields": mapped.heading_of, "record": dict(record)}
        message.save(update_fields=["sent"])


def known_before(kind: str, mapped: MappedFile) -> dict[int, str]:
    """A sender that gives no version: a record that came before just as it is has the version that it had then."""
    if not any(one.made_from == RECEIVED and one.column.name == "updated_at" for one in mapped.columns):
        return {}
    found = {}
    plain = MappedRows(mapped.table, mapped.columns, mapped.rows.zones)
    of_line = {row.line: row for row in mapped.table.rows}
    for row in plain.read():
        newest = newest_of(kind, value_of(mapped, row, "source"), value_of(mapped, row, "external_id"))
        if newest is not None and newest.sent.get("record") == record_of(mapped.table, of_line[row.line]):
            found[row.line] = newest.version_at.isoformat()
    return found


def listed_in(mapped: MappedFile, rows: Iterable[SourceRow]) -> tuple[tuple[str, str], ...] | None:
    found = [(value_of(mapped, row, "source"), value_of(mapped, row, "external_id")) for row in rows]
    return tuple(found) if all(all(pair) for pair in found) else None


def take_again(source: str, kind: str, record: Mapping[str, Any], *, by: Who) -> RowResult:
    """One record that was held."""
    cells = tuple(Decimal(str(cell)) if isinstance(cell, float) else cell for cell in record.values())
    raw = RawTable(tuple(record), (RawRow(1, cells),))
    known = replace(remembered(source, kind), source=source)
    return take_table(kind, raw, known, by=by).result.row_results[0]


def retry_record(message: InboundMessage, now: datetime) -> None:
    """Map it again: a code may have its word now, or a record that it names may be there."""
    try:
        take_again(message.source, message.sent["kind"], message.body, by=f"feed {message.source}")
    except FileRefused as refusal:
        reasons = [reason(REFUSED, "", one) for one in refusal.facts]
        set_outcome(message, MessageOutcome.WAITING, now, reasons)


RETRIED_BY[RECORD] = retry_record
