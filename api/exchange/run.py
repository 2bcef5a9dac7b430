"""Import one file in one transaction: all rows, none, or with `partial` the valid ones."""

import logging
import shutil
import tempfile
from collections.abc import Callable, Iterator
from functools import cached_property
from typing import IO, Any

from django.db import DatabaseError, IntegrityError, transaction
from django.utils import timezone

from api.edge.caller import acting_as
from api.edge.parsing import closest
from api.exchange.booking import book_movements
from api.exchange.checking import (
    Checker,
    Chunk,
    ParsedRow,
    Spool,
    check_columns,
    gathered,
    refuse_two_of_a_key,
    without_lines,
)
from api.exchange.deliveries import check_deliveries
from api.exchange.files import read_file
from api.exchange.installations import record_inspections, record_installations
from api.exchange.items import ItemUpsert
from api.exchange.messaging import take_messages
from api.exchange.opening_balances import book_opening_balances
from api.exchange.progress import RowProgress
from api.exchange.reading import Sheet
from api.exchange.reference_finding import ReferenceFinder, rows_of
from api.exchange.refusals import FileRefused
from api.exchange.requests import record_requests
from api.exchange.results import ImportResult, Report, RowOutcome
from api.exchange.successors import Successors
from api.exchange.supply_orders import upsert_orders
from api.exchange.tables import KINDS, MESSAGE_KINDS, TABLES, FileTable
from api.exchange.writing import Upsert, one_import_at_a_time
from api.wire.cells import shown
from drives.feed.quarantine import retry_waiting
from inventory.facts import Fact, fact
from inventory.planning.runs import leave_to_next_run
from inventory.stores.ledger.movement import Who, name_of

logger = logging.getLogger(__name__)
Seal = Callable[[ImportResult], None]
Writer = Callable[[list[ParsedRow], Report, Who], None]
WRITERS: dict[str, Writer] = {
    "opening-balances": book_opening_balances,
    "movements": book_movements,
    "installations": record_installations,
    "inspections": record_inspections,
    "requests": record_requests,
    "supply-orders": upsert_orders,
    "delivery-checks": check_deliveries,
}
BY_POSITION = frozenset({"installations", "inspections"})
"""All rows of a position together: a unit is fitted where the one before it was removed, wherever their rows stand."""
NAMED_BY_MESSAGES = frozenset({"plants", "storerooms", "equipment", "positions", "items", "installations"})
"""What messages of the feed may wait for."""


def nothing(result: ImportResult) -> None:
    return None


def import_stream(
    kind: str, stream: IO[bytes], *, name: str, dry_run: bool = False, **options: Any
) -> ImportResult:
    """Read a file and import it with the options of `run_import`; one that cannot be read has a result too."""
    if not stream.seekable():
        with tempfile.TemporaryFile() as copy:
            shutil.copyfileobj(stream, copy)
            return import_stream(kind, copy, name=name, dry_run=dry_run, **options)
    try:
        sheet = read_file(stream, name=name, kind=kind)
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, dry_run=dry_run)
    return run_import(kind, sheet, dry_run=dry_run, **options)


def _kind_not_known(kind: str) -> Fact:
    allowed, suggestion = ", ".join(KINDS), closest(kind, KINDS)
    return fact("kind_of_file_not_known", kind=shown(kind), allowed=allowed, suggestion=suggestion)


