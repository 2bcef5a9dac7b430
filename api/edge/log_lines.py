"""Lines of the log: one entry a line, with the id of its request; nothing that a caller sends forges another or shows a secret."""

import contextvars
import json
import logging
import re
from collections.abc import Mapping
from datetime import UTC, datetime
from typing import Any

from django.core.exceptions import BadRequest, PermissionDenied, SuspiciousOperation
from django.http import Http404

REFUSALS = (SuspiciousOperation, PermissionDenied, BadRequest, Http404)
current_id: contextvars.ContextVar[str] = contextvars.ContextVar("request_id", default="")
ID_OF_ANSWER = "{x-request-id}o"
"""What the server calls this header of the answer in the line that it writes."""
SECRET = re.compile(r"spares_[A-Za-z0-9_-]{6,}|whsec_[A-Za-z0-9+/=]{6,}|/account/reset/\S{6,}")
CONTROL = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069]")


def one_line(text: str) -> str:
    """Nothing that ends a line or turns it around, so that no entry can be forged; no secret."""
    return CONTROL.sub(lambda found: f"\\u{ord(found.group()):04x}", without_secrets(text))


def first_line(error: BaseException) -> str:
    """What a driver says first; its further lines are guesses and hints."""
    return (str(error).splitlines() or [type(error).__name__])[0]


def unless_away(error: BaseException) -> BaseException | None:
    """The error with its place in the code, which helps nobody while the server of PostgreSQL is away: it has answered with no state."""
    is_away = getattr(error.__cause__, "sqlstate", "answered") is None
    return None if is_away else error


def without_secrets(text: str) -> str:
    return SECRET.sub(lambda found: found.group()[:12] + "…", text)


def request_id(record: logging.LogRecord) -> str:
    """Of the request that the line is about; Django and the server write lines of it when it is over."""
    of_django = getattr(getattr(record, "request", None), "request_id", "")
    answer = record.args if isinstance(record.args, Mapping) else {}
    return current_id.get() or of_django or str(answer.get(ID_OF_ANSWER, ""))


class RefusalsInOneLine(logging.Filter):
    """What a caller did wrong is told in one line: where in the code it was refused helps nobody."""

    def filter(self, record: logging.LogRecord) -> bool:
        if record.exc_info and isinstance(record.exc_info[1], REFUSALS):
            record.exc_info = record.exc_text = None
        return True


class TextLines(logging.Formatter):
    """One line an entry, with the id of its request at the end; the lines of an exception follow, each set in."""

    def formatMessage(self, record: logging.LogRecord) -> str:  # noqa: N802 - the name is the base class's
        record.message = one_line(record.message)
        named = request_id(record)
        return super().formatMessage(record) + (f" [{one_line(named)}]" if named else "")

    def formatException(self, ei: Any) -> str:  # noqa: N802
        return indented(super().formatException(ei))


def indented(text: str) -> str:
    return "\n".join("  | " + one_line(line) for line in text.splitlines())


class JsonLines(logging.Formatter):
    """One JSON object a line; line breaks inside a message are escaped, so that no entry can be forged."""

    def format(self, record: logging.LogRecord) -> str:
        entry: dict[str, Any] = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname,
            "logger": record.name,
            "message": without_secrets(record.getMessage()),
            "request_id": request_id(record),
        }
        members: Mapping[str, Any] = getattr(record, "members", {})
        entry |= {
            name: without_secrets(one) if isinstance(one, str) else one for name, one in members.items()
        }
        if record.exc_info:
            entry["exception"] = without_secrets(self.formatException(record.exc_info))
        return json.dumps(entry)
