"""The current caller, for code far from the request such as the change log."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

THE_SERVICE = "the service"


class Caller:
    """The session's user until the view has read a token."""

    def __init__(self, request: HttpRequest | Request) -> None:
        self.request = request
        self.remembered: Any = None

    def speaks_through(self, request: Request) -> None:
        self.request, self.remembered = request, None

    @property
    def name(self) -> str:
        token = getattr(self.request, "auth", None)
        user: Any = self.request.user
        return str(token.name if token is not None else user.get_username() or "nobody")


_present: ContextVar[Caller | None] = ContextVar("caller", default=None)
_acting: ContextVar[str] = ContextVar("acting", default=THE_SERVICE)


def present_caller() -> Caller | None:
    return _present.get()


def author() -> str:
    """The name to write beside what is done now."""
    caller = present_caller()
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
def calling(caller: Caller) -> Iterator[None]:
    marker = _present.set(caller)
    try:
        yield
    finally:
        _present.reset(marker)
