"""Around every request: an id that follows it into the answer and the log, and strict addresses."""

import re
import uuid
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase
from django.middleware.common import CommonMiddleware
from django.utils.cache import patch_cache_control, patch_vary_headers

from api.edge.errors import PayloadTooLarge, problem_response
from api.edge.log_lines import current_id
from api.exchange.reading import MAX_BYTES

FILES_AT = "/api/v1/imports/"
ENVELOPE_BYTES = 100_000
"""For the borders and headers of a form around its file."""
SAFE_ID = re.compile(r"[A-Za-z0-9._-]{1,64}")


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


class BodyLimitMiddleware:
    """A body that says it is too large is refused before a byte of it is read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if not length.isascii() or not length.isdigit() or int(length[:20]) > largest_body(request.path_info):
            return problem_response(PayloadTooLarge(), request)
        return self.get_response(request)


def largest_body(path: str) -> int:
    """Files of rows may be larger than anything else."""
    plain = int(settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
    return max(plain, MAX_BYTES + ENVELOPE_BYTES) if path.startswith(FILES_AT) else plain


class PrivateAnswers:
    """What was answered to somebody is kept by nobody else, and shown to no other site."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        response = self.get_response(request)
        if not response.has_header("Cache-Control"):
            patch_cache_control(response, private=True, no_store=True)
        patch_vary_headers(response, ["Authorization", "Cookie", "Accept"])
        response.headers.setdefault("Cross-Origin-Resource-Policy", "same-origin")
        return response


class SlashMiddleware(CommonMiddleware):
    """Adds a missing slash for readers; a body is never sent on to another address."""

    def should_redirect_with_slash(self, request: HttpRequest) -> bool:
        if request.path_info.startswith("/api/") and request.method not in ("GET", "HEAD"):
            return False
        return super().should_redirect_with_slash(request)
