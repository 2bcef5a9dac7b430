import threading
from collections import Counter
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import Group, User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection, transaction
from django.http import QueryDict
from django.test.utils import CaptureQueriesContext
from rest_framework.test import APIClient

from api.edge import idempotency
from api.models import AccessToken, IdempotencyRecord
from tests.api.edge.edge_site import GroupViewSet
from tests.conftest import ClientFor

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]
PEOPLE, GROUPS, BLOCKED = "/api/v1/try/people/", "/api/v1/try/groups/", "/api/v1/try/groups/blocked/"


def test_it_answers_the_same_again(as_manager: APIClient) -> None:
    first = as_manager.post(PEOPLE, {"username": "ann", "first_name": "A"}, HTTP_IDEMPOTENCY_KEY="k")
    again = as_manager.post(PEOPLE, {"first_name": "A", "username": "ann"}, HTTP_IDEMPOTENCY_KEY="k")
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.content == first.content
    assert (again["Location"], again["ETag"]) == (first["Location"], first["ETag"])
    assert again["Idempotency-Replayed"] == "true"
    assert "Idempotency-Replayed" not in first
    assert User.objects.count() == 1


@pytest.mark.parametrize("other", [{"username": "bob"}, {"username": "ann", "first_name": "A"}, {}])
def test_it_refuses_the_key_for_another_body(as_manager: APIClient, other: dict[str, str]) -> None:
    as_manager.post(PEOPLE, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY="k")
    response = as_manager.post(PEOPLE, other, HTTP_IDEMPOTENCY_KEY="k")
    assert (response.status_code, response.json()["type"]) == (422, "/problems/idempotency-mismatch")


