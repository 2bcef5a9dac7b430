import json
import logging
import re
import sys
from datetime import timedelta
from typing import Any

import psycopg
import pytest
from django.core.exceptions import DisallowedHost
from django.db import OperationalError, connection, transaction
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from api.edge.log_lines import ID_OF_ANSWER, JsonLines, RefusalsInOneLine, TextLines, current_id
from api.operations import health
from api.operations.scheduling.leadership import LEADER
from inventory.models import Lease


def test_alive_needs_neither_database_nor_login(client: Client) -> None:
    response = client.get("/healthz")
    assert (response.status_code, response.json()) == (200, {"status": "alive"})


@pytest.mark.django_db
def test_ready_when_the_database_answers_and_is_migrated(client: Client) -> None:
    Lease.objects.create(name=LEADER, holder="one", until=timezone.now() + timedelta(minutes=1))
    assert client.get("/readyz").json() == {"status": "ready"}


@pytest.mark.django_db
def test_ready_and_what_is_wrong_without_a_scheduler_and_without_nights(
    client: Client, settings: Any
) -> None:
    Lease.objects.create(name="success of purge", holder="2026-01-01", until=timezone.now())
    body = client.get("/readyz").json()
    assert body["status"] == "degraded"
    assert (
        body["faults"]["scheduler_works"] == f"No scheduler works: start `{settings.PROGRAM} run_scheduler`."
    )
    assert "2026-01-01" in body["faults"]["nights_missed"]


@pytest.mark.django_db
def test_ready_says_that_nothing_can_be_written(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*args: Any, **more: Any) -> None:
        raise OperationalError("disk full")

    monkeypatch.setattr(Lease.objects, "update_or_create", fail)
    assert "disk full" in client.get("/readyz").json()["faults"]["can_write"]


@pytest.mark.django_db
def test_who_watches_may_ask_by_the_address_alone(client: Client, settings: Any) -> None:
    settings.ALLOWED_HOSTS, settings.SECURE_SSL_REDIRECT = ["spares.example"], True
    asked = [client.get(one, HTTP_HOST="10.1.2.3") for one in ("/healthz", "/readyz", "/metrics")]
    assert [one.status_code for one in asked] == [200, 200, 401]


@pytest.mark.django_db
def test_metrics_are_for_who_has_their_token(client: Client, settings: Any) -> None:
    settings.METRICS_TOKEN = "watch-the-malt"
    assert client.get("/metrics").status_code == 401
    assert client.get("/metrics", headers={"Authorization": "Bearer other"}).status_code == 401
    client.get("/login/")
    text = client.get("/metrics", headers={"Authorization": "Bearer watch-the-malt"}).content.decode()
    found = {family.name: family for family in text_string_to_metric_families(text)}
    assert found["spares_scheduler_works"].samples[0].value == 0
    assert found["spares_can_write"].samples[0].value == 1
    assert sum(one.value for one in found["spares_requests"].samples if one.name.endswith("_total")) >= 1


def test_what_a_caller_did_wrong_is_one_line() -> None:
    try:
        raise DisallowedHost("elsewhere")
    except DisallowedHost:
        record = logging.LogRecord("x", logging.ERROR, "f", 1, "Refused.", None, sys.exc_info())
    assert RefusalsInOneLine().filter(record)
    assert record.exc_info is None


def test_a_fault_of_ours_keeps_its_traceback() -> None:
    try:
        raise ZeroDivisionError
    except ZeroDivisionError:
        record = logging.LogRecord("x", logging.ERROR, "f", 1, "Failed.", None, sys.exc_info())
    assert RefusalsInOneLine().filter(record)
    assert record.exc_info is not None


@pytest.mark.django_db
def test_not_ready_while_migrations_wait(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "_applied", False)
    monkeypatch.setattr(health.MigrationExecutor, "migration_plan", lambda *_: ["one"])
    response = client.get("/readyz")
    assert (response.status_code, response["Content-Type"]) == (503, "application/problem+json")
    assert "migrate" in response.json()["detail"]


def test_not_ready_without_a_database(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def fail() -> bool:
        gone = psycopg.OperationalError("connection refused\n\tIs the server running?")
        raise OperationalError(str(gone)) from gone

    monkeypatch.setattr(health, "migrations_applied", fail)
    response = client.get("/readyz")
    assert (response.status_code, response["Retry-After"]) == (503, "5")
    assert response.json()["detail"] == "The database cannot be reached."
    (line,) = (one for one in caplog.records if one.name == health.__name__)
    assert (line.getMessage(), line.exc_info) == ("The database cannot be reached: connection refused", None)


@pytest.mark.django_db
def test_a_fault_that_the_database_answers_with_is_logged_with_its_place(
    client: Client, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def ask() -> bool:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1 FROM no_such_table")
        return True

    monkeypatch.setattr(health, "migrations_applied", ask)
    with transaction.atomic():
        client.get("/readyz")
        transaction.set_rollback(True)
    (line,) = (one for one in caplog.records if one.name == health.__name__)
    assert "no_such_table" in line.getMessage()
    assert line.exc_info


@pytest.mark.parametrize("address", ["/healthz", "/readyz"])
def test_they_are_read_and_not_written(client: Client, address: str) -> None:
    response = client.post(address)
    assert (response.status_code, response["Allow"]) == (405, "GET, HEAD")


def test_a_harmless_request_id_comes_back(client: Client) -> None:
    assert client.get("/healthz", headers={"X-Request-Id": "job-7.a"})["X-Request-Id"] == "job-7.a"


@pytest.mark.parametrize("given", ["", "a b", "x" * 65, "a;b", "é", "a\nb"])
def test_a_strange_request_id_is_replaced(client: Client, given: str) -> None:
    made = client.get("/healthz", headers={"X-Request-Id": given})["X-Request-Id"]
    assert re.fullmatch("[0-9a-f]{32}", made)


def test_a_log_entry_is_one_line_whatever_it_says() -> None:
    record: Any = logging.LogRecord("x", logging.INFO, "f", 1, "forged\n{}", None, None)
    marker = current_id.set("r1")
    line = JsonLines().format(record)
    current_id.reset(marker)
    assert "\n" not in line
    assert {"message": "forged\n{}", "request_id": "r1"}.items() <= json.loads(line).items()


def test_a_line_of_django_has_it_too(client: Client, caplog: pytest.LogCaptureFixture) -> None:
    client.get("/no/such/page/", headers={"X-Request-Id": "job-7"})
    assert json.loads(JsonLines().format(caplog.records[-1]))["request_id"] == "job-7"


def test_a_line_of_the_server_has_the_id_that_the_request_got() -> None:
    answered = {"U": "/account/reset/MQ/dk8w-secret/", ID_OF_ANSWER: "job-7"}
    record: Any = logging.LogRecord("gunicorn.access", logging.INFO, "f", 1, "%(U)s", (answered,), None)
    assert json.loads(JsonLines().format(record))["request_id"] == "job-7"
    assert TextLines("{message}", style="{").format(record) == "/account/res… [job-7]"
