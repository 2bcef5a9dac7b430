"""One key, one effect: the second request with a key gets the answer of the first.

Kept: answers that stand (2xx) and refusals by the state (409). Not kept: what was not understood, not
allowed or not found, so that a mended request may use its key again. The record commits with the effect. While a
request runs, its key is held by this process and, on PostgreSQL, by an advisory lock that ends with
the transaction or the connection; on SQLite a second process finds the answer when it keeps its own, and begins again.

A key is kept for 30 days (`KEPT_DAYS`) and deleted by `manage.py purge`; after that it is a new one.
"""

import functools
import hashlib
import json
import re
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from typing import Any

from django.core.files.uploadedfile import UploadedFile
from django.db import DEFAULT_DB_ALIAS, connection, transaction
from django.http import HttpResponse, HttpResponseBase
from rest_framework.renderers import JSONRenderer
from rest_framework.request import Request
from rest_framework.response import Response

from api.edge.auth import caller_id
from api.edge.errors import (
    CONTENT_TYPE,
    Conflict,
    IdempotencyMismatch,
    parameter_errors,
    problem_response,
    translate,
)
from api.edge.retries import LostRace
from api.models import IdempotencyRecord
from inventory.plumbing.prepared import PreparedInsert, preparing_cursor

HEADER = "Idempotency-Key"
KEPT_DAYS = 30
DELETED_AT_ONCE = 5_000
KEPT_HEADERS = ("Location", "ETag", "Link")
IS_KNOWN = f"SELECT 1 FROM {IdempotencyRecord._meta.db_table} WHERE caller = %s AND key = %s"
KEPT = PreparedInsert(IdempotencyRecord, unique="caller, key")
VISIBLE_ASCII = re.compile(r"[\x21-\x7e]{1,255}")

_running: set[tuple[str, str]] = set()
_running_lock = threading.Lock()

Handler = Callable[..., HttpResponseBase]
Prepare = Callable[[Any, Request], Any]


