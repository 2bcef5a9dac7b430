"""A table out of an untidy file: where its headings stand, and which rows are none of its records."""

import csv
import re
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from itertools import islice
from typing import IO, Any

import openpyxl

from api.exchange.files import OLE, ZIP
from api.exchange.mapping.nested import json_table
from api.exchange.mapping.units import unit_of
from api.exchange.reading import DELIMITERS, MAX_COLUMNS
from api.exchange.refusals import FileRefused
from api.exchange.spreadsheet import filled_lines, refuse_bomb, refusing_damage
from api.exchange.text_files import TextFile, open_text
from api.wire.cells import Cell, is_empty
from inventory.facts import Fact, fact

LOOKED_AT = 30
"""Rows among which the headings are looked for."""
MOST_ROWS = 100_000
TOTAL = re.compile(
    r"\W*(grand total|total|sub-?total|sum|summe|zwischensumme|gesamt\w*|endsumme|suma|total general)\b.*",
    re.IGNORECASE,
)
NUMERIC = re.compile(r"[-+0-9.,/%€$£ ]+")


@dataclass(frozen=True)
class RawRow:
    line: int
    cells: tuple[Cell, ...]


@dataclass(frozen=True)
class RawTable:
    """The headings as they stand in the file, `rows` with a cell for each of them, and what was left out."""

    headings: tuple[str, ...]
    rows: tuple[RawRow, ...]
    notes: tuple[Fact, ...] = field(default=())
    is_workbook: bool = False

    def column(self, heading: str) -> list[Cell]:
        at = self.headings.index(heading)
        return [row.cells[at] for row in self.rows]


KnowsHeading = Callable[[str], bool]


def read_table(stream: IO[bytes], *, is_known: KnowsHeading, sheet: str = "", rows_at: str = "") -> RawTable:
    """`is_known` says whether a text may be a heading of the kind; `rows_at` is the path to the records of a JSON document."""
    stream.seek(0)
    head = stream.read(len(OLE))
    if head.startswith(OLE):
        raise FileRefused(fact("file_is_old_workbook"))
    if head.startswith(ZIP):
        return replace(table_of(list(workbook_lines(stream, sheet)), is_known), is_workbook=True)
    text = open_text(stream)
    begin = next((line.strip() for line in text.lines() if line.strip()), "")
    if not begin:
        raise FileRefused(fact("file_empty"))
    if begin[0] in "{[":
        headings, rows = json_table(text, rows_at)
        return RawTable(headings, tuple(RawRow(line, cells) for line, cells in rows), text.notes)
    return table_of(list(text_lines(text)), is_known, text.notes)


def workbook_lines(stream: IO[bytes], sheet: str) -> Iterator[tuple[int, list[Cell]]]:
    refuse_bomb(stream)
    stream.seek(0)
    with refusing_damage():
        workbook: Any = openpyxl.load_workbook(stream, read_only=True, data_only=False, keep_links=False)
        worksheet = workbook[sheet if sheet in workbook.sheetnames else workbook.sheetnames[0]]
        if not hasattr(worksheet, "reset_dimensions"):
            raise FileRefused(fact("sheet_is_chart", sheet=worksheet.title))
        worksheet.reset_dimensions()
        yield from islice(filled_lines(worksheet), MOST_ROWS + LOOKED_AT)


def text_lines(text: TextFile) -> Iterator[tuple[int, list[Cell]]]:
    delimiter = usual_delimiter(list(islice(text.lines(), LOOKED_AT)))
    reader = csv.reader(text.lines(), delimiter=delimiter, strict=True)
    begins = 1
    try:
        for cells in islice(reader, MOST_ROWS + LOOKED_AT):
            if any(map(str.strip, cells)):
                yield begins, list(cells)
            begins = reader.line_num + 1
    except csv.Error as error:
        raise FileRefused(fact("quotation_damaged", line=begins, problem=str(error))) from error


def usual_delimiter(lines: Sequence[str]) -> str:
    """The one that parts most lines into the same number of cells: a title above the table has none."""

    def regularity(delimiter: str) -> tuple[int, int]:
        counts = Counter(
            len(next(csv.reader([line], delimiter=delimiter), [])) for line in lines if line.strip()
        )
        several = {width: count for width, count in counts.items() if width > 1}
        width = max(several, key=lambda one: (several[one], one), default=0)
        return several.get(width, 0), width

    return max(DELIMITERS, key=regularity)


