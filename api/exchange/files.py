"""The one door for a file: its size, what it really is, and the reader for it."""

from pathlib import PurePath
from typing import IO

from api.edge.body_limits import MAX_FILE_BYTES
from api.exchange.ndjson import read_ndjson
from api.exchange.reading import OLE, ZIP, Sheet, read_csv
from api.exchange.refusals import FileRefused
from api.exchange.spreadsheet import read_spreadsheet
from api.exchange.tables import MESSAGE_KINDS
from inventory.facts import fact

SPREADSHEET_NAMES = (".xlsx", ".xlsm")
JSON_NAMES = (".ndjson", ".jsonl", ".json")


def read_file(stream: IO[bytes], *, name: str = "", kind: str = "") -> Sheet:
    """The rows of a file, by what it holds rather than by what it is called; `kind` picks a sheet of that name."""
    content = stream.read(MAX_FILE_BYTES + 1)
    if len(content) > MAX_FILE_BYTES:
        raise FileRefused(fact("file_too_large", most_bytes=MAX_FILE_BYTES))
    ending = PurePath(name).suffix.lower()
    if content.startswith(ZIP):
        if ending and ending not in SPREADSHEET_NAMES:
            raise FileRefused(fact("file_is_archive", ending=ending))
        return read_spreadsheet(content, kind)
    if content.startswith(OLE):
        raise FileRefused(fact("file_is_old_workbook"))
    if ending in SPREADSHEET_NAMES:
        raise FileRefused(fact("file_is_no_workbook", ending=ending))
    if not content.strip():
        raise FileRefused(fact("file_empty"))
    if ending in JSON_NAMES or content.lstrip(b"\xef\xbb\xbf \t\r\n").startswith(b"{"):
        return read_ndjson(content, nested=kind in MESSAGE_KINDS)
    return read_csv(content)
