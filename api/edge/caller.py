"""The current caller, for code far from the request such as the change log."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

SERVICE_NAME = "the service"


class Caller:
    """The session's user until the view has read a token."""

    def __init__(self, request: HttpRequest | Request) -> None:
        self.request = request
        self.remembered: Any = None

    def use_request(self, request: Request) -> None:
        self.request, self.remembered = request, None

    @property
    def name(self) -> str:
        token = getattr(self.request, "auth", None)
        user: Any = self.request.user
        return str(token.name if token is not None else user.get_username() or "nobody")


_present: ContextVar[Caller | None] = ContextVar("caller", default=None)
_acting: ContextVar[str] = ContextVar("acting", default=SERVICE_NAME)


def current_caller() -> Caller | None:
    return _present.get()


def author_name() -> str:
    """The name to write beside what is done now."""
    caller = current_caller()
    return (_acting.get() if caller is None else caller.name)[:150]


@contextmanager
def acting_as(name: str) -> Iterator[None]:
    """For code outside a request, such as a command."""
    marker = _acting.set(name)
    try:
        yield
    finally:
        _acting.reset(marker)


@contextmanager
def caller_set(caller: Caller) -> Iterator[None]:
    marker = _present.set(caller)
    try:
        yield
    finally:
        _present.reset(marker)
