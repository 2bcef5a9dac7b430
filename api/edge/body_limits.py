"""How large a request body may be, and the refusal of a larger one before a byte of it is read."""

from django.conf import settings
from django.http import HttpRequest, HttpResponseBase

from api.edge.errors import PayloadTooLarge, problem_response
from api.edge.middleware import Middleware

FILES_AT = ("/api/v1/imports/", "/imports/")
MAX_FILE_BYTES = 300_000_000
"""A million rows of a kind with many columns; a file goes from disk to database in parts, and nobody holds the whole of it."""
FORM_BYTES = 100_000
"""For the borders and headers of a form around its file."""


def largest_body(path: str) -> int:
    """Files of rows may be larger than anything else."""
    plain = int(settings.DATA_UPLOAD_MAX_MEMORY_SIZE)
    return max(plain, MAX_FILE_BYTES + FORM_BYTES) if path.startswith(FILES_AT) else plain


def too_large(most_bytes: int) -> PayloadTooLarge:
    return PayloadTooLarge(f"The body is larger than {most_bytes} bytes, the most that is read here.")


class BodyLimitMiddleware(Middleware):
    """A body that says it is too large is refused."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        length, most = request.META.get("CONTENT_LENGTH") or "0", largest_body(request.path_info)
        if not length.isascii() or not length.isdigit() or int(length[:20]) > most:
            return problem_response(too_large(most), request)
        return self.get_response(request)
