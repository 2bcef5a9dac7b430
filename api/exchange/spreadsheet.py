"""A workbook to rows, looked at as an archive first: nothing is expanded that claims to be too large."""

import re
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date, datetime, time
from decimal import Decimal
from typing import IO, Any

import openpyxl

from api.exchange.reading import (
    MAX_ROWS,
    Sheet,
    SourceRow,
    SourceRows,
    named_columns,
    too_long,
)
from api.exchange.refusals import FileRefused
from api.wire.cells import Cell, Formula
from inventory.facts import fact

MAX_MEMBERS = 500
MAX_EXPANDED_BYTES = 100_000_000
MAX_RATIO = 100
RATIO_MATTERS_FROM_BYTES = 1_000_000
CHUNK_BYTES = 1_000_000
MAX_TEXTS = 2_000_000
MAX_TEXTS_IN_VAIN = 20_000
"""Texts of the shared table beyond the cells that show one: a few are left behind by editing."""
WORKBOOK = "xl/workbook.xml"
FORBIDDEN = re.compile(rb"<!(DOCTYPE|ENTITY)|<\0!\0(D|E)|\0<\0!\0(D|E)", re.IGNORECASE)
ENDS_OF_TEXT = re.compile(rb"</(?:\w{1,20}:)?si>|<(?:\w{1,20}:)?si\s?/>")
SHOWS_TEXT = re.compile(rb"""\st=["']s["']""")
LONGEST_MARK = 48
WRITTEN_WITH_ZEROS = re.compile(r"0{2,20}")


def read_spreadsheet(stream: IO[bytes], sheet_name: str = "") -> Sheet:
    workbook = opened(stream)
    with refusing_damage():
        return sheet_of(workbook, sheet_name)


def workbook_sheets(stream: IO[bytes]) -> tuple[str, ...]:
    """The names of the sheets that are seen when the workbook is opened."""
    return tuple(sheet.title for sheet in opened(stream).worksheets if sheet.sheet_state == "visible")


def opened(stream: IO[bytes]) -> Any:
    refuse_bomb(stream)
    try:
        stream.seek(0)
        return openpyxl.load_workbook(stream, read_only=True, data_only=False, keep_links=False)
    except Exception as error:
        raise FileRefused(fact("workbook_damaged")) from error


@contextmanager
def refusing_damage() -> Iterator[None]:
    try:
        yield
    except FileRefused:
        raise
    except Exception as error:
        raise FileRefused(fact("sheet_damaged")) from error


