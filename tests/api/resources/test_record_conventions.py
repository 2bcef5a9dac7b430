"""What holds for every record alike."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from tests.api.records import ACTS, EVERY, MASTER_DATA, STOCK, WRITABLE, Resource, change, errors, post
from tests.conftest import ClientFor

pytestmark = pytest.mark.django_db


def each(resources: list[Resource]) -> Any:
    return pytest.mark.parametrize("resource", resources, ids=lambda one: one.name)


@each(EVERY)
def test_a_viewer_reads_a_list_and_each_of_its_records(resource: Resource, as_viewer: APIClient) -> None:
    key = resource.make(0)
    listed = as_viewer.get(resource.path)
    assert listed.status_code == 200
    found = as_viewer.get(resource.address(key))
    assert found.status_code == 200
    assert found.json() in listed.json()["results"]
    assert as_viewer.get(resource.address(found.json()["id"])).json() == found.json()


@each(EVERY)
def test_a_stranger_reads_and_writes_nothing(resource: Resource, as_stranger: APIClient) -> None:
    key = resource.make(0)
    for path in (resource.path, resource.address(key)):
        assert as_stranger.get(path).status_code == 401
    assert post(as_stranger, resource.path, {}).status_code == 401


@each(EVERY)
def test_what_is_not_there_is_not_found(resource: Resource, as_viewer: APIClient) -> None:
    for key in ("0", "99999999", "9" * 40, "nowhere", "%00", "%ff", "a.b", "☃"):
        response = as_viewer.get(resource.address(key))
        assert (response.status_code, response["Content-Type"]) == (404, "application/problem+json")


@each(EVERY)
@pytest.mark.parametrize("query", ["nosuch=1", "q=", "limit=0", "ordering=note__x", "cursor=x", "id__foo=1"])
def test_a_query_that_is_not_understood_is_refused(
    resource: Resource, query: str, as_viewer: APIClient
) -> None:
    response = as_viewer.get(f"{resource.path}?{query}")
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == query.split("=", maxsplit=1)[0]


@each(EVERY)
def test_a_list_costs_the_same_queries_however_long(
    resource: Resource, as_viewer: APIClient, django_assert_num_queries: Any
) -> None:
    for n in range(3):
        resource.make(n)
    with django_assert_num_queries(resource.queries):
        response = as_viewer.get(resource.path)
    assert len(response.json()["results"]) >= 3


@each(EVERY)
def test_a_list_is_walked_page_by_page_without_loss(resource: Resource, as_viewer: APIClient) -> None:
    for n in range(3):
        resource.make(n)
    whole = [row["id"] for row in as_viewer.get(resource.path).json()["results"]]
    walked, address = [], f"{resource.path}?limit=2"
    while address:
        page = as_viewer.get(address).json()
        walked += [row["id"] for row in page["results"]]
        address = page["next"]
    assert walked == whole


@each(EVERY)
def test_every_order_that_is_offered_can_be_walked(resource: Resource, as_viewer: APIClient) -> None:
    for n in range(3):
        resource.make(n)
    hint = as_viewer.get(f"{resource.path}?ordering=nothing").json()["errors"][0]["detail"]
    offered = hint.partition("ordered by ")[2].rstrip(".").split(", ")
    assert offered
    for name in [*offered, *(f"-{name}" for name in offered)]:
        first = as_viewer.get(f"{resource.path}?ordering={name}&limit=2").json()
        assert as_viewer.get(first["next"]).status_code == 200


@each(EVERY)
def test_a_known_version_is_not_sent_again(resource: Resource, as_viewer: APIClient) -> None:
    path = resource.address(resource.make(0))
    etag = as_viewer.get(path)["ETag"]
    response = as_viewer.get(path, HTTP_IF_NONE_MATCH=etag)
    assert (response.status_code, response.content) == (304, b"")


@each(WRITABLE)
def test_a_post_answers_with_the_record_and_its_address(resource: Resource, client_for: ClientFor) -> None:
    client = client_for(resource.role)
    response = post(client, resource.path, resource.body())
    assert response.status_code == 201, response.content
    found = client.get(response["Location"])
    assert (found.json(), found["ETag"]) == (response.json(), response["ETag"])


@each([one for one in WRITABLE if one.by_integration])
def test_an_integration_may_write_too(resource: Resource, as_integration: APIClient) -> None:
    assert post(as_integration, resource.path, resource.body()).status_code == 201


@each(WRITABLE)
def test_a_repeated_post_has_one_effect(resource: Resource, client_for: ClientFor) -> None:
    client, body = client_for(resource.role), resource.body()
    first = post(client, resource.path, body)
    count = len(client.get(resource.path).json()["results"])
    again = post(client, resource.path, body)
    assert (again.status_code, again.content) == (201, first.content)
    assert again["Idempotency-Replayed"] == "true"
    assert len(client.get(resource.path).json()["results"]) == count


@each(WRITABLE)
def test_the_wrong_role_may_not_write(resource: Resource, client_for: ClientFor) -> None:
    body, key = resource.body(), resource.make(0)
    for role in {resource.refused, "viewer"}:
        client = client_for(role)
        assert post(client, resource.path, body).status_code == 403
        if resource in MASTER_DATA:
            assert change(client, resource.address(key), resource.change).status_code == 403
            assert client.delete(resource.address(key), HTTP_IF_MATCH="*").status_code == 403


@each(WRITABLE)
def test_unknown_and_read_only_members_are_refused_together(
    resource: Resource, client_for: ClientFor
) -> None:
    body = resource.body() | {"colour": "red", "id": 7, "created_at": "2024-03-04T06:30:00Z"}
    response = post(client_for(resource.role), resource.path, body)
    assert response.status_code == 400
    assert {"/colour", "/id"} <= set(errors(response))


@each(WRITABLE)
@pytest.mark.parametrize("body", [[], ["x"], {"item": {}}, {"tag": []}, {"code": 7, "storeroom": True}])
def test_no_body_makes_it_fail(resource: Resource, body: Any, client_for: ClientFor) -> None:
    assert post(client_for(resource.role), resource.path, body).status_code == 400


@each(WRITABLE)
def test_members_of_the_wrong_type_are_each_named(resource: Resource, client_for: ClientFor) -> None:
    body = resource.body()
    response = post(client_for(resource.role), resource.path, {name: {"x": [1]} for name in body})
    assert response.status_code == 400
    found = {pointer.split("/")[1] for pointer in errors(response)}
    assert set(body) <= found


@each([one for one in WRITABLE if one.needs_key])
def test_what_moves_stock_needs_a_key(resource: Resource, as_storeroom: APIClient) -> None:
    response = as_storeroom.post(resource.path, resource.body())
    assert response.status_code == 400
    assert response.json()["errors"][0]["parameter"] == "Idempotency-Key"


@each(MASTER_DATA)
def test_a_change_names_the_version_that_it_was_made_from(resource: Resource, as_manager: APIClient) -> None:
    path = resource.address(resource.make(0))
    etag = as_manager.get(path)["ETag"]
    assert as_manager.patch(path, resource.change).status_code == 428
    changed = as_manager.patch(path, resource.change, HTTP_IF_MATCH=etag)
    assert changed.status_code == 200, changed.content
    assert resource.change.items() <= changed.json().items()
    assert as_manager.get(path)["ETag"] == changed["ETag"] != etag
    assert as_manager.patch(path, resource.change, HTTP_IF_MATCH=etag).status_code == 412


def unstamped(record: Any) -> Any:
    if not isinstance(record, dict):
        return record
    return {name: unstamped(value) for name, value in record.items() if name != "updated_at"}


@each(MASTER_DATA)
def test_what_was_read_can_be_put_back(resource: Resource, as_manager: APIClient) -> None:
    path = resource.address(resource.make(0))
    before = as_manager.get(path).json()
    response = change(as_manager, path, before, "put")
    assert response.status_code == 200, response.content
    assert unstamped(response.json()) == unstamped(before)


@each(MASTER_DATA)
def test_an_unused_record_can_be_deleted(resource: Resource, as_manager: APIClient) -> None:
    made = post(as_manager, resource.path, resource.body())
    path = resource.address(made.json()["id"])
    assert as_manager.delete(path).status_code == 428
    assert as_manager.delete(path, HTTP_IF_MATCH=made["ETag"]).status_code == 204
    assert as_manager.get(path).status_code == 404


@each([*ACTS, STOCK])
@pytest.mark.parametrize("method", ["put", "patch", "delete"])
def test_what_was_booked_stays_as_it_is(resource: Resource, method: str, as_integration: APIClient) -> None:
    path = resource.address(resource.make(0))
    response = getattr(as_integration, method)(path, {}, HTTP_IF_MATCH="*")
    assert response.status_code == 405
    assert response["Allow"] == "GET, HEAD, OPTIONS"
