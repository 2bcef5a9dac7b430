import json
import logging
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import MiddlewareNotUsed
from django.http import HttpRequest, StreamingHttpResponse
from django.test import Client, RequestFactory
from rest_framework.test import APIClient

from api.edge import slow_requests
from api.edge.log_lines import JsonLines, TextLines
from api.edge.slow_requests import SlowRequestMiddleware, shape_of
from tests import factories as make

pytestmark = pytest.mark.django_db
Logged = pytest.LogCaptureFixture


@pytest.fixture
def all_are_slow(settings: Any, monkeypatch: pytest.MonkeyPatch) -> None:
    settings.SLOW_REQUEST_MS = 1
    # Every reading is an equal time later, whatever the machine does meanwhile: the first statement stays the slowest.
    ticks = iter(range(10**9))
    monkeypatch.setattr(slow_requests.time, "perf_counter", lambda: next(ticks) / 128)


def entry(caplog: Logged) -> dict[str, Any]:
    (record,) = [one for one in caplog.records if one.name == slow_requests.__name__]
    found: dict[str, Any] = json.loads(JsonLines().format(record))
    return found


@pytest.mark.usefixtures("all_are_slow")
def test_a_slow_list_is_logged_with_what_it_read(as_storeroom: APIClient, caplog: Logged) -> None:
    for number in range(3):
        make.ItemFactory(stock_number=f"SECRET-{number}")
    answer = as_storeroom.get("/api/v1/items/?q=SECRET&limit=2", headers={"X-Request-Id": "job-7"})
    found = entry(caplog)
    assert (found["method"], found["address"], found["role"]) == ("GET", "/api/v1/items/", "storeroom")
    assert (found["status"], found["rows"], found["bytes"]) == (200, 2, len(answer.content))
    assert (found["request_id"], found["level"]) == ("job-7", "WARNING")
    assert found["queries"] >= 2
    assert 0 < found["slowest_seconds"] <= found["database_seconds"] < found["seconds"]
    assert found["slowest"].startswith("SELECT … FROM")


@pytest.mark.usefixtures("all_are_slow")
@pytest.mark.parametrize("form", [JsonLines(), TextLines("{message}", style="{")])
def test_it_is_one_line_without_persons_records_and_tokens(
    as_manager: APIClient, caplog: Logged, form: logging.Formatter
) -> None:
    item = make.ItemFactory(stock_number="SPR-SECRET")
    token = as_manager._credentials["HTTP_AUTHORIZATION"].split()[1]
    as_manager.get(f"/api/v1/items/{item.stock_number}/?format=json")
    (record,) = [one for one in caplog.records if one.name == slow_requests.__name__]
    line = form.format(record)
    assert "\n" not in line
    assert "address=/api/v1/items/" in line
    for word in ("SPR-SECRET", token[:12], "the manager", "127.0.0.1"):
        assert word not in line


@pytest.mark.usefixtures("all_are_slow")
def test_a_file_is_measured_to_its_last_row(rf: RequestFactory, caplog: Logged) -> None:
    def rows(request: HttpRequest) -> StreamingHttpResponse:
        return StreamingHttpResponse(f"{make.ItemFactory().pk}\n".encode() for _ in range(3))

    request: Any = rf.get("/planning/budget.csv")
    request.user, request.request_id = AnonymousUser(), "job-8"
    answer: Any = SlowRequestMiddleware(rows)(request)
    assert not caplog.records
    content = b"".join(answer.streaming_content)
    found = entry(caplog)
    assert (found["bytes"], found["rows"], found["status"]) == (len(content), None, 200)
    assert (found["queries"] >= 3, found["request_id"], found["role"]) == (True, "job-8", "none")


@pytest.mark.usefixtures("all_are_slow")
def test_strangers_and_unknown_addresses_are_logged_too(client: Client, caplog: Logged) -> None:
    client.get("/no/such/place-of-ann/")
    assert (entry(caplog)["address"], entry(caplog)["role"]) == ("no such address", "none")


def test_a_quick_request_is_not_logged(as_manager: APIClient, caplog: Logged) -> None:
    as_manager.get("/api/v1/items/")
    assert not [one for one in caplog.records if one.name == slow_requests.__name__]


def test_nothing_is_measured_where_the_limit_is_0(settings: Any) -> None:
    settings.SLOW_REQUEST_MS = 0
    with pytest.raises(MiddlewareNotUsed):
        SlowRequestMiddleware(lambda request: None)  # type: ignore[arg-type, return-value]
    assert "api.edge.slow_requests.SlowRequestMiddleware" in settings.MIDDLEWARE


@pytest.mark.parametrize(
    ("sql", "shape"),
    [
        ('SELECT b, (SELECT c FROM d) AS "e"\n FROM "a" WHERE b IN (%s, %s, %s)', 'SELECT … FROM "a" WHERE b IN (%s, …)'),
        ("SELECT pg_try_advisory_xact_lock(%s), EXISTS (SELECT 1 FROM a)", "SELECT pg_try_advisory_xact_lock(%s), EXISTS (SELECT 1 FROM a)"),
        ("UPDATE a SET b = 'Ann''s' WHERE c = %s", "UPDATE a SET b = '…' WHERE c = %s"),
        ("WITH " + "x" * 700, "WITH " + "x" * 595 + "…"),
    ],
)  # fmt: skip
def test_the_shape_of_a_statement_holds_no_values(sql: str, shape: str) -> None:
    assert shape_of(sql) == shape