def table_of(
    lines: list[tuple[int, list[Cell]]], is_known: KnowsHeading, notes: tuple[Fact, ...] = ()
) -> RawTable:
    if not lines:
        raise FileRefused(fact("file_empty"))
    at = header_at([cells for _, cells in lines[:LOOKED_AT]], is_known)
    above = [fact("rows_above_headings", count=at)] if at else []
    header = ["" if cell is None else " ".join(str(cell).split()) for cell in lines[at][1]]
    plain_header, body = header, lines[at + 1 :]
    if len(body) > MOST_ROWS:
        raise FileRefused(fact("file_has_too_many_rows", most=MOST_ROWS))
    if body and is_unit_row(body[0][1]):
        header = with_units(header, body[0][1])
        body = body[1:]
    width = max([len(header), *(len(cells) for _, cells in body)])
    if width > MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=width, most=MAX_COLUMNS))
    padded = [(line, [*cells, *([None] * (width - len(cells)))]) for line, cells in body]
    kept, left_out = records_of(padded, plain_header)
    return filled_columns(header, kept, (*notes, *above, *left_out))


def header_at(lines: Sequence[Sequence[Cell]], is_known: KnowsHeading) -> int:
    """The row whose cells read most like headings; above it stand titles."""

    def likeness(cells: Sequence[Cell]) -> int:
        filled = [cell for cell in cells if not is_empty(cell)]
        words = [cell for cell in filled if isinstance(cell, str) and not NUMERIC.fullmatch(cell)]
        return len(words) + 3 * sum(map(is_known, words)) - 2 * (len(filled) - len(words))

    scores = [likeness(cells) for cells in lines]
    return scores.index(max(scores))


def is_unit_row(cells: Sequence[Cell]) -> bool:
    filled = [cell for cell in cells if not is_empty(cell)]
    return bool(filled) and all(isinstance(cell, str) and unit_of(cell.strip(" []()")) for cell in filled)


def with_units(header: Sequence[str], units: Sequence[Cell]) -> list[str]:
    pairs = zip(header, [*units, *([None] * len(header))], strict=False)
    return [f"{name} [{str(unit).strip(' []()')}]" if not is_empty(unit) else name for name, unit in pairs]


Lines = list[tuple[int, list[Cell]]]


def records_of(lines: Lines, header: Sequence[str]) -> tuple[Lines, list[Fact]]:
    """Without totals, headings that are repeated on a page, and rows with a title alone."""
    totals, repeated, titles, kept = [], [], [], []
    for line, cells in lines:
        filled = [cell for cell in cells if not is_empty(cell)]
        first = filled[0]
        if isinstance(first, str) and TOTAL.fullmatch(first):
            totals.append(line)
        elif [str(cell).strip() for cell in filled] == [name for name in header if name]:
            repeated.append(line)
        elif len(filled) == 1 and len(header) > 2 and isinstance(first, str):
            titles.append(line)
        else:
            kept.append((line, cells))
    codes = {"totals_left_out": totals, "repeated_headings_left_out": repeated, "titles_left_out": titles}
    return kept, [
        fact(code, count=len(found), lines=", ".join(map(str, found[:10])))
        for code, found in codes.items()
        if found
    ]


def filled_columns(header: Sequence[str], lines: Lines, notes: tuple[Fact, ...]) -> RawTable:
    """Columns without a heading and a cell are left out; one with cells gets the letter of its place as its name."""
    if not lines:
        raise FileRefused(fact("file_without_rows"))
    names, places = [], []
    seen: Counter[str] = Counter()
    for at in range(len(lines[0][1])):
        name = header[at] if at < len(header) else ""
        if all(is_empty(cells[at]) for _, cells in lines) and not name:
            continue
        name = name or f"({letters(at)})"
        seen[name] += 1
        names.append(name if seen[name] == 1 else f"{name} ({seen[name]})")
        places.append(at)
    rows = tuple(RawRow(line, tuple(cells[at] for at in places)) for line, cells in lines)
    return RawTable(tuple(names), rows, notes)


def letters(at: int) -> str:
    """The name of a column in a spreadsheet."""
    return str(openpyxl.utils.get_column_letter(at + 1))
