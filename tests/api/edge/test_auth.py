from datetime import timedelta
from importlib import import_module
from io import StringIO
from types import SimpleNamespace
from typing import Any

import pytest
from django.apps import apps
from django.contrib.auth.models import Group, User
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client
from django.utils import timezone
from rest_framework.test import APIClient

from api.models import AccessToken, Role, digest
from tests.conftest import ClientFor

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]
PEOPLE = "/api/v1/try/people/"
BAD_AUTHORIZATIONS = [
    "Bearer",
    "Bearer ",
    "Bearer a b",
    "Bearer é",
    "Bearer spares_x",
    "Basic YTpi",
    "spares_x",
]


def made_token(**options: Any) -> tuple[str, AccessToken]:
    out = StringIO()
    call_command("api_token", "press shop", role="viewer", stdout=out, **options)
    return out.getvalue().split()[-1], AccessToken.objects.get()


def with_token(secret: str) -> APIClient:
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return client


def test_the_command_prints_the_token_last_and_keeps_its_hash() -> None:
    secret, token = made_token()
    assert with_token(secret).get(PEOPLE).status_code == 200
    assert token.digest == digest(secret)
    assert secret not in "".join(str(value) for value in vars(token).values())
    assert len(secret) > 43


@pytest.mark.parametrize(
    ("name", "role", "days"), [("", "viewer", 1), ("x" * 101, "viewer", 1), ("x", "viewer", 0)]
)
def test_the_command_refuses_what_makes_no_sense(name: str, role: str, days: int) -> None:
    with pytest.raises(CommandError):
        call_command("api_token", name, role=role, days=days)


def test_the_command_knows_four_roles() -> None:
    with pytest.raises(CommandError, match="invalid choice"):
        call_command("api_token", "x", "--role", "king")


@pytest.mark.parametrize("given", BAD_AUTHORIZATIONS)
def test_it_refuses_credentials_that_are_none(given: str) -> None:
    response = APIClient().get(PEOPLE, HTTP_AUTHORIZATION=given)
    assert response.status_code == 401
    assert response["WWW-Authenticate"].startswith("Bearer")


def test_it_reads_no_token_from_the_address() -> None:
    secret, _ = made_token()
    assert APIClient().get(PEOPLE, {"token": secret, "access_token": secret}).status_code == 401


@pytest.mark.parametrize("field", ["expires_at", "revoked_at"])
def test_it_refuses_a_token_that_ended(field: str) -> None:
    secret, _ = made_token(days=1)
    AccessToken.objects.update(**{field: timezone.now() - timedelta(seconds=1)})
    assert with_token(secret).get(PEOPLE).status_code == 401


def test_it_refuses_the_token_of_a_user_who_left() -> None:
    secret, token = made_token()
    token.user = User.objects.create(username="ann", is_active=False)
    token.save(update_fields=["user"])
    assert with_token(secret).get(PEOPLE).status_code == 401


def test_it_notes_the_use_once_an_hour(django_assert_num_queries: Any) -> None:
    secret, token = made_token()
    with_token(secret).get(PEOPLE)
    token.refresh_from_db()
    assert token.last_used_at is not None
    with django_assert_num_queries(2):
        with_token(secret).get(PEOPLE)


@pytest.mark.parametrize(
    ("role", "status"), [("storeroom", 201), ("manager", 201), ("integration", 403), ("viewer", 403)]
)
def test_only_the_roles_of_the_view_may_write(client_for: ClientFor, role: str, status: int) -> None:
    client = client_for(role)
    assert client.get(PEOPLE).status_code == 200
    assert client.post(PEOPLE, {"username": "x"}).status_code == status


def test_an_action_may_have_roles_of_its_own(as_viewer: APIClient) -> None:
    response = as_viewer.post("/api/v1/try/groups/blocked/", {}, HTTP_IDEMPOTENCY_KEY="k")
    assert response.status_code == 409
    assert as_viewer.post("/api/v1/try/groups/", {}, HTTP_IDEMPOTENCY_KEY="k").status_code == 403


def test_a_method_that_is_not_there_is_405_for_every_role(as_viewer: APIClient) -> None:
    assert as_viewer.put(PEOPLE, {}).status_code == 405


def session(user: User, **options: Any) -> Client:
    client = Client(**options)
    client.force_login(user)
    return client


def test_a_session_has_the_roles_of_its_groups() -> None:
    user = User.objects.create(username="ann")
    body = {"data": {"username": "x"}, "content_type": "application/json"}
    assert session(user).get(PEOPLE).status_code == 200
    assert session(user).post(PEOPLE, **body).status_code == 403
    user.groups.add(Group.objects.get_or_create(name=Role.STOREROOM)[0])
    assert session(user).post(PEOPLE, **body).status_code == 201


def test_a_superuser_has_every_role() -> None:
    chief = User.objects.create(username="chief", is_superuser=True)
    response = session(chief).post(PEOPLE, {"username": "x"}, content_type="application/json")
    assert response.status_code == 201


def test_a_session_may_change_nothing_without_its_csrf_token() -> None:
    chief = User.objects.create(username="chief", is_superuser=True)
    client = session(chief, enforce_csrf_checks=True)
    response = client.post(PEOPLE, {"username": "x"}, content_type="application/json")
    assert (response.status_code, response["Content-Type"]) == (403, "application/problem+json")
    assert not User.objects.filter(username="x").exists()


def test_a_session_ends_with_its_user() -> None:
    user = User.objects.create(username="ann")
    client = session(user)
    User.objects.update(is_active=False)
    assert client.get(PEOPLE).status_code == 401


def test_too_many_calls_in_a_minute_are_told_when_to_come_back(
    client_for: ClientFor, settings: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    settings.REQUESTS_PER_MINUTE = 2
    monkeypatch.setattr("api.edge.throttling.seconds_now", lambda: 1_000_000_000.0)
    busy, other = client_for("viewer"), client_for("viewer")
    assert [busy.get(PEOPLE).status_code for _ in range(3)] == [200, 200, 429]
    refused = busy.get(PEOPLE)
    assert refused["Retry-After"] == "20"
    assert refused.json()["type"] == "/problems/too-many-requests"
    assert other.get(PEOPLE).status_code == 200


def test_the_admin_shows_tokens_to_revoke_and_nothing_to_edit() -> None:
    secret, token = made_token()
    chief = User.objects.create(username="chief", is_superuser=True, is_staff=True)
    client = session(chief)
    page = client.get(f"/admin/api/accesstoken/{token.pk}/change/")
    assert page.status_code == 200
    assert token.digest not in page.content.decode()
    assert client.get("/admin/api/accesstoken/add/").status_code == 403
    client.post("/admin/api/accesstoken/", {"action": "revoke", "_selected_action": [token.pk]})
    assert with_token(secret).get(PEOPLE).status_code == 401


def test_there_is_a_group_for_each_role() -> None:
    add = import_module("api.migrations.0002_have_a_group_for_each_role").add
    add(apps, SimpleNamespace(connection=connection))
    add(apps, SimpleNamespace(connection=connection))
    assert set(Role.values) <= set(Group.objects.values_list("name", flat=True))
