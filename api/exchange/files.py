"""The one door for a file: its size, what it really is, and the reader for it."""

from os import SEEK_END
from pathlib import PurePath
from typing import IO

from api.edge.body_limits import MAX_FILE_BYTES
from api.exchange.ndjson import read_ndjson
from api.exchange.reading import Sheet, read_csv
from api.exchange.refusals import FileRefused
from api.exchange.spreadsheet import read_spreadsheet, workbook_sheets
from api.exchange.tables import MESSAGE_KINDS
from api.exchange.text_files import CHUNK_BYTES, open_text
from inventory.facts import fact

ZIP, OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"
SPREADSHEET_NAMES = (".xlsx", ".xlsm")
JSON_NAMES = (".ndjson", ".jsonl", ".json")


def read_file(
    stream: IO[bytes], *, name: str = "", kind: str = "", looked_at: int | None = None, sheet: str = ""
) -> Sheet:
    """The rows of a file that can be read more than once, by what it holds rather than by what it is called.

    `sheet` picks a sheet of a workbook, else `kind` one of that name; `looked_at` bounds the rows that are read for the columns. Damage further down is found
    when the rows are read.
    """
    if stream.seek(0, SEEK_END) > MAX_FILE_BYTES:
        raise FileRefused(fact("file_too_large", most_bytes=MAX_FILE_BYTES))
    stream.seek(0)
    head = stream.read(len(OLE))
    ending = PurePath(name).suffix.lower()
    if head.startswith(ZIP):
        if ending and ending not in SPREADSHEET_NAMES:
            raise FileRefused(fact("file_is_archive", ending=ending))
        return read_spreadsheet(stream, sheet or kind)
    if head.startswith(OLE):
        raise FileRefused(fact("file_is_old_workbook"))
    if ending in SPREADSHEET_NAMES:
        raise FileRefused(fact("file_is_no_workbook", ending=ending))
    begin = first_letters(stream)
    if not begin:
        raise FileRefused(fact("file_empty"))
    text = open_text(stream)
    if ending in JSON_NAMES or begin.startswith(b"{"):
        return read_ndjson(text, nested=kind in MESSAGE_KINDS, looked_at=looked_at)
    return read_csv(text, looked_at=looked_at)


def sheet_names(stream: IO[bytes]) -> tuple[str, ...]:
    """Of a workbook; none for a file of text."""
    stream.seek(0)
    return workbook_sheets(stream) if stream.read(len(ZIP)) == ZIP else ()


def first_letters(stream: IO[bytes]) -> bytes:
    """What stands behind the mark of the encoding and white space; empty where nothing does."""
    stream.seek(0)
    while chunk := stream.read(CHUNK_BYTES):
        if found := chunk.lstrip(b"\xef\xbb\xbf \t\r\n\v\f"):
            return found[:10]
    return b""
