"""Lines of CSV that no spreadsheet takes for a formula, and that the import reads back as they were."""

import csv
import re
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.http import StreamingHttpResponse

from api.edge.lengths import PLAUSIBLE

NEUTRALISED = re.compile(r"'+[=+\-@\t\r＝＋－＠]")
LOOKS_LIKE_FORMULA = re.compile(r"[=+\-@\t\r＝＋－＠]")


class LineWriter:
    """What the csv module writes to, handing back each line instead of keeping it."""

    def write(self, text: str) -> str:
        return text


def neutralised(text: str) -> str:
    """Text that a spreadsheet shows as it is; the apostrophe in front is taken off again by the import.

    >>> neutralised("=1+1"), neutralised("A-01")
    ("'=1+1", 'A-01')
    """
    return f"'{text}" if LOOKS_LIKE_FORMULA.match(text) or NEUTRALISED.match(text) else text


def cell(value: Any, name: str = "") -> str:
    """A value as text; numbers stay numbers, a length that would raise a question says its unit."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Decimal):
        plain = f"{value:f}".rstrip("0").rstrip(".") if "." in f"{value:f}" else f"{value:f}"
        doubtful = name in PLAUSIBLE and PLAUSIBLE[name].question(value)
        return f"{plain} mm" if doubtful else plain
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, time):
        return value.isoformat("minutes" if not value.second else "auto")
    if isinstance(value, list | tuple):
        return ";".join(neutralised(str(part)) for part in value)
    return str(value) if isinstance(value, int | float) else neutralised(str(value))


def csv_file(name: str, header: list[str], rows: Iterator[list[Any]]) -> StreamingHttpResponse:
    return StreamingHttpResponse(
        csv_text(header, rows),
        content_type="text/csv; charset=utf-8",
        headers={"Content-Disposition": f'attachment; filename="{name}"'},
    )


def csv_text(header: list[str], rows: Iterator[list[Any]]) -> Iterator[str]:
    """Lines of CSV, one at a time."""
    writer: Any = csv.writer(LineWriter(), lineterminator="\r\n")
    yield writer.writerow(header)
    for row in rows:
        yield writer.writerow([cell(value, name) for name, value in zip(header, row, strict=True)])
