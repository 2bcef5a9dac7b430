"""The description of the records against what they answer and what they take."""

from typing import Any

import pytest
from drf_spectacular.drainage import GENERATOR_STATS
from drf_spectacular.generators import SchemaGenerator
from jsonschema import Draft202012Validator
from rest_framework.test import APIClient

from tests.api.records import EVERY, MASTER_DATA, WRITABLE, Resource, post
from tests.conftest import ClientFor
from tests.examples import IS_LONG

pytestmark = pytest.mark.django_db

NASTY: list[Any] = [
    None,
    True,
    0,
    -1,
    7.5,
    40_000,
    10**30,
    1e300,
    0.1234567,
    "",
    "' --",
    "é" * 3_000,
    "\u202e\u200b",
    "..",
    "2024-02-30",
    "0001-01-01T00:00:00+23:59",
    "9999-12-31T23:59:59-23:59",
    [None],
    {},
    {"pitch_mm": 12.7},
]


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    GENERATOR_STATS.reset()
    built: dict[str, Any] = SchemaGenerator().get_schema(request=None, public=True)
    return built


def each(resources: list[Resource]) -> Any:
    return pytest.mark.parametrize("resource", resources, ids=lambda one: one.name)


def validator(document: dict[str, Any], schema: dict[str, Any]) -> Draft202012Validator:
    return Draft202012Validator({**schema, "components": document["components"]})


def operation(document: dict[str, Any], path: str, method: str) -> dict[str, Any]:
    found: dict[str, Any] = document["paths"][path][method]
    return found


def answer_of(document: dict[str, Any], path: str, method: str, status: str) -> Draft202012Validator:
    content = operation(document, path, method)["responses"][status]["content"]
    return validator(document, content["application/json"]["schema"])


def body_of(document: dict[str, Any], path: str, method: str) -> Draft202012Validator:
    content = operation(document, path, method)["requestBody"]["content"]
    return validator(document, content["application/json"]["schema"])


def single(document: dict[str, Any], resource: Resource) -> str:
    return next(
        path
        for path in document["paths"]
        if path.startswith(f"{resource.path}{{") and path.count("/") == resource.path.count("/") + 1
    )


def test_nothing_is_left_to_a_guess(document: dict[str, Any]) -> None:
    warned = [*GENERATOR_STATS._warn_cache, *GENERATOR_STATS._error_cache]
    assert [one for one in warned if "resources" in str(one)] == []


@each(EVERY)
def test_what_it_answers_is_as_described(
    resource: Resource, document: dict[str, Any], as_viewer: APIClient
) -> None:
    key = resource.make(0)
    answer_of(document, resource.path, "get", "200").validate(as_viewer.get(resource.path).json())
    found = as_viewer.get(resource.address(key)).json()
    answer_of(document, single(document, resource), "get", "200").validate(found)


@each(WRITABLE)
def test_what_it_takes_and_gives_back_is_as_described(
    resource: Resource, document: dict[str, Any], client_for: ClientFor
) -> None:
    body = resource.body()
    body_of(document, resource.path, "post").validate(body)
    made = post(client_for(resource.role), resource.path, body)
    answer_of(document, resource.path, "post", "201").validate(made.json())


def properties(document: dict[str, Any], path: str, method: str) -> dict[str, Any]:
    named = body_of(document, path, method).schema["$ref"].rpartition("/")[2]
    found: dict[str, Any] = document["components"]["schemas"][named]["properties"]
    return found


def passed(response: Any, value: Any, members: dict[str, Any]) -> dict[str, Any]:
    """The members in which the value was not refused."""
    refused = {row["pointer"].split("/")[1] for row in response.json().get("errors", ()) if row["pointer"]}
    return {name: value for name in members if name not in refused}


@each(WRITABLE)
def test_no_value_makes_it_fail_or_passes_undescribed(
    resource: Resource, document: dict[str, Any], client_for: ClientFor
) -> None:
    client, body = client_for(resource.role), resource.body()
    members = properties(document, resource.path, "post")
    known = operation(document, resource.path, "post")["responses"]
    for n, value in enumerate(NASTY):
        response = post(client, resource.path, dict.fromkeys(members, value), key=f"all-{n}")
        assert str(response.status_code) in known, (value, response.content)
        taken = passed(response, value, members)
        for name in taken:
            assert validator(document, members[name]).is_valid(value), (name, value)
        if taken:
            saved = post(client, resource.path, body | taken, key=f"taken-{n}")
            assert saved.status_code in (201, 400, 409), (taken, saved.content)


@each(MASTER_DATA)
def test_no_change_makes_it_fail_or_passes_undescribed(
    resource: Resource, document: dict[str, Any], as_manager: APIClient
) -> None:
    read = as_manager.get(resource.address(resource.make(0)))
    path, etag = resource.address(read.json()["id"]), read["ETag"]
    members = properties(document, single(document, resource), "patch")

    def change(body: dict[str, Any]) -> Any:
        nonlocal etag
        response = as_manager.patch(path, body, HTTP_IF_MATCH=etag)
        etag = response.get("ETag", etag)
        return response

    for value in NASTY:
        response = change(dict.fromkeys(members, value))
        assert response.status_code in (200, 400), (value, response.content)
        taken = passed(response, value, members)
        for name in taken:
            assert validator(document, members[name]).is_valid(value), (name, value)
        if taken:
            saved = change(taken)
            assert saved.status_code in (200, 400, 409), (taken, saved.content)


QUERIES = (
    "0",
    "-1",
    "1e5",
    "9" * 15,
    "9" * 40,
    "true",
    "x,y",
    "%",
    "'",
    "☃",
    "2024-03-04T06:30:00Z",
    "9999-12-31",
)


@each(EVERY)
def test_no_filter_makes_it_fail(resource: Resource, document: dict[str, Any], as_viewer: APIClient) -> None:
    """All at once, and each alone with a third of the values; `PROOF=long` asks each alone with all."""
    resource.make(0)
    parameters = operation(document, resource.path, "get")["parameters"]
    filters = {one["name"] for one in parameters if one["in"] == "query"} - {"format"}
    for turn, value in enumerate(QUERIES):
        response = as_viewer.get(resource.path, dict.fromkeys(filters, value))
        refused = {row["parameter"] for row in response.json()["errors"]}
        taken = dict.fromkeys(sorted(filters - refused - {"cursor"}), value)
        assert as_viewer.get(resource.path, taken).status_code == 200, taken
        for place, name in enumerate(taken):
            if IS_LONG or (place + turn) % 3 == 0:
                assert as_viewer.get(resource.path, {name: value}).status_code == 200, (name, value)
