import threading
from typing import Any

import pytest
from django.contrib.auth.models import User
from django.db import connection
from hypothesis import given
from hypothesis import strategies as st
from rest_framework.test import APIClient

from api.edge.concurrency import merged

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]


@pytest.fixture
def ann(db: None) -> User:
    return User.objects.create(username="ann", first_name="Ann")


@pytest.fixture
def address(ann: User) -> str:
    return f"/api/v1/try/people/{ann.pk}/"


def test_it_gives_a_strong_tag_that_follows_the_record(as_viewer: APIClient, ann: User, address: str) -> None:
    first = as_viewer.get(address)["ETag"]
    assert first.startswith('"')
    assert as_viewer.get(address)["ETag"] == first
    User.objects.update(first_name="Anna")
    assert as_viewer.get(address)["ETag"] != first


def test_a_reader_who_knows_the_version_gets_no_body(as_viewer: APIClient, address: str) -> None:
    etag = as_viewer.get(address)["ETag"]
    for known in (etag, f"W/{etag}", f'"other", {etag}', "*"):
        response = as_viewer.get(address, HTTP_IF_NONE_MATCH=known)
        assert (response.status_code, response.content, response["ETag"]) == (304, b"", etag)
    assert as_viewer.get(address, HTTP_IF_NONE_MATCH='"other"').status_code == 200


def test_head_is_get_without_its_body(as_viewer: APIClient, address: str) -> None:
    head, get = as_viewer.head(address), as_viewer.get(address)
    assert (head.status_code, head.content, head["ETag"]) == (200, b"", get["ETag"])


def test_answers_are_private_and_vary_by_caller(as_viewer: APIClient, address: str) -> None:
    response = as_viewer.get(address)
    assert response["Cache-Control"] == "private, no-cache"
    assert {"Authorization", "Cookie", "Accept"} <= set(response["Vary"].split(", "))


@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_a_change_must_name_its_version(as_manager: APIClient, address: str, method: str) -> None:
    assert getattr(as_manager, method)(address, {}).status_code == 428
    for stale in ('"stale"', "W/" + as_manager.get(address)["ETag"], "", "nonsense"):
        assert getattr(as_manager, method)(address, {}, HTTP_IF_MATCH=stale).status_code == 412
    assert User.objects.filter(username="ann").exists()


def test_of_two_who_read_and_write_one_wins(as_manager: APIClient, address: str) -> None:
    etag = as_manager.get(address)["ETag"]
    first = as_manager.patch(address, {"first_name": "One"}, HTTP_IF_MATCH=etag)
    second = as_manager.patch(address, {"first_name": "Two"}, HTTP_IF_MATCH=etag)
    assert (first.status_code, second.status_code) == (200, 412)
    assert first["ETag"] == as_manager.get(address)["ETag"]
    assert User.objects.get(username="ann").first_name == "One"


def test_put_takes_back_what_get_gave(as_manager: APIClient, address: str) -> None:
    given = as_manager.get(address)
    response = as_manager.put(address, given.json() | {"first_name": "Anna"}, HTTP_IF_MATCH=given["ETag"])
    assert response.status_code == 200
    assert response.json() == given.json() | {"first_name": "Anna"}


def test_members_set_by_the_service_cannot_be_set_by_others(as_manager: APIClient, address: str) -> None:
    body = {"id": 99, "is_active": False, "is_superuser": True, "first_name": "X"}
    response = as_manager.patch(address, body, HTTP_IF_MATCH="*")
    pointers = [row["pointer"] for row in response.json()["errors"]]
    assert (response.status_code, sorted(pointers)) == (400, ["/id", "/is_active", "/is_superuser"])
    assert User.objects.get(username="ann").first_name == "Ann"


def test_patch_takes_a_merge_patch_and_post_does_not(as_manager: APIClient, address: str) -> None:
    kind = "application/merge-patch+json"
    patched = as_manager.generic(
        "PATCH", address, '{"last_login": null}', content_type=kind, HTTP_IF_MATCH="*"
    )
    assert patched.status_code == 200
    posted = as_manager.generic("POST", "/api/v1/try/people/", "{}", content_type=kind)
    assert posted.status_code == 415


def test_no_header_turns_a_post_into_something_else(as_manager: APIClient, address: str) -> None:
    response = as_manager.post(address, {}, HTTP_X_HTTP_METHOD_OVERRIDE="DELETE", HTTP_IF_MATCH="*")
    assert response.status_code == 405


def test_it_creates_with_an_address_and_a_tag(as_manager: APIClient) -> None:
    created = as_manager.post("/api/v1/try/people/", {"username": "bob"})
    assert created.status_code == 201
    read = as_manager.get(created["Location"])
    assert (read.json(), read["ETag"]) == (created.json(), created["ETag"])


def test_it_deletes_the_version_named(as_manager: APIClient, address: str) -> None:
    etag = as_manager.get(address)["ETag"]
    assert as_manager.delete(address, HTTP_IF_MATCH=etag).status_code == 204
    assert as_manager.get(address).status_code == 404


@pytest.mark.postgresql
@pytest.mark.django_db(transaction=True)
def test_racing_writers_lose_to_exactly_one(as_manager: APIClient, address: str) -> None:
    etag = as_manager.get(address)["ETag"]
    start, codes = threading.Barrier(6), []

    def write(number: int) -> None:
        client = APIClient()
        client.credentials(**as_manager._credentials)
        start.wait()
        response = client.patch(address, {"first_name": f"N{number}"}, HTTP_IF_MATCH=etag)
        codes.append(response.status_code)
        connection.close()

    threads = [threading.Thread(target=write, args=(number,)) for number in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(codes) == [200, 412, 412, 412, 412, 412]


def plain_merge_patch(target: Any, patch: Any) -> Any:
    """RFC 7396, section 2, as it stands there."""
    if not isinstance(patch, dict):
        return patch
    target = dict(target) if isinstance(target, dict) else {}
    for name, value in patch.items():
        if value is None:
            target.pop(name, None)
        else:
            target[name] = plain_merge_patch(target.get(name), value)
    return target


def without_null(value: Any) -> Any:
    if not isinstance(value, dict):
        return value
    return {name: without_null(one) for name, one in value.items() if one is not None}


names = st.sampled_from("abc")
documents = st.recursive(
    st.none() | st.integers(0, 3) | st.lists(st.integers(0, 3), max_size=2),
    lambda inner: st.dictionaries(names, inner, max_size=3),
    max_leaves=8,
)


@given(st.dictionaries(names, documents), st.dictionaries(names, documents))
def test_merging_follows_the_standard_with_null_for_no_value(standing: Any, patch: Any) -> None:
    standing = without_null(standing)
    assert without_null(merged(standing, patch)) == without_null(plain_merge_patch(standing, patch))
