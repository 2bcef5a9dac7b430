"""Where a request reads: from a replica what may be a moment old, from the primary whatever follows the caller's own write.

The primary answers every request that may change something, the administration (its forms overwrite what they show), what
decides who may do what, jobs, keys, leases and the feed of events. After a write a browser carries the position of the log in a
cookie; of a token its row says when it wrote, which every request reads anyway.
"""

import logging
from contextvars import ContextVar
from datetime import datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import DEFAULT_DB_ALIAS, DatabaseError, connections
from django.db.models import Model, Q
from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone

from api.edge.caller import Caller, current_caller
from api.edge.middleware import Middleware
from api.edge.replicas import NOTED_EVERY_SECONDS, REPLICAS, primary_position
from api.models import AccessToken

logger = logging.getLogger(__name__)

COOKIE = "__Host-written" if settings.PRODUCTION else "written"
COOKIE_SECONDS = 60
"""By then a replica that far behind is left out; and a position of another server's log is forgotten."""
CLOCKS_APART = timedelta(seconds=5)
"""The clocks of two machines that serve may differ by so much."""
APPS_READ_FROM_REPLICA = frozenset({"inventory", "drives"})
READ_FROM_PRIMARY = frozenset({"inventory.event", "inventory.lease", "drives.inboundmessage"})
READ_FROM_REPLICA = frozenset({"api.change"})


def may_be_old(model: type[Model]) -> bool:
    label = model._meta.label_lower
    if model._meta.app_label in APPS_READ_FROM_REPLICA:
        return label not in READ_FROM_PRIMARY
    return label in READ_FROM_REPLICA


class Reading:
    """Of one request; decided at the first read that may be a moment old."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request
        self.writer: Caller | None = None
        self.has_written = False
        is_reader = request.method in ("GET", "HEAD") and not request.path.startswith("/admin/")
        self.chosen = None if is_reader else DEFAULT_DB_ALIAS

    @property
    def alias(self) -> str:
        if self.chosen is None:
            self.chosen = self.choose()
        return self.chosen

    def choose(self) -> str:
        if wrote_lately(token_of(current_caller())):
            return DEFAULT_DB_ALIAS
        return REPLICAS.choose(after=position_in(self.request))

    def note_write(self) -> None:
        """From the first write of a request on it reads from the primary."""
        self.chosen = DEFAULT_DB_ALIAS
        self.has_written, self.writer = True, current_caller() or self.writer

    def is_broken(self, response: HttpResponseBase) -> bool:
        """Whether it failed because the replica broke off under it."""
        return (
            response.status_code >= 500
            and self.chosen not in (None, DEFAULT_DB_ALIAS)
            and connections[self.chosen].errors_occurred
        )


_present: ContextVar[Reading | None] = ContextVar("reading", default=None)


def read_from_primary() -> None:
    """From here on, in this context."""
    _present.set(None)


class ReplicaRouter:
    def db_for_read(self, model: type[Model], **hints: Any) -> str:
        reading = _present.get()
        # What hangs on a record of the primary, such as the plants of a token, is read with it.
        holder = hints.get("instance")
        if reading is None or not may_be_old(model) or (holder is not None and not may_be_old(type(holder))):
            return DEFAULT_DB_ALIAS
        return DEFAULT_DB_ALIAS if connections[DEFAULT_DB_ALIAS].in_atomic_block else reading.alias

    def db_for_write(self, model: type[Model], **hints: Any) -> str:
        reading = _present.get()
        if reading is not None and may_be_old(model):
            reading.note_write()
        return DEFAULT_DB_ALIAS

    def allow_relation(self, one: Model, other: Model, **hints: Any) -> bool:
        return True

    def allow_migrate(self, db: str, app_label: str, **hints: Any) -> bool:
        return db == DEFAULT_DB_ALIAS


class ReadingMiddleware(Middleware):
    """A request whose replica breaks off under it is answered by the primary: it has only read until then."""

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        reading = Reading(request)
        marker = _present.set(reading)
        try:
            response = self.get_response(request)
            if reading.is_broken(response):
                REPLICAS.leave_out(reading.alias, "it broke off while it was read from")
                reading.chosen = DEFAULT_DB_ALIAS
                response = self.get_response(request)
        finally:
            _present.reset(marker)
        if reading.has_written and response.status_code < 500:
            try:
                remember_write(reading, response)
            except (
                DatabaseError
            ) as error:  # What was written stands, and without the primary nothing is read.
                logger.warning("The write of a caller could not be noted: %s", error)
        return response


def remember_write(reading: Reading, response: HttpResponseBase) -> None:
    token = token_of(reading.writer)
    if token is not None:
        note_token_wrote(token)
        return
    response.set_cookie(
        COOKIE,
        f"{primary_position():x}",
        max_age=COOKIE_SECONDS,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def follow(moment: datetime | None) -> None:
    """What another process finished at that moment counts as the caller's own write: the next reads hold it."""
    reading = _present.get()
    if reading is not None and moment is not None and is_young(moment):
        reading.note_write()


def position_in(request: HttpRequest) -> int:
    """What the browser carries; another text than a position counts as none."""
    try:
        return int(request.COOKIES.get(COOKIE, "0"), 16)
    except ValueError:
        return 0


def token_of(caller: Caller | None) -> AccessToken | None:
    token = getattr(caller.request, "auth", None) if caller is not None else None
    return token if isinstance(token, AccessToken) else None


def note_token_wrote(token: AccessToken) -> None:
    """Once a second at most, so that a token that many use is no row that all wait for."""
    now = timezone.now()
    since = now - timedelta(seconds=NOTED_EVERY_SECONDS)
    not_yet = Q(wrote_at=None) | Q(wrote_at__lt=since)
    if token.wrote_at is None or token.wrote_at < since:
        AccessToken.objects.filter(not_yet, pk=token.pk).update(wrote_at=now)


def wrote_lately(token: AccessToken | None) -> bool:
    return token is not None and token.wrote_at is not None and is_young(token.wrote_at)


def is_young(moment: datetime) -> bool:
    """What is older every replica holds that is read from: one that is further behind is left out."""
    for_seconds = timedelta(seconds=settings.REPLICA_LAG_SECONDS + NOTED_EVERY_SECONDS)
    return timezone.now() - moment < for_seconds + CLOCKS_APART
