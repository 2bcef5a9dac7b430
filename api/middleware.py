"""Around every request: an id that follows it into the answer and the log, and strict addresses."""

import contextvars
import json
import logging
import re
import uuid
from collections.abc import Callable
from datetime import UTC, datetime

from django.http import HttpRequest, HttpResponseBase
from django.middleware.common import CommonMiddleware

SAFE_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")
current_id: contextvars.ContextVar[str] = contextvars.ContextVar("request_id", default="")


class RequestIdMiddleware:
    """Takes a harmless X-Request-Id of the caller or makes one, and sends it back."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        given = request.headers.get("X-Request-Id", "")
        named = given if SAFE_ID.fullmatch(given) else uuid.uuid4().hex
        request.request_id = named  # type: ignore[attr-defined]
        marker = current_id.set(named)
        try:
            response = self.get_response(request)
        finally:
            current_id.reset(marker)
        response["X-Request-Id"] = named
        return response


class SlashMiddleware(CommonMiddleware):
    """Adds a missing slash for readers; a body is never sent on to another address."""

    def should_redirect_with_slash(self, request: HttpRequest) -> bool:
        if request.path_info.startswith("/api/") and request.method not in ("GET", "HEAD"):
            return False
        return super().should_redirect_with_slash(request)


class JsonLines(logging.Formatter):
    """One JSON object a line; line breaks inside a message are escaped, so that no entry can be forged."""

    def format(self, record: logging.LogRecord) -> str:
        entry = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname,
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": current_id.get(),
        }
        if record.exc_info:
            entry["exception"] = self.formatException(record.exc_info)
        return json.dumps(entry)
