"""The service, dying by its own hand: a request with `X-Die: before` ends it just before the commit of what the request
booked, `after` just after the commit and before the answer. SIGKILL, to every process of it."""

import os
import signal
import threading
from collections.abc import Callable, Iterable
from typing import Any

from django.db.backends.base.base import BaseDatabaseWrapper

from api.wsgi import application as service

asked = threading.local()
commit = BaseDatabaseWrapper.commit


def commit_and_die(self: BaseDatabaseWrapper) -> None:
    """Only the commit of a movement counts: others of the same request let it live on."""
    with self.cursor() as cursor:
        cursor.execute("SELECT max(id) FROM inventory_stockentry")
        newest = cursor.fetchone()[0]
    when = getattr(asked, "when", "")
    if not when or newest == asked.newest:
        commit(self)
        return
    if when == "after":
        commit(self)
    os.killpg(0, signal.SIGKILL)


def application(environ: dict[str, Any], start_response: Callable[..., Any]) -> Iterable[bytes]:
    asked.when = environ.get("HTTP_X_DIE", "")
    if asked.when:
        from django.db import connection

        with connection.cursor() as cursor:
            cursor.execute("SELECT max(id) FROM inventory_stockentry")
            asked.newest = cursor.fetchone()[0]
        BaseDatabaseWrapper.commit = commit_and_die  # type: ignore[method-assign]
    return service(environ, start_response)
