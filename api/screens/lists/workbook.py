"""Rows as a workbook of one sheet."""

from collections.abc import Iterator
from datetime import datetime
from tempfile import TemporaryFile
from typing import Any

import openpyxl
from django.http import FileResponse

from api.edge.csv_writing import neutralised

CONTENT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
MOST_ROWS = 1_048_575
"""Below the header. Source: ECMA-376-1:2016, 18.3.1.73 row: r is at most 1048576 in the workbooks in use; from memory."""


class SheetTooLong(Exception):  # noqa: N818
    """The rows do not go on one sheet."""


def workbook_file(name: str, header: list[str], rows: Iterator[list[Any]]) -> FileResponse:
    """Written row by row to a file: the memory it takes does not grow with the rows."""
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet()
    sheet.freeze_panes = "A2"
    sheet.append(header)
    for number, row in enumerate(rows, start=1):
        if number > MOST_ROWS:
            sheet.close()
            raise SheetTooLong
        sheet.append([_cell(one) for one in row])
    written = TemporaryFile()  # noqa: SIM115 - closed with the answer
    workbook.save(written)
    written.seek(0)
    return FileResponse(written, as_attachment=True, filename=name, content_type=CONTENT_TYPE)


def _cell(value: Any) -> Any:
    """A sheet knows no zones: the heading of the column says it."""
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    return neutralised(value) if isinstance(value, str) else value
