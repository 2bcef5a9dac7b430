"""A line in the log for a request slower than `SLOW_REQUEST_MS`: what it read and where its time went.

It names the pattern of the address and the role, and statements without their values: no person, no record, no token.
"""

import logging
import re
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from typing import Any

from django.conf import settings
from django.core.exceptions import MiddlewareNotUsed
from django.db import DatabaseError, connections
from django.http import HttpRequest, HttpResponseBase

from api.edge.auth import roles_of
from api.edge.middleware import Middleware

logger = logging.getLogger(__name__)

LONGEST_SHAPE = 600
TEXTS = re.compile(r"'(?:[^']|'')*'")
NAMED_PART = re.compile(r"\(\?P<(\w+)>[^/]*\)")
VALUES = re.compile(r"%s(?:, %s)+")


class Meter:
    """What one request asked of the databases."""

    def __init__(self) -> None:
        self.began = time.perf_counter()
        self.queries = self.answered_bytes = 0
        self.database_seconds = self.slowest_seconds = 0.0
        self.slowest = ""

    @contextmanager
    def reading(self) -> Iterator[None]:
        with ExitStack() as stack:
            for alias in connections:
                stack.enter_context(connections[alias].execute_wrapper(self.through))
            yield

    def through(self, execute: Callable[..., Any], sql: str, params: Any, many: bool, context: Any) -> Any:
        began = time.perf_counter()
        try:
            return execute(sql, params, many, context)
        finally:
            took = time.perf_counter() - began
            self.queries += 1
            self.database_seconds += took
            if took > self.slowest_seconds:
                self.slowest, self.slowest_seconds = sql, took


class SlowRequestMiddleware(Middleware):
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        if not settings.SLOW_REQUEST_MS:
            raise MiddlewareNotUsed("SLOW_REQUEST_MS is 0.")
        super().__init__(get_response)

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        meter = Meter()
        with meter.reading():
            response = self.get_response(request)
        if response.streaming:
            rows = iter(response.streaming_content)  # type: ignore[attr-defined]
            response.streaming_content = streamed(rows, meter, request, response)  # type: ignore[attr-defined]
        else:
            meter.answered_bytes = len(response.content)  # type: ignore[attr-defined]
            note_if_slow(meter, request, response)
        return response


def streamed(
    rows: Iterator[bytes], meter: Meter, request: HttpRequest, response: HttpResponseBase
) -> Iterator[bytes]:
    """A file is read from the database while it is sent: the request is over with its last row."""
    while True:
        with meter.reading():
            piece = next(rows, None)
        if piece is None:
            break
        meter.answered_bytes += len(piece)
        yield piece
    note_if_slow(meter, request, response)


def note_if_slow(meter: Meter, request: HttpRequest, response: HttpResponseBase) -> None:
    seconds = time.perf_counter() - meter.began
    if seconds * 1000 < settings.SLOW_REQUEST_MS:
        return
    match = request.resolver_match
    members = {
        "method": request.method,
        "address": NAMED_PART.sub(r"<\1>", "/" + match.route.rstrip("$")) if match else "no such address",
        "role": role_in(request),
        "status": response.status_code,
        "seconds": round(seconds, 3),
        "queries": meter.queries,
        "database_seconds": round(meter.database_seconds, 3),
        "rows": rows_in(response),
        "bytes": meter.answered_bytes,
        "slowest_seconds": round(meter.slowest_seconds, 3),
        "slowest": shape_of(meter.slowest),
        "request_id": getattr(request, "request_id", ""),
    }
    line = " ".join(f"{name}={value}" for name, value in members.items())
    logger.warning("Slow request: %s", line, extra={"members": members})


def role_in(request: HttpRequest) -> str:
    try:
        return "+".join(sorted(roles_of(request))) or "none"
    except (AttributeError, DatabaseError):
        return "not known"


def rows_in(response: HttpResponseBase) -> int | None:
    """Of a list; None for another answer."""
    data = getattr(response, "data", None)
    listed = data.get("results") if isinstance(data, dict) else data
    return len(listed) if isinstance(listed, list) else None


def shape_of(sql: str) -> str:
    """The statement without values, on one line; of a query what it reads from, and not its columns."""
    text = VALUES.sub("%s, …", TEXTS.sub("'…'", " ".join(str(sql).split())))
    if text.startswith("SELECT ") and (source := source_at(text)):
        text = f"SELECT …{text[source:]}"
    return text if len(text) <= LONGEST_SHAPE else text[:LONGEST_SHAPE] + "…"


def source_at(text: str) -> int:
    """Where the outermost FROM stands; 0 where there is none."""
    depth = 0
    for found in re.finditer(r"[()]| FROM ", text):
        if found.group() == " FROM " and not depth:
            return found.start()
        depth += {"(": 1, ")": -1}.get(found.group(), 0)
    return 0
