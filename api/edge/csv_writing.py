"""Lines of CSV that no spreadsheet takes for a formula, and that the import reads back as they were."""

import csv
import re
from collections.abc import Iterator
from datetime import date, datetime, time
from decimal import Decimal
from typing import Any

from django.http import StreamingHttpResponse

from api.edge.lengths import PLAUSIBLE

UNSEEN = (
    r"\u0000-\u0008\u000b\u000c\u000e-\u0020\u007f-\u00a0\u00ad\u034f\u061c\u115f\u1160\u180e"
    r"\u2000-\u200f\u2028-\u202f\u205f-\u206f\u3000\ufeff"
)
"""What stands before the first character that is seen, and may be dropped on the way into a sheet; without separators."""
BEGINS_FORMULA = rf"(?=[{UNSEEN}\"']*[=+\-@＝＋－＠﹢﹣−])"
BEHIND_SEPARATOR = r"(?<=[;\t|\n\r])"
"""In another country's settings the text goes on there as a cell of its own."""
TO_NEUTRALISE = re.compile(rf"\A(?='*[\t\r])|(?:\A|{BEHIND_SEPARATOR}){BEGINS_FORMULA}")
SEPARATORS = frozenset(";\t|\n\r")
NEUTRALISED = re.compile(rf"\A'(?='*[\t\r])|(?:\A|{BEHIND_SEPARATOR})'{BEGINS_FORMULA}")


class LineWriter:
    """What the csv module writes to, handing back each line instead of keeping it."""

    def write(self, text: str) -> str:
        return text


def neutralised(text: str) -> str:
    """Text that a spreadsheet shows as it is; the apostrophes are taken off again by the import.

    >>> neutralised("=1+1"), neutralised("A-01"), neutralised("see;=1+1")
    ("'=1+1", 'A-01', "see;'=1+1")
    """
    if text[:1].isalnum() and SEPARATORS.isdisjoint(text):
        return text
    return TO_NEUTRALISE.sub("'", text)


def as_written(text: str) -> str:
    """What `neutralised` was given."""
    return NEUTRALISED.sub("", text) if "'" in text else text


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
