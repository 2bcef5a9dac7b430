"""Rows as a workbook of one sheet."""

from collections.abc import Iterator
from io import BytesIO
from typing import Any

import openpyxl
from django.http import HttpResponse

from api.edge.csv_writing import neutralised

CONTENT_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"


def workbook_file(name: str, header: list[str], rows: Iterator[list[Any]]) -> HttpResponse:
    workbook = openpyxl.Workbook(write_only=True)
    sheet = workbook.create_sheet()
    sheet.append(header)
    for row in rows:
        sheet.append([neutralised(one) if isinstance(one, str) else one for one in row])
    written = BytesIO()
    workbook.save(written)
    return HttpResponse(
        written.getvalue(),
        content_type=CONTENT_TYPE,
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )
