"""Lists page by page: keyset cursors over a total order, the same order on both databases."""

import binascii
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from itertools import islice
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.core.signing import BadSignature, Signer
from django.db import connections
from django.db.models import F, QuerySet
from rest_framework.pagination import BasePagination
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.errors import parameter_errors
from api.edge.list_parts import ListPart, OrderKey, most_walked, order_keys, parts_of, rows_of, walk
from api.edge.narrowing import Chosen
from api.edge.parsing import nearest

DEFAULT_LIMIT = 50
MAX_LIMIT = 500
MAX_ORDERING_FIELDS = 5
MAX_CURSOR_LENGTH = 8_000
STOPPED_AFTER = (
    "Rows that were read for this page where too few of them pass the filters to fill it: it may be short or even empty, "
    "and `next` goes on behind them."
)
OF_A_WALK = "@"
"""In place of the order: the list has but one."""
BAD_CURSOR = "This is not a cursor of this list; begin again without it."
TYPES: dict[str, Callable[[str], Any]] = {
    "decimal": Decimal,
    "datetime": datetime.fromisoformat,
    "date": date.fromisoformat,
    "time": time.fromisoformat,
    "uuid": UUID,
}


@dataclass(frozen=True)
class Cursor:
    ordering: str
    backward: bool
    values: list[Any]


@dataclass(frozen=True)
class Found:
    """The rows of a page, one more where others follow."""

    rows: list[Any]
    last: Any = None
    """The last row that was read for a page that is short, whether it passes the filters or not."""
    stopped_after: int | None = None


def encode(cursor: Cursor) -> str:
    packed = [cursor.ordering, cursor.backward, [pack(value) for value in cursor.values]]
    return Signer(salt="api.cursor").sign_object(packed, compress=False)


def decode(text: str) -> Cursor:
    """The cursor in a query parameter; its signature keeps invented ones away from the database."""
    try:
        if len(text) > MAX_CURSOR_LENGTH:
            raise ValueError(text[:20])
        ordering, backward, values = Signer(salt="api.cursor").unsign_object(text)
        return Cursor(ordering, backward, [unpack(value) for value in values])
    except (BadSignature, ValueError, TypeError, KeyError, binascii.Error) as error:
        raise parameter_errors({"cursor": BAD_CURSOR}) from error


def pack(value: Any) -> Any:
    if isinstance(value, Decimal | UUID):
        return [type(value).__name__.lower(), str(value)]
    if isinstance(value, date):
        return ["datetime" if isinstance(value, datetime) else "date", value.isoformat()]
    if isinstance(value, time):
        return ["time", value.isoformat()]
    return value


def unpack(value: Any) -> Any:
    return TYPES[value[0]](value[1]) if isinstance(value, list) else value


def read_limit(request: Request) -> int:
    given = request.query_params.get("limit", str(DEFAULT_LIMIT))
    if not (given.isascii() and given.isdigit() and len(given) <= 3 and 1 <= int(given) <= MAX_LIMIT):
        raise parameter_errors({"limit": f"A whole number from 1 to {MAX_LIMIT} is expected."})
    return int(given)


def ordering_paths(view: Any) -> dict[str, str]:
    """Public names and the model paths they stand for."""
    fields = getattr(view, "ordering_fields", None) or {}
    return dict(fields) if isinstance(fields, Mapping) else {name: name for name in fields}


def read_ordering(request: Request, view: Any) -> list[tuple[str, bool]]:
    """(model path, descending) of each requested column, or of the view's own order."""
    paths = ordering_paths(view)
    given = request.query_params.get("ordering")
    if given is None:
        own = getattr(view, "ordering", None) or ()
        own = (own,) if isinstance(own, str) else own
        return [(name.removeprefix("-"), name.startswith("-")) for name in own]
    names = given.split(",")
    if len(names) > MAX_ORDERING_FIELDS:
        raise parameter_errors({"ordering": f"At most {MAX_ORDERING_FIELDS} fields can order a list."})
    unknown = [name for name in names if name.removeprefix("-") not in paths]
    if unknown:
        allowed = f"It can be ordered by {', '.join(paths)}." if paths else "Its order is fixed."
        near = nearest(unknown[0].removeprefix("-"), paths)
        raise parameter_errors({"ordering": f'"{unknown[0][:80]}" orders nothing here.{near} {allowed}'})
    return [(paths[name.removeprefix("-")], name.startswith("-")) for name in names]


def sorts_groups(rows: QuerySet[Any], keys: Sequence[OrderKey]) -> bool:
    """PostgreSQL sorts all rows that refer to the first record before it gives a page of them, although an index has their order."""
    is_of_record = "__" in keys[0].path and not any(key.beside for key in keys)
    return is_of_record and connections[rows.db].vendor == "postgresql"


class KeysetPagination(BasePagination):
    """`next`, `previous`, `results`, and the same links as a header. Also takes a plain sequence."""

    stopped_after: int | None = None

    def paginate_queryset(self, queryset: Any, request: Request, view: Any = None) -> list[Any]:
        self.request, self.limit = request, read_limit(request)
        self.next: str | None = None
        self.previous: str | None = None
        text = request.query_params.get("cursor")
        cursor = None if text is None else decode(text)
        if isinstance(queryset, QuerySet):
            queryset = Chosen(queryset, queryset)
        if isinstance(queryset, Chosen):
            return self.page(queryset, cursor, read_ordering(request, view))
        return self.slice(queryset, cursor)

    def page(self, chosen: Chosen, cursor: Cursor | None, ordering: Sequence[tuple[str, bool]]) -> list[Any]:
        keys = order_keys(chosen.rows, ordering)
        name = ",".join(f"{'-' * key.descending}{key.path}" for key in keys)
        if cursor and (cursor.ordering != name or len(cursor.values) != len(keys)):
            raise parameter_errors({"cursor": BAD_CURSOR})
        backward = bool(cursor and cursor.backward)
        values = {f"_key_{at}": F(key.path) for at, key in enumerate(keys)}
        chosen = chosen.annotated(**values)
        falls_and_rises = any(key.descending != keys[0].descending for key in keys)
        in_groups = falls_and_rises or sorts_groups(chosen.rows, keys)
        by_groups = in_groups and "ordering" in self.request.query_params and not chosen.has_keys
        is_filtered = not set(self.request.query_params) <= {"limit", "cursor", "ordering", "format"}
        sorts = chosen.has_keys or (is_filtered and connections[chosen.rows.db].vendor == "sqlite")
        whole = chosen.whole if chosen.is_walked else chosen.rows
        parts = parts_of(whole, keys, cursor.values if cursor else None, backward, by_groups, sorts)
        found = self.found(chosen, parts)
        more, rows = len(found.rows) > self.limit, found.rows[: self.limit]
        if backward:
            rows.reverse()

        def link(row: Any, back: bool) -> str:
            return self.link(Cursor(name, back, [getattr(row, key) for key in values]))

        self.link_ends(rows, link, cursor, more=more)
        if found.last is not None and not more:
            self.link_walk(rows, link, cursor, found)
        return rows

    def found(self, chosen: Chosen, parts: Sequence[ListPart]) -> Found:
        """Where filters named the rows or picked them out, keys are found first."""
        by_keys = chosen.has_keys or chosen.has_many
        rows: list[Any] = []
        last, read, reach = None, 0, most_walked(self.limit)
        is_stopped = False
        for part in parts:
            wanted = self.limit + 1 - len(rows)
            if not wanted or is_stopped:
                break
            if chosen.is_walked:
                walked = walk(chosen, replace(part, only_keys=True), wanted, max(1, reach - read))
                rows, last, read = [*rows, *walked.keys], walked.last or last, read + walked.read
                is_stopped = walked.is_stopped
            else:
                rows += replace(part, only_keys=by_keys).read(wanted)
        return Found(rows_of(chosen.shown, rows) if by_keys else rows, last, read if is_stopped else None)

    def link_ends(
        self, rows: list[Any], link: Callable[[Any, bool], str], cursor: Cursor | None, *, more: bool
    ) -> None:
        backward = bool(cursor and cursor.backward)
        if rows and (more or backward):
            self.next = link(rows[-1], False)
        if rows and (more if backward else cursor):
            self.previous = link(rows[0], True)

    def link_walk(
        self, rows: list[Any], link: Callable[[Any, bool], str], cursor: Cursor | None, found: Found
    ) -> None:
        """Where a walk ended before its page was full, it goes on behind the last row that was read; a page without a row has both its links from there."""
        backward = bool(cursor and cursor.backward)
        self.stopped_after = found.stopped_after
        if found.stopped_after or (backward and not rows):
            ahead = link(found.last, backward)
            self.next, self.previous = (self.next, ahead) if backward else (ahead, self.previous)
        if not rows and cursor:
            behind = link(found.last, not backward)
            self.next, self.previous = (behind, self.previous) if backward else (self.next, behind)

    def paginate_walk(
        self,
        walk: Callable[[list[Any] | None, bool], Iterator[Any]],
        request: Request,
        key: Callable[[Any], Any],
    ) -> list[Any]:
        """Of a list that is worked out as it is walked: `walk` gives it from behind a key on, or backward from before it."""
        self.request, self.limit = request, read_limit(request)
        self.next = self.previous = None
        text = request.query_params.get("cursor")
        cursor = None if text is None else decode(text)
        if cursor and cursor.ordering != OF_A_WALK:
            raise parameter_errors({"cursor": BAD_CURSOR})
        backward = bool(cursor and cursor.backward)
        rows = list(islice(walk(cursor.values if cursor else None, backward), self.limit + 1))
        more, rows = len(rows) > self.limit, rows[: self.limit]
        if backward:
            rows.reverse()

        def link(row: Any, back: bool) -> str:
            return self.link(Cursor(OF_A_WALK, back, list(key(row))))

        self.link_ends(rows, link, cursor, more=more)
        return rows

    def slice(self, rows: Sequence[Any], cursor: Cursor | None) -> list[Any]:
        if cursor and (cursor.ordering != "#" or len(cursor.values) != 1):
            raise parameter_errors({"cursor": BAD_CURSOR})
        start = int(cursor.values[0]) if cursor else 0
        if start + self.limit < len(rows):
            self.next = self.link(Cursor("#", False, [start + self.limit]))
        if start > 0:
            self.previous = self.link(Cursor("#", False, [max(0, start - self.limit)]))
        return list(rows[start : start + self.limit])

    def link(self, cursor: Cursor | None) -> str:
        kept = [(name, value) for name, value in self.request.query_params.items() if name != "cursor"]
        query = urlencode(kept + ([("cursor", encode(cursor))] if cursor else []))
        return self.request.build_absolute_uri(f"{self.request.path}?{query}".rstrip("?"))

    def get_paginated_response(self, data: Any) -> Response:
        relations = {"next": self.next, "prev": self.previous, "first": self.link(None)}
        header = ", ".join(f'<{address}>; rel="{name}"' for name, address in relations.items() if address)
        body = {
            "next": self.next,
            "previous": self.previous,
            "stopped_after": self.stopped_after,
            "results": data,
        }
        return Response(body, headers={"Link": header})

    def get_paginated_response_schema(self, schema: dict[str, Any]) -> dict[str, Any]:
        address = {"type": ["string", "null"], "format": "uri"}
        stopped_after = {"type": ["integer", "null"], "description": STOPPED_AFTER}
        properties = {"next": address, "previous": address, "stopped_after": stopped_after, "results": schema}
        return {"type": "object", "required": list(properties), "properties": properties}

    def get_schema_operation_parameters(self, view: Any) -> list[dict[str, Any]]:
        limit = {"type": "integer", "minimum": 1, "maximum": MAX_LIMIT, "default": DEFAULT_LIMIT}
        parameters = [
            query_parameter("limit", limit, "How many results a page holds."),
            query_parameter("cursor", {"type": "string"}, "Where the page begins; taken from a link."),
        ]
        if paths := ordering_paths(view):
            text = f"Comma list of {', '.join(paths)}; a minus sign before a name turns its order."
            parameters.append(query_parameter("ordering", {"type": "string"}, text))
        return parameters


def query_parameter(name: str, schema: dict[str, Any], text: str) -> dict[str, Any]:
    return {"name": name, "in": "query", "required": False, "description": text, "schema": schema}
