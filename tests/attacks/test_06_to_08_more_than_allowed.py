"""Attacks 6 to 8: members that are not for the caller, roles that only read."""

from typing import Any

import pytest
from rest_framework.test import APIClient

from inventory.models import Item, StockLevel
from tests import factories as make
from tests.api.records import MASTER_DATA, WRITABLE, Resource, change, errors, post
from tests.conftest import ClientFor

pytestmark = pytest.mark.django_db
NOT_THEIRS: dict[str, Any] = {
    "id": 4,
    "pk": 4,
    "created_at": "2020-01-01T00:00:00Z",
    "created_by": "x",
    "is_staff": True,
    "on_hand": 900,
    "site_id": 2,
    "__class__": "x",
    "_state": {},
}


def each(resources: list[Resource]) -> Any:
    return pytest.mark.parametrize("resource", resources, ids=lambda one: one.name)


@each(MASTER_DATA)
@pytest.mark.parametrize("method", ["patch", "put"])
def test_06_members_that_are_not_the_callers_are_each_refused(
    resource: Resource, method: str, as_manager: APIClient
) -> None:
    path = resource.address(resource.make(0))
    before = as_manager.get(path).json()
    body = (before if method == "put" else {}) | NOT_THEIRS
    response = change(as_manager, path, body, method)
    assert response.status_code == 400
    refused = set(errors(response))
    assert {f"/{name}" for name in NOT_THEIRS if name not in before} <= refused
    assert "/id" in refused
    assert as_manager.get(path).json() == before


def test_07_what_the_ledger_says_is_not_put(as_manager: APIClient) -> None:
    item = make.ItemFactory()
    make.stock(item, make.StoreroomFactory(), 3)
    path = f"/api/v1/items/{item.stock_number}/"
    body = as_manager.get(path).json() | {"on_hand": 900, "available": 900}
    assert "/on_hand" in errors(change(as_manager, path, body, "put"))
    level = StockLevel.objects.get()
    assert as_manager.patch(f"/api/v1/stock/{level.pk}/", {"on_hand": 900}).status_code == 405
    assert level.on_hand == 3


@each(WRITABLE)
def test_08_a_reader_writes_nothing(resource: Resource, as_viewer: APIClient) -> None:
    response = post(as_viewer, resource.path, resource.body())
    assert (response.status_code, response["Content-Type"]) == (403, "application/problem+json")


@pytest.mark.parametrize("path", ["imports/?kind=items", "stocking/runs/", "recommendations/1/accept/"])
def test_08_a_reader_begins_nothing(path: str, as_viewer: APIClient) -> None:
    assert as_viewer.post(f"/api/v1/{path}", {}).status_code == 403


@pytest.mark.parametrize("path", ["supply-orders/erp/1/", "stocking/terms/", "work-orders/erp/1/"])
def test_08_a_reader_puts_nothing(path: str, as_viewer: APIClient) -> None:
    response = as_viewer.put(f"/api/v1/{path}", {})
    assert response.status_code in (403, 404)
    if response.status_code == 404:
        pytest.skip("the address is not there yet")


@pytest.mark.parametrize("role", ["viewer", "storeroom", "integration"])
def test_the_log_of_changes_is_for_managers(role: str, client_for: ClientFor) -> None:
    assert client_for(role).get("/api/v1/changes/").status_code == 403


@pytest.mark.parametrize(
    "header", ["HTTP_X_HTTP_METHOD_OVERRIDE", "HTTP_X_METHOD_OVERRIDE", "HTTP_X_HTTP_METHOD"]
)
def test_40_no_header_and_no_member_turns_one_method_into_another(header: str, as_manager: APIClient) -> None:
    item = make.ItemFactory()
    path = f"/api/v1/items/{item.stock_number}/"
    assert as_manager.post(path, {}, **{header: "DELETE"}, HTTP_IF_MATCH="*").status_code == 405
    assert as_manager.post(f"{path}?_method=DELETE", {}, HTTP_IF_MATCH="*").status_code in (400, 405)
    assert as_manager.get(path, **{header: "DELETE"}, HTTP_IF_MATCH="*").status_code == 200
    assert Item.objects.exists()


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PROPFIND", "get", "FOO", "TRACK"])
@pytest.mark.parametrize("path", ["/api/v1/items/", "/api/v1/", "/healthz", "/", "/login/"])
def test_40_methods_that_are_none_are_refused(method: str, path: str, as_manager: APIClient) -> None:
    as_manager.force_login(make.UserFactory())
    response = as_manager.generic(method, path, HTTP_X_PROBE="shown back")
    if method == "get":
        assert response.status_code in (200, 302, 401, 405)
    else:
        assert response.status_code == 405
        assert response["Allow"]
    assert b"shown back" not in response.content


@pytest.mark.parametrize("path", ["/api/", "/api/v0/items/", "/api/v2/items/", "/api/items/", "/v1/items/"])
def test_40_no_other_version_answers(path: str, as_manager: APIClient) -> None:
    assert as_manager.get(path).status_code == 404
