from collections.abc import Iterator
from typing import Any

import pytest
from drf_spectacular.generators import SchemaGenerator
from openapi_spec_validator import OpenAPIV31SpecValidator
from rest_framework.test import APIClient

from api.edge import schema
from api.edge.openapi.operations import operations
from api.edge.openapi.responses import ALWAYS, BY_METHOD, response_name
from api.wording.sentences import SENTENCES

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def built_anew() -> Iterator[None]:
    schema.document.cache_clear()
    yield
    schema.document.cache_clear()


@pytest.fixture(scope="module")
def tried() -> dict[str, Any]:
    """The document of the site on which the edges are tried."""
    built: dict[str, Any] = SchemaGenerator(urlconf="tests.api.edge.edge_site").get_schema(
        request=None, public=True
    )
    return built


@pytest.mark.sqlite
def test_it_is_a_valid_openapi_3_1_document(as_viewer: APIClient) -> None:
    document = as_viewer.get("/api/v1/schema/").json()
    assert document["openapi"].startswith("3.1")
    OpenAPIV31SpecValidator(document).validate()


def test_every_code_of_a_fact_is_listed_with_its_english_template() -> None:
    built = schema.document()
    listed = built["components"]["schemas"]["FactCode"]
    check = built["components"]["schemas"]["Check"]["properties"]

    assert check["code"]["$ref"] == "#/components/schemas/FactCode"
    assert listed["enum"] == sorted(SENTENCES)
    assert "- `teeth_equal`: {teeth} teeth, as required." in listed["description"]


@pytest.mark.sqlite
@pytest.mark.urls("tests.api.edge.edge_site")
def test_the_edges_are_described_validly(tried: dict[str, Any]) -> None:
    OpenAPIV31SpecValidator(tried).validate()


@pytest.mark.parametrize("address", ["/api/v1/schema/", "/api/v1/"])
def test_a_stranger_reads_none_of_it(as_stranger: APIClient, address: str) -> None:
    assert as_stranger.get(address).status_code == 401


def test_every_operation_names_its_refusals(tried: dict[str, Any]) -> None:
    for path, method, operation in operations(tried):
        for code in (*ALWAYS, *BY_METHOD[method]):
            name = operation["responses"][str(code)]["$ref"].rpartition("/")[2]
            assert name == response_name(code), (path, method)
            assert list(tried["components"]["responses"][name]["content"]) == ["application/problem+json"]


def headers(operation: dict[str, Any]) -> dict[str, bool]:
    return {one["name"]: one["required"] for one in operation["parameters"] if one["in"] == "header"}


def test_the_headers_of_the_edges_are_described(tried: dict[str, Any]) -> None:
    paths = tried["paths"]
    assert headers(paths["/api/v1/try/people/"]["post"]) == {"Idempotency-Key": False}
    assert headers(paths["/api/v1/try/groups/"]["post"]) == {"Idempotency-Key": True}
    assert headers(paths["/api/v1/try/groups/blocked/"]["post"]) == {"Idempotency-Key": True}
    assert headers(paths["/api/v1/try/people/{id}/"]["patch"]) == {"If-Match": True}
    assert headers(paths["/api/v1/try/people/{id}/"]["get"]) == {"If-None-Match": False}


def test_filters_are_described(tried: dict[str, Any]) -> None:
    for path in ("/api/v1/try/people/", "/api/v1/try/groups/{id}/members/"):
        found = {one["name"]: one for one in tried["paths"][path]["get"]["parameters"]}
        assert {"id", "id__gte", "id__lte", "q", "limit", "cursor", "ordering", "first_name"} <= set(found)
        assert found["id__gte"]["schema"] == {"type": "integer", "minimum": 0, "maximum": 10**9}


def test_query_forms_are_described(tried: dict[str, Any]) -> None:
    parameters = tried["paths"]["/api/v1/try/teeth/"]["get"]["parameters"]
    assert [(one["name"], one["required"]) for one in parameters] == [("teeth", True), ("strands", False)]


def test_bodies_take_no_unknown_members(tried: dict[str, Any]) -> None:
    assert tried["components"]["schemas"]["PersonRequest"]["additionalProperties"] is False


def test_the_index_lists_addresses_that_answer(as_viewer: APIClient) -> None:
    found = as_viewer.get("/api/v1/").json()
    assert {"schema", "docs"} <= set(found)
