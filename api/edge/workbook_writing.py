"""Rows as a workbook, in which no text is taken for a formula."""

import tempfile
from collections.abc import Iterator
from datetime import datetime
from typing import Any

import openpyxl
from django.http import FileResponse

from api.edge.csv_writing import neutralised

CONTENT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
ROWS_OF_A_SHEET = 1_000_000
KEPT_IN_MEMORY = 1_000_000


def workbook_file(name: str, header: list[str], rows: Iterator[list[Any]]) -> FileResponse:
    """Written row by row to the disk, and sent from there."""
    workbook = openpyxl.Workbook(write_only=True)
    sheet: Any = None
    for at, row in enumerate(rows):
        if at % ROWS_OF_A_SHEET == 0:
            sheet = new_sheet(workbook, header)
        sheet.append([shown(one) for one in row])
    if sheet is None:
        new_sheet(workbook, header)
    written = tempfile.SpooledTemporaryFile(KEPT_IN_MEMORY)  # noqa: SIM115 - The response closes it.
    workbook.save(written)
    written.seek(0)
    return FileResponse(written, as_attachment=True, filename=name, content_type=CONTENT_TYPE)


def new_sheet(workbook: Any, header: list[str]) -> Any:
    sheet = workbook.create_sheet()
    sheet.freeze_panes = "A2"
    sheet.append(header)
    return sheet


def shown(value: Any) -> Any:
    """A sheet knows no zones: the heading of the column says it."""
    if isinstance(value, datetime):
        return value.replace(tzinfo=None)
    if isinstance(value, list | tuple):
        return ";".join(neutralised(str(part)) for part in value)
    return neutralised(value) if isinstance(value, str) else value
