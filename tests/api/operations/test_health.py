import json
import logging
import re
from typing import Any

import pytest
from django.db import OperationalError
from django.test import Client

from api.edge.log_lines import JsonLines, current_id
from api.operations import health


def test_alive_needs_neither_database_nor_login(client: Client) -> None:
    response = client.get("/healthz")
    assert (response.status_code, response.json()) == (200, {"status": "alive"})


@pytest.mark.django_db
def test_ready_when_the_database_answers_and_is_migrated(client: Client) -> None:
    assert client.get("/readyz").json() == {"status": "ready"}


@pytest.mark.django_db
def test_not_ready_while_migrations_wait(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(health, "_applied", False)
    monkeypatch.setattr(health.MigrationExecutor, "migration_plan", lambda *_: ["one"])
    response = client.get("/readyz")
    assert (response.status_code, response["Content-Type"]) == (503, "application/problem+json")
    assert "migrate" in response.json()["detail"]


def test_not_ready_without_a_database(client: Client, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail() -> bool:
        raise OperationalError("gone")

    monkeypatch.setattr(health, "migrations_applied", fail)
    response = client.get("/readyz")
    assert (response.status_code, response["Retry-After"]) == (503, "5")
    assert response.json()["detail"] == "The database cannot be reached."


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
