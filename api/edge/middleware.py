"""Around every request: an id that follows it into the answer and the log, and strict addresses."""

import re
import uuid
from collections.abc import Callable

from django.http import HttpRequest, HttpResponseBase, HttpResponsePermanentRedirect
from django.middleware.common import CommonMiddleware
from django.utils.cache import patch_cache_control, patch_vary_headers

from api.edge.log_lines import current_id

PROBES = frozenset({"/healthz", "/readyz", "/metrics"})
SAFE_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")


class Middleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        return self.get_response(request)


class RequestIdMiddleware(Middleware):
    """Takes a harmless X-Request-Id of the caller or makes one, and sends it back."""

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


class PrivateResponseMiddleware(Middleware):
    """What was answered to somebody is kept by nobody else, and shown to no other site."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            patch_cache_control(response, private=True, no_store=True)
        patch_vary_headers(response, ["Authorization", "Cookie", "Accept"])
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response


class SlashMiddleware(CommonMiddleware):
    """Adds a missing slash for readers; a body is never sent on to another address. Who watches may ask by address alone."""

    def process_request(self, request: HttpRequest) -> HttpResponsePermanentRedirect | None:
        return None if request.path_info in PROBES else super().process_request(request)

    def should_redirect_with_slash(self, request: HttpRequest) -> bool:
        if request.path_info.startswith("/api/") and request.method not in ("GET", "HEAD"):
            return False
        return super().should_redirect_with_slash(request)