def run_import(
    kind: str,
    sheet: Sheet,
    *,
    dry_run: bool = False,
    partial: bool = False,
    by: Who = "import",
    author: str = "",
    progress: RowProgress | None = None,
    seal: Seal = nothing,
) -> ImportResult:
    """Check every row, and write what is new or changed.

    A rejected row keeps the whole file out, unless `partial` lets the others in. A dry run does all of it and
    takes it back, so that it reports the same. The change log names `author`, else whoever books the rows. `seal` is called
    with the result in the transaction that writes the rows.
    """
    if kind in MESSAGE_KINDS:
        return take_messages(kind, sheet, dry_run=dry_run, partial=partial, progress=progress)
    table = TABLES.get(kind)
    if table is None:
        return ImportResult(kind, problems=(_kind_not_known(kind),))
    counted = progress or RowProgress()
    counted.rows = sheet.expected_rows
    report = Report()
    try:
        with Spool() as spool:
            check_columns(sheet, table)
            for chunk in Checker(sheet, table, report).chunks(counted):
                spool.add(chunk)
            repeats = refuse_two_of_a_key(spool, report)
            with transaction.atomic(), acting_as(author or name_of(by)):
                one_import_at_a_time()
                FileWriter(table, spool, report, by, partial=partial, progress=counted).write(repeats)
                result = result_of(kind, sheet, report, dry_run=dry_run, partial=partial)
                if result.written:
                    seal(result)
                else:
                    transaction.set_rollback(True)
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, notes=sheet.notes, dry_run=dry_run)
    except IntegrityError:
        problems = (fact("written_by_another_import"),)
        return ImportResult(kind, problems=problems, notes=sheet.notes, dry_run=dry_run)
    if result.written and (result.counts[RowOutcome.CREATED] or result.counts[RowOutcome.UPDATED]):
        # Its rows were stamped while it was under way, long before whoever follows the record could see them.
        leave_to_next_run()
    if result.written and kind in NAMED_BY_MESSAGES:
        retry_waiting_messages()
    return result


def retry_waiting_messages() -> None:
    """After the commit, each in a transaction of its own: many may wait, and each locks what it names."""
    try:
        retry_waiting(timezone.now())
    except DatabaseError:
        logger.exception("Waiting messages could not be tried again after an import; the scheduler does it.")


def result_of(kind: str, sheet: Sheet, report: Report, *, dry_run: bool, partial: bool) -> ImportResult:
    rows = tuple(report.rows())
    written = not dry_run and (partial or not report.has_rejected)
    notes = (*sheet.notes, *report.notes())
    return ImportResult(kind, rows, (), notes, dry_run, written, report.counts)


class FileWriter:
    """Writes the checked rows of a file, chunk by chunk, in the transaction of the caller."""

    def __init__(
        self,
        table: FileTable,
        spool: Spool,
        report: Report,
        by: Who,
        *,
        partial: bool,
        progress: RowProgress,
    ) -> None:
        self.table, self.spool, self.report, self.by = table, spool, report, by
        self.partial, self.progress = partial, progress

    def write(self, repeats: frozenset[int]) -> None:
        chunks: Iterator[Chunk] = (without_lines(chunk, repeats) for chunk in self.spool)
        writer = WRITERS.get(self.table.kind)
        if writer is None:
            self.upsert(chunks)
        else:
            if self.table.kind in BY_POSITION:
                chunks = gathered(chunks, self.spool.count)
            for chunk in chunks:
                writer(self.rows_of(chunk), self.report, self.by)
                self.count(chunk)

    def rows_of(self, chunk: Chunk) -> list[ParsedRow]:
        return rows_of(*self.record_references.resolved(chunk))

    @cached_property
    def record_references(self) -> ReferenceFinder:
        return ReferenceFinder(self.table, self.report, records=True)

    def upsert(self, chunks: Iterator[Chunk]) -> None:
        successors = Successors(self.spool, self.report) if self.table.names_successors else None
        in_file = successors.in_file if successors else ()
        references = ReferenceFinder(self.table, self.report, records=False, in_file=in_file)
        upsert = upsert_of(self.table, self.report, self.by)
        for chunk in chunks:
            sound, values = references.resolved(chunk)
            if successors:
                sound, values = successors.hold_back(sound, values)
            upsert.take(sound, values, write=self.is_writing)
            self.count(chunk)
        for sound, values in successors.held_back() if successors else ():
            upsert.take(sound, values, write=self.is_writing)
        upsert.finish()

    @property
    def is_writing(self) -> bool:
        """Once a row is rejected, the rest is checked only: nothing of the file will stay."""
        return self.partial or not self.report.has_rejected

    def count(self, chunk: Chunk) -> None:
        self.progress.checked += len(chunk)
        if self.is_writing:
            self.progress.written += len(chunk)


def upsert_of(table: FileTable, report: Report, by: Who) -> Upsert:
    if table.specification:
        return ItemUpsert(table, report)
    columns = {column.name: column.field for column in table.columns if column.field}
    stamped = {"set_by_name": name_of(by)} if table.kind == "stock-policies" else None
    return Upsert(table.model, columns, table.key, report, stamped=stamped)
