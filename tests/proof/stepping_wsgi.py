"""The service with a clock that steps: `X-Clock: SECONDS` adds so many to it for this one request."""

import threading
from collections.abc import Callable, Iterable
from datetime import datetime, timedelta
from typing import Any

from django.utils import timezone

asked = threading.local()
right = timezone.now


def stepped() -> datetime:
    return right() + timedelta(seconds=getattr(asked, "seconds", 0))


timezone.now = stepped
# Models keep the function itself as a default, so the clock is put in before them.
from api.wsgi import application as service  # noqa: E402


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    asked.seconds = int(environ.get("HTTP_X_CLOCK", "0"))
    return service(environ, start_response)