def refuse_bomb(stream: IO[bytes]) -> None:
    """Judge the archive by its directory; the archive reader never expands a member beyond the size stated there."""
    try:
        with zipfile.ZipFile(stream) as archive:
            members = archive.infolist()
            refuse_directory(members)
            texts = shown = 0
            for member in members:
                in_it, shown_in_it = looked_through(archive, member)
                texts, shown = texts + in_it, shown + shown_in_it
            refuse_texts(texts, shown)
    except (zipfile.BadZipFile, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as error:
        raise FileRefused(fact("workbook_damaged")) from error


def refuse_directory(members: list[zipfile.ZipInfo]) -> None:
    if len(members) > MAX_MEMBERS:
        raise FileRefused(fact("workbook_has_too_many_parts", parts=len(members), most=MAX_MEMBERS))
    if WORKBOOK not in {member.filename for member in members}:
        raise FileRefused(fact("archive_is_no_workbook"))
    if any(member.flag_bits & 1 for member in members):
        raise FileRefused(fact("workbook_has_password"))
    expanded = sum(member.file_size for member in members)
    if expanded > MAX_EXPANDED_BYTES:
        raise FileRefused(fact("workbook_expands_too_far", bytes=expanded, most_bytes=MAX_EXPANDED_BYTES))
    for member in members:
        if member.file_size > RATIO_MATTERS_FROM_BYTES and member.file_size > MAX_RATIO * max(
            1, member.compress_size
        ):
            raise FileRefused(fact("workbook_part_expands_too_far", most_times=MAX_RATIO))


def looked_through(archive: zipfile.ZipFile, member: zipfile.ZipInfo) -> tuple[int, int]:
    """Refuse entities; how many shared texts are in it, and how many cells that show one."""
    if not member.filename.lower().endswith((".xml", ".rels", ".vml")):
        return 0, 0
    tail, texts, shown = b"", 0, 0
    with archive.open(member) as part:
        while chunk := part.read(CHUNK_BYTES):
            joined = tail + chunk
            if FORBIDDEN.search(joined):
                raise FileRefused(fact("workbook_declares_entities"))
            texts += count_after(ENDS_OF_TEXT, joined, len(tail))
            shown += count_after(SHOWS_TEXT, joined, len(tail))
            tail = joined[-LONGEST_MARK:]
    return texts, shown


def count_after(mark: re.Pattern[bytes], text: bytes, known: int) -> int:
    """Those that end behind what was counted before."""
    return sum(found.end() > known for found in mark.finditer(text))


def refuse_texts(texts: int, shown: int) -> None:
    """The table of shared texts is read as a whole, before the first row: it may cost no more than the rows do."""
    if texts > MAX_TEXTS:
        raise FileRefused(fact("workbook_has_too_many_texts", texts=texts, most=MAX_TEXTS))
    if texts > shown + MAX_TEXTS_IN_VAIN:
        raise FileRefused(fact("workbook_has_texts_in_vain", texts=texts, cells=shown))


def sheet_of(workbook: Any, sheet_name: str) -> Sheet:
    names = workbook.sheetnames
    chosen = sheet_name if sheet_name in names else names[0]
    notes = (fact("sheet_chosen", sheet=chosen, sheets=len(names)),) if len(names) > 1 else ()
    worksheet = workbook[chosen]
    if not hasattr(worksheet, "reset_dimensions"):
        raise FileRefused(fact("sheet_is_chart", sheet=chosen))
    worksheet.reset_dimensions()
    _, header = next(filled_lines(worksheet), (1, []))
    columns = named_columns(["" if cell is None else str(cell) for cell in header])
    return Sheet(columns, SourceRows(lambda: sheet_rows(worksheet, columns)), notes)


def sheet_rows(worksheet: Any, columns: tuple[str, ...]) -> Iterator[SourceRow]:
    with refusing_damage():
        lines = filled_lines(worksheet)
        next(lines)
        row: SourceRow | None = None
        for line, cells in lines:
            row = sheet_row(line, cells, columns)
            yield row
        if row is None:
            raise FileRefused(fact("file_without_rows"))


def filled_lines(worksheet: Any) -> Iterator[tuple[int, list[Cell]]]:
    for line, cells in enumerate(worksheet.iter_rows(), 1):
        if line > MAX_ROWS + 1:
            raise FileRefused(fact("sheet_has_too_many_rows", most=MAX_ROWS))
        values = [cell_of(cell) for cell in cells]
        while values and (values[-1] is None or values[-1] == ""):
            values.pop()
        if values:
            yield line, values


def cell_of(cell: Any) -> Cell:
    value = cell.value
    if value is None or isinstance(value, bool | datetime | date | time):
        return value
    if cell.data_type == "f":
        return Formula(str(value))
    if cell.data_type == "e":
        return Formula(f"error {value}")
    if isinstance(value, int) and WRITTEN_WITH_ZEROS.fullmatch(cell.number_format or ""):
        return str(value).zfill(len(cell.number_format))
    if isinstance(value, float):
        # Spreadsheets hold 15 digits; what lies beyond is the rounding of binary fractions.
        return int(value) if value.is_integer() and abs(value) < 1e15 else Decimal(format(value, ".15g"))
    return value if isinstance(value, int | str) else str(value)


def sheet_row(line: int, cells: list[Cell], columns: tuple[str, ...]) -> SourceRow:
    if len(cells) > len(columns):
        problem = fact("row_has_cells_without_column", cells=len(cells), columns=len(columns))
        return SourceRow(line, (), problem)
    padded = [*cells, *([None] * (len(columns) - len(cells)))]
    texts = [cell for cell in cells if isinstance(cell, str)]
    return SourceRow(line, padded, too_long(texts))
