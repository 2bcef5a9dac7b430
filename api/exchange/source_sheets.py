"""The one way from a file of a plant to rows of a kind. What a source calls its columns, and how it writes its cells, belongs here."""

import re
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import PurePath
from typing import IO, Any

from api.exchange.files import read_file
from api.exchange.mapping.mapped_file import MappedFile, map_parts
from api.exchange.mapping.remembered import remembered
from api.exchange.reading import Sheet, SourceRow, SourceRows
from api.exchange.results import ImportResult
from api.exchange.templates import examples_of
from inventory.facts import fact

CHOSEN = "sheet_chosen"
LONGEST_SOURCE = 40
NUMBERED = re.compile(r"[\s_.()-]*[0-9][0-9\s_.()-]*$")


@dataclass(frozen=True)
class SourceSheet:
    """Rows of a kind, and how their result is told: errors name the headings of the file."""

    rows: Sheet
    told: Callable[[ImportResult], ImportResult] = lambda result: result


def source_named(file_name: str) -> str:
    """The name of a list without its ending and the day or number at its end: the next one of it is read the same way."""
    stem = PurePath(file_name).stem
    return (NUMBERED.sub("", stem) or stem).strip()[:LONGEST_SOURCE]


def mapped_parts(
    stream: IO[bytes], *, kind: str, source: str, sheet: str = "", others: Collection[str] = ()
) -> tuple[MappedFile, ...]:
    """By what is remembered of the source. A heading that `others`, kinds that the same sheet has too, take is not asked about."""

    def mapped(kind: str, elsewhere: Collection[str] = ()) -> tuple[MappedFile, ...]:
        return map_parts(
            stream, kind=kind, remembered=remembered(source, kind), sheet=sheet, elsewhere=elsewhere
        )

    found = mapped(kind)
    if not others or not any(one.is_open for part in found for one in part.proposals):
        return found
    taken = {
        one.heading for other in others for part in mapped(other) for one in part.proposals if one.column
    }
    return mapped(kind, taken)


def sheet_of_kind(stream: IO[bytes], *, name: str, kind: str, sheet: str = "") -> SourceSheet:
    """The rows of a file, or of one sheet of a workbook, under the headings of the kind."""
    found = read_file(stream, name=name, kind=kind, sheet=sheet)
    found = replace(found, notes=tuple(note for note in found.notes if note.code != CHOSEN))
    return SourceSheet(without_example(found, kind))


def without_example(sheet: Sheet, kind: str) -> Sheet:
    """A template is sent with its example rows more often than without."""
    known = examples_of(kind)
    first = [row for row in islice(sheet.rows, len(known)) if is_example(row, sheet.columns, known)]
    if not first:
        return sheet
    lines = {row.line for row in first}
    rows = SourceRows(lambda: (row for row in sheet.rows if row.line not in lines))
    return replace(sheet, rows=rows, notes=(*sheet.notes, fact("examples_left_out", count=len(lines))))


def is_example(row: SourceRow, columns: Sequence[str], known: Sequence[dict[str, str]]) -> bool:
    cells = {name: text for name, cell in zip(columns, row.cells, strict=False) if (text := as_text(cell))}
    return cells in known


def as_text(cell: Any) -> str:
    return "" if cell is None else str(cell).strip()