def idempotent(*, required: bool = False, prepare: Prepare | None = None) -> Callable[[Handler], Handler]:
    """Decorator for a view's POST handler; a view may also set `requires_idempotency_key` itself.

    `prepare` reads what the handler needs, which gets it behind the request: on SQLite before the transaction, whose write
    lock is for all.
    """

    def decorate(handler: Handler) -> Handler:
        @functools.wraps(handler)
        def answer(view: Any, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
            def read() -> tuple[Any, ...]:
                return () if prepare is None else (prepare(view, request),)

            def act(prepared: tuple[Any, ...]) -> HttpResponseBase:
                return handler(view, request, *prepared, *args, **kwargs)

            key = read_key(request, required or getattr(view, "requires_idempotency_key", False))
            if key is None:
                prepared = read()
                with transaction.atomic():
                    return act(prepared)
            return answer_once(request, key, read, act)

        answer.idempotency = "required" if required else "optional"  # type: ignore[attr-defined]
        return answer

    return decorate


def read_key(request: Request, required: bool) -> str | None:
    key = request.headers.get(HEADER)
    if key is None:
        if required:
            raise parameter_errors(
                {HEADER: "This request changes the stock and needs an Idempotency-Key header."}
            )
        return None
    if not VISIBLE_ASCII.fullmatch(key):
        raise parameter_errors({HEADER: "The key must be 1 to 255 visible ASCII characters."})
    return key


def answer_once(
    request: Request,
    key: str,
    read: Callable[[], tuple[Any, ...]],
    effect: Callable[[tuple[Any, ...]], HttpResponseBase],
) -> HttpResponseBase:
    caller = caller_id(request)
    # Read before the transaction: an unreadable body must not wait for a lock.
    operation, digest = f"{request.method} {request.get_full_path()}"[:500], body_digest(request)
    record = IdempotencyRecord(caller=caller, key=key, operation=operation, body_digest=digest)

    def done(prepared: tuple[Any, ...]) -> HttpResponseBase:
        response = effect(prepared)
        if response.status_code < 300 or response.status_code == 409:
            keep(record, IdempotencyRecord.State.DONE, response)
        return response

    with key_held(caller, key):
        try:
            if connection.vendor == "sqlite":
                return answer_alone(record, read, done)
            with transaction.atomic():
                known = lock_key(caller, key)
                return replay_answer(known, record) if known else done(read())
        except KeyRunning:
            raise
        except Exception as error:
            # A refusal by the state has no effect but is an answer too. It is kept after the effect was rolled back: if
            # another process used the key in between, its record stands, and this request is run again to find it.
            refusal = translate(error)
            if refusal is None or refusal.status_code != 409:
                raise
            response = problem_response(refusal, request)
            keep(record, IdempotencyRecord.State.REFUSED, response)
            return response


def answer_alone(
    record: IdempotencyRecord,
    read: Callable[[], tuple[Any, ...]],
    done: Callable[[tuple[Any, ...]], HttpResponseBase],
) -> HttpResponseBase:
    """On SQLite the transaction is alone, so it is short. Where another process used the key meanwhile, its record is met at the end."""
    if known := lock_key(record.caller, record.key):
        return replay_answer(known, record)
    try:
        prepared = read()
    except Exception:
        # What was fine when the request was sent first may be refused after it.
        if known := lock_key(record.caller, record.key):
            return replay_answer(known, record)
        raise
    with transaction.atomic():
        return done(prepared)


def keep(record: IdempotencyRecord, state: str, response: HttpResponseBase) -> None:
    record.state, record.status, record.body = state, response.status_code, content_of(response)
    record.headers = {name: response[name] for name in KEPT_HEADERS if name in response}
    if not KEPT.write(record):
        raise LostRace()


def replay_answer(known: IdempotencyRecord, asked: IdempotencyRecord) -> HttpResponse:
    if (known.operation, known.body_digest) != (asked.operation, asked.body_digest):
        raise IdempotencyMismatch()
    refused = known.state == IdempotencyRecord.State.REFUSED
    headers = {**known.headers, "Idempotency-Replayed": "true"}
    content_type = CONTENT_TYPE if refused else "application/json"
    return HttpResponse(known.body, status=known.status, content_type=content_type, headers=headers)


def content_of(response: HttpResponseBase) -> str:
    if (rendered := getattr(response, "kept_body", None)) is not None:
        return str(rendered, "utf-8")
    if isinstance(response, Response):
        return "" if response.data is None else JSONRenderer().render(response.data).decode()
    return response.content.decode() if isinstance(response, HttpResponse) else ""


@contextmanager
def key_held(caller: str, key: str) -> Iterator[None]:
    with _running_lock:
        if (caller, key) in _running:
            raise still_running()
        _running.add((caller, key))
    try:
        yield
    finally:
        with _running_lock:
            _running.discard((caller, key))


def lock_key(caller: str, key: str) -> IdempotencyRecord | None:
    """The record of a request that is over, if there is one; on PostgreSQL the key is held to the end of the transaction."""
    number = int.from_bytes(hashlib.sha256(f"{caller}\n{key}".encode()).digest()[:8], "big", signed=True)
    with preparing_cursor(DEFAULT_DB_ALIAS) as cursor:
        # A record that commits between the snapshot of this statement and its lock is not seen; then the record of this
        # request meets it, and the request is run again.
        held, lock = (
            ("1", []) if connection.vendor == "sqlite" else ("pg_try_advisory_xact_lock(%s)", [number])
        )
        cursor.execute(f"SELECT {held}, EXISTS ({IS_KNOWN})", [*lock, caller, key])
        is_held, is_known = cursor.fetchone()
    if not is_held:
        raise still_running()
    return IdempotencyRecord.objects.get(caller=caller, key=key) if is_known else None


class KeyRunning(Conflict):
    """The first request with this key has no answer yet: the one 409 that is not the answer, so it has a code of its own."""

    default_code = "request_still_running"


def still_running() -> KeyRunning:
    return KeyRunning("The first request with this idempotency key is still running; ask again shortly.")


def body_digest(request: Request) -> str:
    """Hash of what the body says: white space and the order of members do not count, uploaded bytes do."""
    data = request.data
    if hasattr(data, "lists"):
        data = [[name, [file_or_text(value) for value in values]] for name, values in sorted(data.lists())]
    text = json.dumps(data, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def file_or_text(value: Any) -> str:
    if not isinstance(value, UploadedFile):
        return str(value)
    total = hashlib.sha256()
    for chunk in value.chunks():
        total.update(chunk)
    value.seek(0)
    return f"{value.name}:{total.hexdigest()}"


def purge_keys(now: datetime) -> int:
    """Delete keys that are older than they are kept; how many there were."""
    old = IdempotencyRecord.objects.filter(created_at__lt=now - timedelta(days=KEPT_DAYS))
    count = 0
    while batch := list(old.values_list("pk", flat=True)[:DELETED_AT_ONCE]):
        count += IdempotencyRecord.objects.filter(pk__in=batch).delete()[0]
    return count
