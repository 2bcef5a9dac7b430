"""A page acts as any other program does: it sends the request of the API, with its key, and reads the answer.

So roles, scope, verdicts, one effect for each key and every refusal are those of the API, and are tested once.
"""

import json
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.http import HttpResponseBase
from django.urls import resolve, reverse
from django.urls.base import get_script_prefix


@dataclass(frozen=True)
class Answer:
    status: int
    body: dict[str, Any]

    @property
    def is_done(self) -> bool:
        return self.status < 300


def send(request: WSGIRequest, name: str, body: dict[str, Any], key: str, **address: Any) -> Answer:
    """POST to the address of that name, as the user of the page."""
    path = "/" + reverse(name, kwargs=address).removeprefix(get_script_prefix())
    inner = _inner_request(request, path, json.dumps(body).encode(), key)
    view, args, kwargs = resolve(path)
    answer: HttpResponseBase = view(inner, *args, **kwargs)
    if callable(render := getattr(answer, "render", None)):
        answer = render()
    if answer.status_code == 403:
        raise PermissionDenied
    return Answer(answer.status_code, json.loads(answer.content))  # type: ignore[attr-defined]


def _inner_request(request: WSGIRequest, path: str, body: bytes, key: str) -> WSGIRequest:
    environ = {
        **request.environ,
        "REQUEST_METHOD": "POST",
        "PATH_INFO": path,
        "QUERY_STRING": "",
        "CONTENT_TYPE": "application/json",
        "CONTENT_LENGTH": str(len(body)),
        "HTTP_ACCEPT": "application/json",
        "HTTP_IDEMPOTENCY_KEY": key,
        "wsgi.input": BytesIO(body),
    }
    inner = WSGIRequest(environ)
    inner.user, inner.session = request.user, request.session
    inner._dont_enforce_csrf_checks = True  # type: ignore[attr-defined] # The token of the page was checked.
    return inner
