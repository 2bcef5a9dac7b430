"""The document explains itself: every operation, member, parameter and answer has its words, and each vocabulary stands once."""

import inspect
from collections import Counter
from collections.abc import Iterator
from typing import Any

import pytest
from jsonschema import Draft202012Validator

from api.edge import schema
from api.edge.openapi.names import every_schema, words_of
from api.edge.openapi.operations import operations
from api.edge.openapi.tables import members, summaries, vocabularies
from api.edge.openapi.words import base_of
from api.edge.viewsets import StrictAPIView
from tests.api.answer_schemas import validator

LONGEST_SUMMARY = 60


@pytest.fixture(scope="module")
def document() -> dict[str, Any]:
    return schema.document()


def test_every_operation_has_a_summary_a_description_and_an_example(document: dict[str, Any]) -> None:
    for path, method, one in operations(document):
        assert 0 < len(one["summary"]) <= LONGEST_SUMMARY, (path, method)
        assert one["description"].strip(), (path, method)
        assert one["description"] != inspect.getdoc(StrictAPIView), (path, method)
        assert list(examples_of(document, one)), (path, method)


def examples_of(document: dict[str, Any], operation: dict[str, Any]) -> Iterator[tuple[dict[str, Any], Any]]:
    """Each example with its schema: of the body, of the answers, else of the address."""
    contents = [operation.get("requestBody", {}).get("content", {})]
    contents += [answer.get("content", {}) for answer in operation["responses"].values()]
    for one in (one for content in contents for one in content.values()):
        if "example" in one:
            yield one["schema"], one["example"]
        for example in one.get("examples", {}).values():
            name = example["$ref"].rpartition("/")[2]
            yield one["schema"], document["components"]["examples"][name]["value"]
    for one in operation["parameters"]:
        if "example" in one:
            yield one["schema"], one["example"]


def test_every_example_is_as_its_schema_says(document: dict[str, Any]) -> None:
    seen = set()
    for path, method, operation in operations(document):
        for described, example in examples_of(document, operation):
            key = str((described, example))
            if key not in seen:
                seen.add(key)
                faults = list(validator(document, described).iter_errors(example))
                assert faults == [], (path, method, faults[0].json_path)


def test_an_operation_is_called_by_a_verb_and_what_it_acts_on(document: dict[str, Any]) -> None:
    ids = [one["operationId"] for _, _, one in operations(document)]
    assert [name for name, times in Counter(ids).items() if times > 1] == []
    assert {name.partition("_")[0] for name in ids} == VERBS
    assert all("_" in name for name in ids)


VERBS = set(
    "accept amend answer approve back_test book calculate change check compare create decline delete discard drop "
    "evaluate find fit give identify import judge list merge read record release reopen replace replay request reserve "
    "retract retry reverse rotate run send set start subscribe undo withdraw write".replace(
        "back_test", "back"
    ).split()
)


def properties(document: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    for one in every_schema(document["components"]["schemas"]):
        if isinstance(one.get("properties"), dict):
            yield from one["properties"].items()


def test_every_member_has_a_word(document: dict[str, Any]) -> None:
    assert {name for name, one in properties(document) if not one.get("description")} == set()


def test_every_parameter_and_every_answer_has_a_word(document: dict[str, Any]) -> None:
    for path, method, one in operations(document):
        assert all(given["description"] for given in one["parameters"]), (path, method)
        assert all("$ref" in answer or answer["description"] for answer in one["responses"].values())


def test_no_word_is_written_for_a_member_that_is_not_there(document: dict[str, Any]) -> None:
    named = {name for name, _ in properties(document)}
    asked = {one["name"] for _, _, operation in operations(document) for one in operation["parameters"]}
    asked |= {name.removesuffix("__gte").removesuffix("__lte") for name in asked}
    components: dict[str, set[str]] = {}
    for name, one in document["components"]["schemas"].items():
        components.setdefault(base_of(name), set()).update(one.get("properties", {}))
    for key in members():
        component, _, member = key.rpartition(".")
        assert member in (components.get(component, set()) if component else named | asked), key
    paths = {(method, path.removeprefix("/api/v1/")) for path, method, _ in operations(document)}
    assert set(summaries()) <= paths


def test_each_vocabulary_is_one_component_and_null_stands_beside_it(document: dict[str, Any]) -> None:
    listed = document["components"]["schemas"]
    found = [one for one in every_schema(document) if isinstance(one.get("enum"), list)]
    assert [one["enum"] for one in found if None in one["enum"]] == []
    sets = Counter(words_of(one) for one in found if len(one["enum"]) > 1)
    assert [set(words) for words, times in sets.items() if times > 1] == []
    assert set(vocabularies()) <= set(listed)


def test_no_class_says_request_or_body_twice(document: dict[str, Any]) -> None:
    names = document["components"]["schemas"]
    assert [name for name in names if "RequestRequest" in name or "BodyRequest" in name] == []


def test_the_headers_of_answers_are_described_once(document: dict[str, Any]) -> None:
    paths, parts = document["paths"], document["components"]
    created = paths["/api/v1/movements/"]["post"]["responses"]["201"]["headers"]
    assert {"ETag", "Location", "Idempotency-Replayed", "RateLimit", "X-Request-Id"} <= set(created)
    read = paths["/api/v1/items/{id}/"]["get"]["responses"]["200"]["headers"]
    assert read["ETag"] == {"$ref": "#/components/headers/ETag"}
    assert "Link" in paths["/api/v1/items/"]["get"]["responses"]["200"]["headers"]
    assert "Retry-After" in parts["responses"]["TooManyRequests"]["headers"]
    assert all(one["description"] for one in parts["headers"].values())


def test_each_event_has_its_schema_in_the_feed_and_for_webhooks(document: dict[str, Any]) -> None:
    parts = document["components"]["schemas"]
    types = parts["EventType"]["enum"]
    assert list(parts["Event"]["discriminator"]["mapping"]) == types == list(document["webhooks"])
    moved = parts["StockMovedData"]
    assert moved["properties"]["change"]["type"] == "integer"
    address = document["webhooks"]["stock.moved"]["post"]["requestBody"]["content"]["application/json"][
        "schema"
    ]
    assert address == {"$ref": "#/components/schemas/StockMovedMessage"}
    Draft202012Validator.check_schema(parts["StockMovedMessage"])
