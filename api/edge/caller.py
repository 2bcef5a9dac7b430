"""Who asks, kept beside the work in hand for what stands far from the request: the log of changes and the limits."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpRequest
from rest_framework.request import Request

THE_SERVICE = "the service"


class Caller:
    """The session's user at first; the view says so when a token speaks for somebody else."""

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
    """Where no request is at work, as in a command."""
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
