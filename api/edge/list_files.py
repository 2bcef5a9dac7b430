"""A list as a file: every row of it, read page by page while the file is sent, as CSV or as a workbook."""

import contextvars
import json
from collections.abc import Callable, Iterator
from itertools import chain
from typing import Any
from urllib.parse import urlsplit

from django.http import HttpResponseBase, QueryDict
from rest_framework import serializers
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.csv_writing import csv_file
from api.edge.pagination import MAX_LIMIT
from api.edge.workbook_writing import CONTENT_TYPE, workbook_file

Row = dict[str, Any]


class CalculatedMeanwhileError(Exception):
    """The file breaks off, which its receiver notices, rather than hold rows of two calculations."""


class FileRenderer(BaseRenderer):
    """Stands for the form in the choice of it; a refusal is written as JSON."""

    def render(self, data: Any, accepted_media_type: Any = None, renderer_context: Any = None) -> Any:
        return data if isinstance(data, bytes | str) else JSONRenderer().render(data)


class CsvRenderer(FileRenderer):
    media_type = "text/csv"
    format = "csv"


class WorkbookRenderer(FileRenderer):
    media_type = CONTENT_TYPE
    format = "xlsx"
    charset = None


RENDERERS = (CsvRenderer, WorkbookRenderer)
FORMS: dict[str, Callable[[str, list[str], Iterator[list[Any]]], HttpResponseBase]] = {
    CsvRenderer.format: csv_file,
    WorkbookRenderer.format: workbook_file,
}


def wants_file(request: Request) -> bool:
    return getattr(getattr(request, "accepted_renderer", None), "format", "") in FORMS


def read_large_pages(request: Request) -> None:
    """A file has no pages: what `limit` says is how many rows are read at a time."""
    query = request._request.GET.copy()
    query["limit"] = str(MAX_LIMIT)
    request._request.GET = query  # type: ignore[assignment]


def file_of(
    view: Any,
    response: Response,
    handler: Callable[[], Response],
    serializer: serializers.BaseSerializer[Any] | None,
) -> HttpResponseBase:
    """The page that the handler gave, and all that follow, each asked of the handler again in the caller's name."""
    request: Request = view.request
    found = contextvars.copy_context()

    def pages() -> Iterator[Row]:
        page = response.data
        as_of = page.get("as_of")
        yield from page[view.rows_member]
        while page.get("next"):
            request._request.GET = QueryDict(urlsplit(page["next"]).query)
            read_large_pages(request)
            page = found.run(handler).data
            if page.get("as_of") != as_of:
                raise CalculatedMeanwhileError(request.path)
            yield from page[view.rows_member]

    rows = pages()
    first = next(rows, None)
    columns = columns_of(serializer, first or {})
    lines = ([value_at(row, path) for path in columns] for row in chain([first] if first else [], rows))
    form = request.accepted_renderer.format
    name = request.path.strip("/").rpartition("/")[2]
    return FORMS[form](f"{name}.{form}", [".".join(path) for path in columns], lines)


def columns_of(serializer: serializers.BaseSerializer[Any] | None, row: Row) -> list[tuple[str, ...]]:
    """The members of a row; of a record inside it each member has a column of its own."""
    fields: dict[str, Any] = getattr(serializer, "fields", {})
    found: list[tuple[str, ...]] = []
    for name in fields or row:
        below = members_of(fields.get(name), row.get(name))
        found += [(name, one) for one in below] or [(name,)]
    return found


def members_of(field: Any, value: Any) -> list[str]:
    """`shown_as` of a field is the serializer of the record that it shows."""
    shown_as = getattr(field, "shown_as", None)
    if shown_as is not None:
        return list(shown_as().fields)
    if isinstance(field, serializers.Serializer):
        return list(field.fields)
    return list(value) if field is None and isinstance(value, dict) else []


def value_at(row: Row, path: tuple[str, ...]) -> Any:
    value: Any = row
    for name in path:
        value = value.get(name) if isinstance(value, dict) else None
    if isinstance(value, dict) or (
        isinstance(value, list) and any(isinstance(one, dict | list) for one in value)
    ):
        return json.dumps(value, ensure_ascii=False, default=str)
    return value
