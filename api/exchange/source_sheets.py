"""The one way from a file of a plant to rows of a kind. What a source calls its columns, and how it writes its cells, belongs here."""

import re
from collections.abc import Collection, Sequence
from dataclasses import replace
from functools import partial
from itertools import islice
from pathlib import PurePath
from typing import IO, Any

from api.exchange.checking import Checker, batches
from api.exchange.files import read_file
from api.exchange.mapping.headings import propose
from api.exchange.mapping.mapped_file import MappedFile, map_parts, table_of_kind
from api.exchange.mapping.notations import SPLITTERS, parts_of
from api.exchange.mapping.remembered import remembered
from api.exchange.mapping.sides import without_side
from api.exchange.mapping.untidy import RawRow, RawTable
from api.exchange.missing_workbook import is_of_missing, leaving_the_rest, without_marks
from api.exchange.reading import Sheet, SourceRow, SourceRows
from api.exchange.results import Report
from api.exchange.templates import examples_of, table_of
from inventory.facts import Fact, fact

CHOSEN = "sheet_chosen"
LONGEST_SOURCE = 40
LACKING = ("cell_empty", "column_missing_in_row")
"""Refusals that no other reading of a cell cures."""
NOT_ASKED = {"missing:strands": ""}
"""Of a sheet that asks for a chain and not for its strands: they are recorded."""
NUMBERED = re.compile(r"[\s_.()-]*[0-9][0-9\s_.()-]*$")


def source_named(file_name: str) -> str:
    """The name of a list without its ending and the day or number at its end: the next one of it is read the same way."""
    stem = PurePath(file_name).stem
    return (NUMBERED.sub("", stem) or stem).strip()[:LONGEST_SOURCE]


def mapped_parts(
    stream: IO[bytes],
    *,
    kind: str,
    source: str,
    name: str = "",
    sheet: str = "",
    others: Collection[str] = (),
) -> tuple[MappedFile, ...]:
    """By what is remembered of the source. A heading that `others`, kinds that the same sheet has too, take is not asked about."""

    def mapped(kind: str, elsewhere: Collection[str] = ()) -> tuple[MappedFile, ...]:
        known = remembered(source, kind)
        if is_of_missing(sheet, name):
            known = known.with_answers(NOT_ASKED)
        return map_parts(
            stream,
            kind=kind,
            remembered=known,
            sheet=sheet,
            elsewhere=elsewhere,
            prepared=partial(filled_by_sender, kind=kind),
        )

    found = mapped(kind)
    if not others:
        return found
    if any(one.is_open for part in found for one in part.proposals):
        taken = {
            one.heading for other in others for part in mapped(other) for one in part.proposals if one.column
        }
        found = mapped(kind, taken)
    return tuple(part.read_elsewhere(headings_known(part.table.headings, others, source)) for part in found)


def headings_known(headings: Sequence[str], kinds: Collection[str], source: str) -> set[str]:
    """Those that one of the kinds reads, by their names alone: the cells of a long list are not read for it."""
    found = set()
    for kind in kinds:
        bare = {one: without_side(one)[0] if kind == "positions" else one for one in headings}
        read = propose(table_of_kind(kind), set(bare.values()), remembered(source, kind).answers)
        known = {one.heading for one in read if one.column}
        found |= {heading for heading, name in bare.items() if name in known}
    return found


def sheet_of_kind(stream: IO[bytes], *, name: str, kind: str, sheet: str = "") -> Sheet:
    """The rows of a file, or of one sheet of a workbook, under the headings of the kind."""
    found = read_file(stream, name=name, kind=kind, sheet=sheet)
    found = replace(found, notes=tuple(note for note in found.notes if note.code != CHOSEN))
    return as_sent(without_example(found, kind), name=name, sheet=sheet)


def as_sent(rows: Sheet, *, name: str, sheet: str) -> Sheet:
    return leaving_the_rest(rows) if is_of_missing(sheet, name) else rows


def has_cells_of_its_own(sheet: Sheet, kind: str) -> bool:
    """Whether a cell under headings of ours is not as the strict readers take it, or says two things."""
    readers = Checker(sheet, table_of(kind), Report()).readers
    for rows in batches(sheet.rows):
        sound = (row.cells for row in rows if row.problem is None)
        for name, cells in zip(sheet.columns, zip(*sound, strict=True), strict=False):
            read = readers[name].read(cells, is_text=sheet.is_text)
            if any(type(value) is Fact and value.code not in LACKING for value in read):
                return True
            if name in SPLITTERS and any(len(parts_of(name, cell)) > 1 for cell in cells):
                return True
    return False


def filled_by_sender(table: RawTable, *, kind: str) -> RawTable:
    """Without the example rows of a template, and the marks of what is recorded."""
    known = examples_of(kind)
    rows = [row for row in table.rows[: len(known)] if not is_example(row, table.headings, known)]
    count = min(len(known), len(table.rows)) - len(rows)
    notes = (fact("examples_left_out", count=count),) if count else ()
    kept = replace(table, rows=(*rows, *table.rows[len(known) :]), notes=(*table.notes, *notes))
    return without_marks(kept)


def without_example(sheet: Sheet, kind: str) -> Sheet:
    """A template is sent with its example rows more often than without."""
    known = examples_of(kind)
    first = [row for row in islice(sheet.rows, len(known)) if is_example(row, sheet.columns, known)]
    if not first:
        return sheet
    lines = {row.line for row in first}
    rows = SourceRows(lambda: (row for row in sheet.rows if row.line not in lines))
    return replace(sheet, rows=rows, notes=(*sheet.notes, fact("examples_left_out", count=len(lines))))


def is_example(row: SourceRow | RawRow, columns: Sequence[str], known: Sequence[dict[str, str]]) -> bool:
    cells = {name: text for name, cell in zip(columns, row.cells, strict=False) if (text := as_text(cell))}
    return cells in known


def as_text(cell: Any) -> str:
    return "" if cell is None else str(cell).strip()