def test_it_refuses_the_key_for_another_address(as_manager: APIClient) -> None:
    as_manager.post(PEOPLE, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY="k")
    assert as_manager.post(GROUPS, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 422


def test_keys_of_two_callers_are_two_keys(client_for: ClientFor) -> None:
    for name in ("ann", "bob"):
        response = client_for("manager").post(PEOPLE, {"username": name}, HTTP_IDEMPOTENCY_KEY="k")
        assert response.status_code == 201


def test_it_needs_a_key_where_the_view_says_so(as_manager: APIClient) -> None:
    response = as_manager.post(GROUPS, {"name": "fitters"})
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "Idempotency-Key"
    assert as_manager.post(GROUPS, {"name": "fitters"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 201


@pytest.mark.parametrize("key", ["", "a b", "é", "k" * 256, "a\tb"])
def test_it_refuses_keys_that_are_not_visible_ascii(as_manager: APIClient, key: str) -> None:
    response = as_manager.post(PEOPLE, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY=key)
    assert response.status_code == 400
    assert not User.objects.exists()


def test_it_keeps_a_refusal_by_the_state_and_nothing_of_its_effect(as_manager: APIClient) -> None:
    first = as_manager.post(BLOCKED, {}, HTTP_IDEMPOTENCY_KEY="k")
    again = as_manager.post(BLOCKED, {}, HTTP_IDEMPOTENCY_KEY="k")
    assert (first.status_code, again.status_code) == (409, 409)
    assert again.content == first.content
    assert (again["Content-Type"], again["Idempotency-Replayed"]) == ("application/problem+json", "true")
    assert not Group.objects.filter(name="never kept").exists()


def test_a_mended_request_may_use_its_key_again(as_manager: APIClient) -> None:
    assert as_manager.post(PEOPLE, {"usrname": "ann"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 400
    assert not IdempotencyRecord.objects.exists()
    assert as_manager.post(PEOPLE, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 201


def test_a_fault_leaves_neither_effect_nor_record(as_manager: APIClient, monkeypatch: Any) -> None:
    def fail(*args: Any, **kwargs: Any) -> None:
        raise RuntimeError("the disk is full")

    monkeypatch.setattr(idempotency.KEPT, "write", fail)
    as_manager.raise_request_exception = False
    assert as_manager.post(PEOPLE, {"username": "ann"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 500
    assert not User.objects.exists()


def test_it_says_that_the_first_is_still_running(as_manager: APIClient) -> None:
    token = AccessToken.objects.get()
    with idempotency.key_held(f"token:{token.pk}", "k"):
        answer = as_manager.post(GROUPS, {"name": "x"}, HTTP_IDEMPOTENCY_KEY="k")
    assert (answer.status_code, answer.json()["code"]) == (409, "request_still_running")
    assert as_manager.post(GROUPS, {"name": "x"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 201


@pytest.mark.django_db(transaction=True)
def test_of_many_at_once_one_has_the_effect(as_manager: APIClient) -> None:
    start, answers = threading.Barrier(8), Counter[tuple[int, bool]]()

    def post() -> None:
        client = APIClient()
        client.credentials(**as_manager._credentials)
        start.wait()
        response = client.post(GROUPS, {"name": "fitters"}, HTTP_IDEMPOTENCY_KEY="k")
        answers[(response.status_code, "Idempotency-Replayed" in response)] += 1
        connection.close()

    threads = [threading.Thread(target=post) for _ in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert answers[(201, False)] == 1
    assert set(answers) <= {(201, False), (201, True), (409, False)}
    assert Group.objects.filter(name="fitters").count() == 1


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("first_status", [201, 409])
def test_a_record_that_commits_beside_the_look_for_it_is_found_at_the_end(
    as_manager: APIClient, monkeypatch: Any, first_status: int
) -> None:
    path, body = (GROUPS, {"name": "fitters"}) if first_status == 201 else (BLOCKED, {})
    first = as_manager.post(path, body, HTTP_IDEMPOTENCY_KEY="k")
    looks, look = [], idempotency.lock_key

    def overlook_once(caller: str, key: str) -> IdempotencyRecord | None:
        looks.append(key)
        return look(caller, key) if len(looks) > 1 else None

    Group.objects.all().delete()  # So that the effect itself meets nothing.
    monkeypatch.setattr(idempotency, "lock_key", overlook_once)
    again = as_manager.post(path, body, HTTP_IDEMPOTENCY_KEY="k")
    assert (first.status_code, again.status_code) == (first_status, first_status)
    assert (again.content, again["Idempotency-Replayed"]) == (first.content, "true")
    assert len(looks) == 2
    assert not Group.objects.exists()


@pytest.mark.django_db(transaction=True)
def test_a_body_that_is_refused_because_its_first_request_was_done_gets_the_answer_of_that(
    as_manager: APIClient, monkeypatch: Any
) -> None:
    first = as_manager.post(GROUPS, {"name": "fitters"}, HTTP_IDEMPOTENCY_KEY="k")
    looks, look = [], idempotency.lock_key

    def overlook_once(caller: str, key: str) -> IdempotencyRecord | None:
        looks.append(key)
        return look(caller, key) if len(looks) > 1 else None

    if connection.vendor == "sqlite":  # PostgreSQL holds the key while the body is read.
        monkeypatch.setattr(idempotency, "lock_key", overlook_once)
    again = as_manager.post(GROUPS, {"name": "fitters"}, HTTP_IDEMPOTENCY_KEY="k")
    assert (again.status_code, again.content, again["Idempotency-Replayed"]) == (201, first.content, "true")


@pytest.mark.skipif(connection.vendor != "sqlite", reason="PostgreSQL locks single rows")
@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("headers", [{}, {"HTTP_IDEMPOTENCY_KEY": "k"}])
def test_the_write_lock_is_taken_when_everything_is_read(
    as_manager: APIClient, monkeypatch: Any, headers: dict[str, Any]
) -> None:
    monkeypatch.setattr(GroupViewSet, "requires_idempotency_key", False)
    with CaptureQueriesContext(connection) as told:
        assert as_manager.post(GROUPS, {"name": "fitters"}, **headers).status_code == 201
    statements = [one["sql"] for one in told]
    begun = next(at for at, sql in enumerate(statements) if sql.startswith("BEGIN"))
    is_taken = [at for at, sql in enumerate(statements) if "SELECT 1" in sql and "auth_group" in sql]
    written = next(at for at, sql in enumerate(statements) if sql.startswith('INSERT INTO "auth_group"'))
    assert is_taken
    assert max(is_taken) < begun < written


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_another_process_holding_the_key_is_seen(as_manager: APIClient) -> None:
    caller = f"token:{AccessToken.objects.get().pk}"
    ready, done = threading.Event(), threading.Event()

    def hold() -> None:
        with transaction.atomic():
            idempotency.lock_key(caller, "k")
            ready.set()
            done.wait(10)
        connection.close()

    thread = threading.Thread(target=hold)
    thread.start()
    ready.wait(10)
    assert as_manager.post(GROUPS, {"name": "x"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 409
    done.set()
    thread.join()
    assert as_manager.post(GROUPS, {"name": "x"}, HTTP_IDEMPOTENCY_KEY="k").status_code == 201


def test_uploads_count_by_their_bytes_not_by_their_boundary() -> None:
    def digest(content: bytes) -> str:
        data = QueryDict(mutable=True)
        data["kind"] = "items"
        data["file"] = SimpleUploadedFile("items.csv", content)  # type: ignore[assignment]

        request: Any = SimpleNamespace(data=data)
        return idempotency.body_digest(request)

    assert digest(b"a,b\n") == digest(b"a,b\n") != digest(b"a,c\n")
