"""Addresses of this service as people type them, on paper, in mails and in what commands print."""

from django.conf import settings
from django.http import HttpRequest


def public_address(path: str, request: HttpRequest | None = None) -> str:
    """Below PUBLIC_URL, else below the host of the request; without either the path alone."""
    if settings.PUBLIC_URL or request is None:
        return f"{settings.PUBLIC_URL or ''}{path}"
    return request.build_absolute_uri(path)
