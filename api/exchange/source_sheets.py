"""The one way from a file of a plant to rows of a kind. What a source calls its columns, and how it writes its cells, belongs here."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import IO, Any

from api.exchange.files import read_file
from api.exchange.mapping.importing import mapped_of_source
from api.exchange.reading import Sheet, SourceRow, SourceRows
from api.exchange.results import ImportResult
from api.exchange.templates import examples_of
from inventory.facts import fact

CHOSEN = "sheet_chosen"


@dataclass(frozen=True)
class SourceSheet:
    """Rows of a kind, and how their result is told: errors name the headings of the file."""

    rows: Sheet
    told: Callable[[ImportResult], ImportResult] = lambda result: result


def sheet_of_kind(
    stream: IO[bytes], *, name: str, kind: str, sheet: str = "", source: str = ""
) -> SourceSheet:
    """The rows of a file, or of one sheet of a workbook, under the headings of the kind.

    `source` names where the file comes from: it is then read with its own headings and ways of writing, as far as they are
    known or leave no question; without one the headings are ours.
    """
    if source:
        mapped = mapped_of_source(stream, kind=kind, source=source, sheet=sheet)
        return SourceSheet(without_example(mapped.sheet, kind), mapped.with_headings)
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
