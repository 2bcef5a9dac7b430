"""A page acts and reads as any other program does: it sends the request of the API, as its user, and takes the answer.

So roles, scope, filters, verdicts, one effect for each key and every refusal are those of the API, and are tested once.
"""

import json
import time
from collections.abc import Mapping
from dataclasses import dataclass
from io import BytesIO
from typing import Any
from urllib.parse import unquote_to_bytes

from django.core.exceptions import PermissionDenied
from django.core.handlers.wsgi import WSGIRequest
from django.db.models import QuerySet
from django.urls import ResolverMatch, resolve, reverse
from django.urls.base import get_script_prefix
from django.utils.http import urlencode

from api.edge.errors import Unavailable
from api.edge.idempotency import KeyRunning

PAUSE_SECONDS = 0.1
MOST_PAUSES = 50
"""Who presses twice waits for the first answer as long as a slow movement takes."""


@dataclass(frozen=True)
class Answer:
    status: int
    body: dict[str, Any]
    etag: str = ""

    @property
    def is_done(self) -> bool:
        return self.status < 300


def send(request: WSGIRequest, name: str, body: dict[str, Any], key: str, /, **address: Any) -> Answer:
    """POST to the address of that name. A form that is sent while its first sending runs gets the answer of that one."""
    text = json.dumps(body).encode()
    for _pause in range(MOST_PAUSES):
        answer = _answer(request, name, address, REQUEST_METHOD="POST", HTTP_IDEMPOTENCY_KEY=key, text=text)
        if answer.body.get("code") != KeyRunning.default_code:
            break
        time.sleep(PAUSE_SECONDS)
    return answer


def change(
    request: WSGIRequest,
    name: str,
    body: dict[str, Any],
    etag: str,
    /,
    *,
    method: str = "PATCH",
    **address: Any,
) -> Answer:
    """PATCH or PUT of the record that had this tag when its form was shown; refused where somebody changed it since."""
    text = json.dumps(body).encode()
    return _answer(request, name, address, REQUEST_METHOD=method, HTTP_IF_MATCH=etag, text=text)


def read(request: WSGIRequest, name: str, query: Mapping[str, Any], /, **address: Any) -> Answer:
    """GET of the address of that name."""
    return _answer(request, name, address, REQUEST_METHOD="GET", QUERY_STRING=urlencode(query))


def listed_rows(request: WSGIRequest, name: str, query: Mapping[str, Any]) -> "QuerySet[Any]":
    """All rows that GET of the list of that name would show page by page, for a page that counts them."""
    inner, match = _inner(request, name, {}, REQUEST_METHOD="GET", QUERY_STRING=urlencode(query))
    view: Any = match.func
    one = view.cls(**view.initkwargs)
    one.setup(inner)
    one.action_map, one.format_kwarg = view.actions, None
    one.request = one.initialize_request(inner)
    one.initial(one.request)
    rows: QuerySet[Any] = one.filter_queryset(one.get_queryset()).rows
    return rows.order_by()


def _answer(
    request: WSGIRequest, name: str, address: Mapping[str, Any], /, *, text: bytes = b"", **environ: Any
) -> Answer:
    inner, match = _inner(request, name, address, text=text, **environ)
    answer: Any = match.func(inner, *match.args, **match.kwargs)
    if callable(render := getattr(answer, "render", None)):
        answer = render()
    if answer.status_code == 403:
        raise PermissionDenied
    if answer.status_code == Unavailable.status_code:
        # The page says so, with what was typed; sent again, its key has one effect.
        raise Unavailable(answer.data["detail"])
    return Answer(answer.status_code, json.loads(answer.content), answer.headers.get("ETag", ""))


def _inner(
    request: WSGIRequest, name: str, address: Mapping[str, Any], /, *, text: bytes = b"", **environ: Any
) -> tuple[WSGIRequest, ResolverMatch]:
    """The request of the API, and what answers it; a server gives both the path without its escapes."""
    path = unquote_to_bytes("/" + reverse(name, kwargs=dict(address)).removeprefix(get_script_prefix()))
    headers = {
        "PATH_INFO": path.decode("latin-1"),
        "QUERY_STRING": "",
        "CONTENT_TYPE": "application/json",
        "CONTENT_LENGTH": str(len(text)),
        "HTTP_ACCEPT": "application/json",
        "wsgi.input": BytesIO(text),
    }
    inner = WSGIRequest({**request.environ, **headers, **environ})
    inner.user, inner.session = request.user, request.session
    inner._dont_enforce_csrf_checks = True  # type: ignore[attr-defined] # The token of the page was checked.
    return inner, resolve(path.decode())
