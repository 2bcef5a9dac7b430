"""Import one file in one transaction: all rows, none, or with `partial` the valid ones."""

from collections.abc import Callable
from typing import IO, Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from api.edge.caller import acting_as
from api.edge.parsing import closest
from api.exchange.booking import book_movements
from api.exchange.checking import ParsedRow, check_columns, find_references, parse_rows, refuse_two_of_a_key
from api.exchange.files import read_file
from api.exchange.installations import record_inspections, record_installations
from api.exchange.messaging import take_messages
from api.exchange.policies import set_policies
from api.exchange.reading import Sheet
from api.exchange.refusals import FileRefused
from api.exchange.requests import record_requests
from api.exchange.results import ImportResult, Report, counted
from api.exchange.supply_orders import upsert_orders
from api.exchange.tables import KINDS, MESSAGE_KINDS, TABLES, FileTable
from api.exchange.writing import Upsert
from api.wire.cells import shown
from drives.feed.quarantine import retry_waiting
from inventory.facts import fact
from inventory.stores.ledger.movement import Who, name_of

Writer = Callable[[list[ParsedRow], Report, Who], None]
WRITERS: dict[str, Writer] = {
    "movements": book_movements,
    "installations": record_installations,
    "inspections": record_inspections,
    "requests": record_requests,
    "supply-orders": upsert_orders,
    "stock-policies": set_policies,
}
NAMED_BY_MESSAGES = frozenset({"plants", "storerooms", "equipment", "positions", "items", "installations"})
"""What messages of the feed may wait for."""


def import_stream(
    kind: str, stream: IO[bytes], *, name: str, dry_run: bool = False, **options: Any
) -> ImportResult:
    """Read a file and import it with the options of `run_import`; one that cannot be read has a result too."""
    try:
        sheet = read_file(stream, name=name, kind=kind)
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, dry_run=dry_run)
    return run_import(kind, sheet, dry_run=dry_run, **options)


def run_import(
    kind: str,
    sheet: Sheet,
    *,
    dry_run: bool = False,
    partial: bool = False,
    by: Who = "import",
    author: str = "",
) -> ImportResult:
    """Check every row, and write what is new or changed.

    A rejected row keeps the whole file out, unless `partial` lets the others in. A dry run does all of it and
    takes it back, so that it reports the same. The change log names `author`, else whoever books the rows.
    """
    if kind in MESSAGE_KINDS:
        return take_messages(kind, sheet, dry_run=dry_run, partial=partial)
    table = TABLES.get(kind)
    if table is None:
        unknown = fact(
            "kind_of_file_not_known",
            kind=shown(kind),
            allowed=", ".join(KINDS),
            suggestion=closest(kind, KINDS),
        )
        return ImportResult(kind, problems=(unknown,))
    report = Report()
    try:
        with transaction.atomic(), acting_as(author or name_of(by)):
            write(table, sheet, report, by)
            rows = report.rows()
            counts = counted(rows)
            written = not dry_run and (partial or not counts.get("rejected"))
            if not written:
                transaction.set_rollback(True)
    except FileRefused as refusal:
        return ImportResult(kind, problems=refusal.facts, notes=sheet.notes, dry_run=dry_run)
    except IntegrityError:
        problems = (fact("written_by_another_import"),)
        return ImportResult(kind, problems=problems, notes=sheet.notes, dry_run=dry_run)
    if written and kind in NAMED_BY_MESSAGES:
        retry_waiting(timezone.now())
    return ImportResult(kind, tuple(rows), (), sheet.notes, dry_run, written, counts)


def write(table: FileTable, sheet: Sheet, report: Report, by: Who) -> None:
    check_columns(sheet, table)
    parsed = refuse_two_of_a_key(parse_rows(sheet, table, report), report)
    rows = find_references(parsed, table, report)
    writer = WRITERS.get(table.kind)
    if writer is not None:
        writer(rows, report, by)
    else:
        Upsert(table, rows, report).write()
