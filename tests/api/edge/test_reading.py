"""Where a request reads, without a replica; `tests/proof/test_replicas.py` has real ones."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse
from django.test import RequestFactory
from django.utils import timezone

from api.edge import reading, replicas
from api.edge.caller import Caller, caller_set
from api.edge.reading import Reading, ReadingMiddleware, ReplicaRouter, follow, may_be_old
from api.edge.replicas import PrimaryLog, Replica, ReplicaState
from api.models import AccessToken
from inventory.models import Item

ROUTER = ReplicaRouter()
make = RequestFactory()


@pytest.fixture(autouse=True)
def outside_of_a_transaction(monkeypatch: pytest.MonkeyPatch) -> None:
    """Else the database of the test, which is always in one, would be read."""
    known = {
        name: SimpleNamespace(in_atomic_block=False, errors_occurred=True) for name in ("default", "near")
    }
    monkeypatch.setattr(reading, "connections", known)


@pytest.fixture
def chosen(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """A replica named `near` serves all; the positions that were asked of it."""
    asked: list[int] = []

    def choose(after: int) -> str:
        asked.append(after)
        return "near"

    monkeypatch.setattr(reading.REPLICAS, "choose", choose)
    return asked


@contextmanager
def during(request: HttpRequest) -> Iterator[Reading]:
    one = Reading(request)
    marker = reading._present.set(one)
    try:
        yield one
    finally:
        reading._present.reset(marker)


def read_from(model: Any = Item, **hints: Any) -> str:
    return ROUTER.db_for_read(model, **hints)


@pytest.mark.parametrize(
    ("label", "old"),
    [
        *(
            (name, True)
            for name in ("inventory.item", "inventory.stockentry", "drives.position", "api.change")
        ),
        *((name, False) for name in ("inventory.event", "inventory.lease", "drives.inboundmessage")),
        *((name, False) for name in ("api.accesstoken", "api.idempotencyrecord", "api.backgroundjob")),
        *((name, False) for name in ("sessions.session", "auth.user", "api.reach")),
    ],
)
def test_what_may_be_a_moment_old(label: str, old: bool) -> None:
    assert may_be_old(apps.get_model(label)) is old


def test_a_reader_reads_from_the_replica_and_decides_once(chosen: list[int]) -> None:
    with during(make.get("/items/X/")):
        assert [read_from(), read_from()] == ["near", "near"]
    assert chosen == [0]


@pytest.mark.parametrize(
    "request_of", [make.post("/x/"), make.put("/x/"), make.delete("/x/"), make.get("/admin/inventory/item/")]
)
def test_what_may_change_something_reads_from_the_primary(chosen: list[int], request_of: HttpRequest) -> None:
    with during(request_of):
        assert read_from() == "default"
    assert chosen == []


def test_outside_of_a_request_the_primary_is_read(chosen: list[int]) -> None:
    assert read_from() == "default"


def test_from_its_own_write_on_a_request_reads_from_the_primary(chosen: list[int]) -> None:
    with during(make.get("/x/")) as one:
        assert read_from() == "near"
        assert ROUTER.db_for_write(AccessToken) == "default"
        assert (read_from(), one.has_written) == ("near", False)
        assert ROUTER.db_for_write(Item) == "default"
        assert (read_from(), one.has_written) == ("default", True)


def test_inside_a_transaction_the_primary_is_read(chosen: list[int]) -> None:
    reading.connections["default"].in_atomic_block = True
    with during(make.get("/x/")):
        assert read_from() == "default"


def test_what_hangs_on_a_record_of_the_primary_is_read_with_it(chosen: list[int]) -> None:
    with during(make.get("/x/")):
        assert read_from(instance=AccessToken()) == "default"
        assert read_from(instance=Item()) == "near"


@pytest.mark.parametrize(("carried", "after"), [("1f", 31), ("", 0), ("x", 0), ("-1f", -31)])
def test_a_browser_carries_the_position_of_its_write(chosen: list[int], carried: str, after: int) -> None:
    request = make.get("/x/")
    request.COOKIES[reading.COOKIE] = carried
    with during(request):
        assert read_from() == "near"
    assert chosen == [after]


@pytest.mark.parametrize(("seconds", "alias"), [(0, "default"), (10, "default"), (12, "near")])
def test_a_token_that_wrote_lately_reads_from_the_primary(
    chosen: list[int], seconds: int, alias: str
) -> None:
    token = AccessToken(wrote_at=timezone.now() - timedelta(seconds=seconds))
    caller = Caller(SimpleNamespace(auth=token))  # type: ignore[arg-type]
    with caller_set(caller), during(make.get("/x/")):
        assert read_from() == alias


def test_what_another_process_finished_just_now_is_read_from_the_primary(chosen: list[int]) -> None:
    now = timezone.now()
    for moment, alias in ((None, "near"), (now - timedelta(minutes=1), "near"), (now, "default")):
        with during(make.get("/x/")):
            follow(moment)
            assert read_from() == alias


def test_a_request_whose_replica_breaks_off_is_answered_by_the_primary(
    chosen: list[int], monkeypatch: pytest.MonkeyPatch
) -> None:
    tried: list[str] = []
    left_out: list[str] = []
    monkeypatch.setattr(reading.REPLICAS, "leave_out", lambda alias, _: left_out.append(alias))

    def answer(request: HttpRequest) -> HttpResponse:
        tried.append(read_from())
        return HttpResponse(status=503 if tried[-1] == "near" else 200)

    response = ReadingMiddleware(answer)(make.get("/x/"))
    assert (response.status_code, tried, left_out) == (200, ["near", "default"], ["near"])


def test_a_failure_of_the_primary_is_not_tried_again(chosen: list[int]) -> None:
    tried: list[str] = []

    def answer(request: HttpRequest) -> HttpResponse:
        tried.append(read_from())
        return HttpResponse(status=503)

    assert ReadingMiddleware(answer)(make.post("/x/")).status_code == 503
    assert tried == ["default"]


def test_a_write_that_stands_is_answered_also_where_it_cannot_be_noted(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    def fail() -> int:
        raise OperationalError("gone")

    def write(request: HttpRequest) -> HttpResponse:
        ROUTER.db_for_write(Item)
        return HttpResponse(status=201)

    monkeypatch.setattr(reading, "primary_position", fail)
    response = ReadingMiddleware(write)(make.post("/x/"))
    assert (response.status_code, response.cookies) == (201, {})
    monkeypatch.setattr(reading, "primary_position", lambda: 31)
    assert ReadingMiddleware(write)(make.post("/x/")).cookies[reading.COOKIE].value == "1f"


@pytest.mark.django_db
def test_a_write_of_a_token_is_noted_once_a_second() -> None:
    token, _ = AccessToken.objects.issue("of the storeroom", role="storeroom")
    reading.note_token_wrote(token)
    token.refresh_from_db()
    first = token.wrote_at
    reading.note_token_wrote(token)
    token.refresh_from_db()
    assert token.wrote_at == first is not None
    token.wrote_at = first - timedelta(seconds=2)
    token.save()
    reading.note_token_wrote(token)
    token.refresh_from_db()
    assert token.wrote_at >= first


def test_a_replica_needs_the_oldest_position_that_is_young_enough(monkeypatch: pytest.MonkeyPatch) -> None:
    log, clock, positions = PrimaryLog(), SimpleNamespace(now=100.0), iter((10, 20, 30, 40, 50))
    monkeypatch.setattr(replicas, "primary_position", lambda: next(positions))
    monkeypatch.setattr(replicas.time, "monotonic", lambda: clock.now)
    needed = {}
    for moment in (100.0, 100.5, 101.5, 104.0, 104.9, 105.1, 200.0):
        clock.now = moment
        needed[moment] = log.needed(5)
    assert needed == {100.0: 10, 100.5: 10, 101.5: 10, 104.0: 10, 104.9: 10, 105.1: 20, 200.0: 50}


@pytest.mark.parametrize(
    ("answer", "after", "state", "serves"),
    [
        ((True, 50), 0, ReplicaState.USED, True),
        ((True, 50), 50, ReplicaState.USED, True),
        ((True, 50), 51, ReplicaState.USED, False),
        ((True, 39), 0, ReplicaState.BEHIND, False),
        ((True, None), 0, ReplicaState.BEHIND, False),
        ((False, None), 0, ReplicaState.PROMOTED, False),
        (OperationalError("gone"), 0, ReplicaState.STOPPED, False),
    ],
)
def test_which_replica_serves(
    monkeypatch: pytest.MonkeyPatch, answer: Any, after: int, state: ReplicaState, serves: bool
) -> None:
    class Standing(Replica):
        def ask(self) -> tuple[bool, int | None]:
            if isinstance(answer, Exception):
                raise answer
            return answer

    monkeypatch.setattr(replicas, "connections", {"near": SimpleNamespace(close=lambda: None)})
    one = Standing("near")
    assert one.serves(needed=40, after=after) is serves
    assert one.state == state
