"""A file to rows: which format it is, its encoding, its delimiter, and the limits it must keep."""

import csv
import io
import re
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from api.exchange.refusals import FileRefused
from api.wire.cells import COMMA_AMBIGUOUS, COMMA_DECIMAL, Cell, shown
from inventory.facts import Fact, fact

MAX_COLUMNS = 200
MAX_ROWS = 200_000
MAX_HEADER_CHARACTERS = 20_000
MAX_CELL_CHARACTERS = 20_000
DELIMITERS = {",": "commas", ";": "semicolons", "\t": "tabs"}
ZIP, OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
LEGACY = "cp1252"
# What UTF-8 looks like when it was read as Windows-1252 somewhere on the way.
MISREAD = re.compile("[ÃÂ][\u0080-\u00bf€‚ƒ„…†‡ˆ‰Š‹Œ‘’“”•–—˜™š›œ]|â€")


@dataclass(frozen=True)
class SourceRow:
    """One row as it was sent: the line it begins on, its cells by column, or why it cannot be read."""

    line: int
    cells: dict[str, Cell]
    problem: Fact | None = None


@dataclass(frozen=True)
class Sheet:
    columns: tuple[str, ...]
    rows: list[SourceRow]
    notes: tuple[Fact, ...] = ()
    decimal_commas: bool = field(default=False)


def read_csv(content: bytes) -> Sheet:
    text, notes = decoded(content)
    first, _, _ = text.partition("\n")
    if len(first) > MAX_HEADER_CHARACTERS:
        raise FileRefused(fact("header_too_long", length=len(first), most=MAX_COLUMNS))
    delimiter = delimiter_of(first)
    lines = csv_lines(text, delimiter)
    _, header = next(lines, (1, []))
    columns = named_columns(header)
    rows = [csv_row(line, cells, columns) for line, cells in within_rows(lines)]
    refuse_cut_off(text, rows)
    refuse_no_rows(rows)
    commas = delimiter != "," and writes_decimal_commas(rows)
    return Sheet(columns, rows, notes, commas)


def decoded(content: bytes) -> tuple[str, tuple[Fact, ...]]:
    """The text and what had to be assumed about its encoding."""
    for mark, encoding in (
        (b"\xef\xbb\xbf", "utf-8"),
        (b"\xff\xfe", "utf-16-le"),
        (b"\xfe\xff", "utf-16-be"),
    ):
        if content.startswith(mark):
            try:
                return without_nul(content[len(mark) :].decode(encoding)), ()
            except UnicodeDecodeError as error:
                damage = fact("file_encoding_damaged", encoding=encoding, byte=len(mark) + error.start)
                raise FileRefused(damage) from error
    if b"\0" in content:
        raise FileRefused(fact("file_has_nul_bytes"))
    try:
        return content.decode("utf-8"), ()
    except UnicodeDecodeError as error:
        return legacy_text(content, error)


def without_nul(text: str) -> str:
    if "\0" in text:
        raise FileRefused(fact("file_has_nul_characters"))
    return text


def legacy_text(content: bytes, error: UnicodeDecodeError) -> tuple[str, tuple[Fact, ...]]:
    line = content.count(b"\n", 0, error.start) + 1
    refusal = fact("file_encoding_not_known", line=line)
    try:
        text = content.decode(LEGACY)
    except UnicodeDecodeError as legacy_error:
        raise FileRefused(refusal) from legacy_error
    if MISREAD.search(text) or any(ord(c) < 32 and c not in "\r\n\t" for c in text):
        raise FileRefused(refusal)
    return text, (fact("read_as_windows_1252", line=line),)


def delimiter_of(first_line: str) -> str:
    unquoted = re.sub(r'"[^"]*"', "", first_line)
    counts = {delimiter: unquoted.count(delimiter) for delimiter in DELIMITERS}
    best = max(counts, key=lambda delimiter: counts[delimiter])
    rivals = [d for d, count in counts.items() if count and d != best]
    if rivals and counts[rivals[0]] == counts[best]:
        raise FileRefused(fact("header_has_two_delimiters"))
    if counts[best] >= MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=counts[best] + 1, most=MAX_COLUMNS))
    return best


def csv_lines(text: str, delimiter: str) -> Iterator[tuple[int, list[str]]]:
    """Each record with the line that it begins on; blank ones left out."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    begins = 1
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield begins, cells
            begins = reader.line_num + 1
    except csv.Error as error:
        raise FileRefused(fact("quotation_damaged", line=begins, problem=str(error))) from error


def named_columns(header: list[str]) -> tuple[str, ...]:
    """The column names; nameless ones, and the same one twice, are refused together."""
    names = [str(name).strip() for name in header]
    while names and not names[-1]:
        names.pop()
    problems = []
    if not names:
        problems.append(fact("file_without_columns"))
    if len(names) > MAX_COLUMNS:
        raise FileRefused(fact("file_has_too_many_columns", columns=len(names), most=MAX_COLUMNS))
    problems += [fact("column_without_name", number=n) for n, name in enumerate(names, 1) if not name]
    problems += [
        fact("column_named_twice", column=shown(name), times=times)
        for name, times in Counter(names).items()
        if name and times > 1
    ]
    if problems:
        raise FileRefused(*problems)
    return tuple(names)


def within_rows(lines: Iterator[tuple[int, list[str]]]) -> Iterator[tuple[int, list[str]]]:
    for count, line in enumerate(lines, 1):
        if count > MAX_ROWS:
            raise FileRefused(fact("file_has_too_many_rows", most=MAX_ROWS))
        yield line


def csv_row(line: int, cells: list[str], columns: tuple[str, ...]) -> SourceRow:
    while len(cells) > len(columns) and not cells[-1].strip():
        cells.pop()
    if len(cells) != len(columns):
        problem = fact("row_has_other_cell_count", cells=len(cells), columns=len(columns))
        return SourceRow(line, {}, problem)
    return SourceRow(line, dict(zip(columns, cells, strict=True)), too_long(cells))


def too_long(cells: list[str]) -> Fact | None:
    longest = max(map(len, cells), default=0)
    if longest <= MAX_CELL_CHARACTERS:
        return None
    return fact("row_has_long_cell", length=longest, most=MAX_CELL_CHARACTERS)


def refuse_cut_off(text: str, rows: list[SourceRow]) -> None:
    if rows and rows[-1].problem and not text.endswith(("\n", "\r")):
        raise FileRefused(fact("file_breaks_off", line=rows[-1].line))


def refuse_no_rows(rows: list[SourceRow]) -> None:
    if not rows:
        raise FileRefused(fact("file_without_rows"))


def writes_decimal_commas(rows: list[SourceRow]) -> bool:
    """Whether some number of the file can only be read with a decimal comma."""
    for row in rows:
        for cell in row.cells.values():
            if isinstance(cell, str) and "," in cell:
                text = cell.strip()
                if COMMA_DECIMAL.fullmatch(text) and not COMMA_AMBIGUOUS.fullmatch(text):
                    return True
    return False
