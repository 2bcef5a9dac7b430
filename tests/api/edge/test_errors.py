from collections.abc import Mapping
from typing import Any

import pytest
from django.contrib.auth.models import Group
from django.core.exceptions import ValidationError
from django.db import DataError, IntegrityError, OperationalError, transaction
from rest_framework.exceptions import Throttled
from rest_framework.test import APIClient

from api.edge.errors import flatten, pointer, problem_response, translate
from api.models import AccessToken, IdempotencyRecord
from inventory.facts import fact
from inventory.plumbing.record_validation import RecordRefusal

pytestmark = [pytest.mark.django_db, pytest.mark.urls("tests.api.edge.edge_site")]

PEOPLE = "/api/v1/try/people/"
FAULT = "/api/v1/try/fault/"


def check_problem(response: Any, status: int, slug: str) -> Mapping[str, Any]:
    assert response.status_code == status, response.content
    assert response["Content-Type"] == "application/problem+json"
    body: Mapping[str, Any] = response.json()
    assert {"type", "title", "status", "detail", "instance"} <= set(body)
    assert (body["status"], body["type"]) == (status, f"/problems/{slug}")
    return body


@pytest.mark.parametrize(
    ("method", "path", "extra", "status", "slug"),
    [
        ("get", "/api/v1/nowhere/", {}, 404, "not-found"),
        ("get", PEOPLE + "999/", {}, 404, "not-found"),
        ("get", PEOPLE + "x/", {}, 404, "not-found"),
        ("get", PEOPLE + "9" * 30 + "/", {}, 404, "not-found"),
        ("get", PEOPLE + "%00/", {}, 404, "not-found"),
        ("get", PEOPLE + "%ff/", {}, 404, "not-found"),
        ("patch", PEOPLE, {}, 405, "method"),
        ("trace", PEOPLE, {}, 405, "method"),
        ("get", PEOPLE, {"HTTP_ACCEPT": "image/png"}, 406, "not-acceptable"),
        ("get", PEOPLE + "?format=pdf", {}, 406, "not-acceptable"),
        ("post", PEOPLE, {"data": "a=1", "content_type": "text/plain"}, 415, "media-type"),
        ("post", PEOPLE, {"data": "{", "content_type": "application/json"}, 400, "validation"),
        ("get", PEOPLE + "?limt=3", {}, 400, "validation"),
        ("delete", PEOPLE + "999/", {}, 404, "not-found"),
        ("post", PEOPLE.rstrip("/"), {"data": "{}", "content_type": "application/json"}, 404, "not-found"),
    ],
)
def test_it_answers_every_error_as_a_problem(
    as_manager: APIClient, method: str, path: str, extra: dict[str, Any], status: int, slug: str
) -> None:
    check_problem(as_manager.generic(method.upper(), path, **extra), status, slug)


@pytest.mark.parametrize(("query", "accept"), [("?format=pdf", "*/*"), ("", "application/xml")])
def test_it_says_which_forms_there_are(as_manager: APIClient, query: str, accept: str) -> None:
    refused = as_manager.get(PEOPLE + query, HTTP_ACCEPT=accept)
    assert refused.status_code == 406
    assert "?format=csv" in refused.json()["detail"]


def test_it_answers_a_stranger_with_a_problem(as_stranger: APIClient) -> None:
    response = as_stranger.get(PEOPLE)
    check_problem(response, 401, "authentication")
    assert response["WWW-Authenticate"] == 'Bearer realm="api"'


def test_it_says_which_methods_are_taken(as_manager: APIClient) -> None:
    assert "POST" in as_manager.patch(PEOPLE, {})["Allow"]


def test_it_never_shows_what_failed_inside(as_manager: APIClient) -> None:
    as_manager.raise_request_exception = False
    response = as_manager.get(FAULT, {"kind": "x"}, HTTP_X_REQUEST_ID="my-id")
    body = check_problem(response, 500, "internal")
    assert "my-id" in body["detail"]
    assert "secret of the house" not in response.content.decode()


def test_it_refuses_a_body_larger_than_it_reads(as_manager: APIClient, settings: Any) -> None:
    settings.DATA_UPLOAD_MAX_MEMORY_SIZE = 100
    response = as_manager.post(PEOPLE, {"username": "x" * 100})
    check_problem(response, 413, "too-large")


def test_it_names_the_parameter_that_a_core_refuses(as_manager: APIClient) -> None:
    body = check_problem(as_manager.get(FAULT, {"kind": "core"}), 400, "validation")
    (row,) = body["errors"]
    assert row["pointer"] == "/required/shaft/diameter_mm"
    assert row["detail"] == "`diameter_mm` must be positive, not -1."


def test_the_refusal_of_a_number_has_its_code_and_limits(as_manager: APIClient) -> None:
    body = check_problem(as_manager.get(FAULT, {"kind": "number"}), 400, "validation")
    (row,) = body["errors"]
    assert (row["pointer"], row["code"], row["values"]) == (
        "/required/teeth",
        "below_least",
        {"value": 2, "least": 5, "most": 300},
    )
    assert (body["code"], body["values"]) == (row["code"], row["values"])


def test_a_refusal_has_code_and_values_at_the_top_and_in_its_row() -> None:
    refusal = translate(RecordRefusal(fact("value_negative", field="unit_price"), field="unit_price"))
    assert refusal is not None
    body = problem_response(refusal, None).data
    row = {"code": "value_negative", "values": {"field": "unit_price"}}
    assert body["errors"] == [{"pointer": "/unit_price", "detail": "unit_price must be 0 or more.", **row}]
    assert {name: body[name] for name in row} == row


def test_other_refusals_have_a_code_too(as_manager: APIClient) -> None:
    body = check_problem(as_manager.get(f"{PEOPLE}999999/"), 404, "not-found")
    assert (body["code"], body["values"]) == ("not_found", {})


def test_it_takes_pointers_as_given(as_manager: APIClient) -> None:
    body = check_problem(as_manager.get(FAULT, {"kind": "pointers"}), 400, "validation")
    assert [one["pointer"] for one in body["errors"]] == ["/lines/3", "/a~1b", "/a~1b"]


def test_it_keeps_extra_members_of_a_conflict(as_manager: APIClient) -> None:
    response = as_manager.post("/api/v1/try/groups/blocked/", {}, HTTP_IDEMPOTENCY_KEY="k")
    assert check_problem(response, 409, "conflict")["remedies"] == [{"action": "found"}]


def test_it_names_what_still_holds_a_record(as_manager: APIClient) -> None:
    held = Group.objects.create(name="held")
    response = as_manager.delete(f"/api/v1/try/groups/{held.pk}/", HTTP_IF_MATCH="*")
    body = check_problem(response, 409, "conflict")
    assert body["detail"] == "It is still in use by user ann."
    assert body["blockers"] == [{"kind": "user", "name": "ann"}]


def test_it_calls_a_taken_name_a_conflict_with_a_pointer(as_manager: APIClient) -> None:
    as_manager.post(PEOPLE, {"username": "ann"})
    body = check_problem(as_manager.post(PEOPLE, {"username": "ann"}), 409, "conflict")
    assert body["errors"][0]["pointer"] == "/username"


def test_it_turns_a_lost_race_for_a_name_into_a_conflict(as_manager: APIClient) -> None:
    check_problem(as_manager.get(FAULT, {"kind": "unique"}), 409, "conflict")


@pytest.mark.parametrize("kind", ["overflow", "recursion"])
def test_it_refuses_what_is_too_large_or_too_deep(as_manager: APIClient, kind: str) -> None:
    check_problem(as_manager.get(FAULT, {"kind": kind}), 400, "validation")


def test_it_says_a_broken_check_in_the_words_of_its_constraint() -> None:
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        AccessToken.objects.create(name="x", role="king", digest="d", prefix="p")
    refusal = translate(caught.value)
    assert refusal is not None
    body = problem_response(refusal, None).data
    assert body["status"] == 400
    assert body["detail"] == "The role of a token must be storeroom, manager, integration or viewer."
    assert body["code"] in {one.name for one in AccessToken._meta.constraints}
    assert body["errors"][0]["code"] == body["code"]


def test_it_says_a_broken_uniqueness_in_the_words_of_its_constraint() -> None:
    fields = {"caller": "c", "key": "k", "operation": "o", "body_digest": "b", "state": "done", "body": ""}
    IdempotencyRecord.objects.create(status=201, **fields)
    with pytest.raises(IntegrityError) as caught, transaction.atomic():
        IdempotencyRecord.objects.create(status=201, **fields)
    refusal = translate(caught.value)
    assert refusal is not None
    assert (refusal.status_code, str(refusal.detail)) == (409, "This idempotency key is in use.")
    body = problem_response(refusal, None).data
    assert body["code"] in {one.name for one in IdempotencyRecord._meta.constraints}


def test_it_points_at_each_field_that_a_model_refuses() -> None:
    error = ValidationError({"teeth": [ValidationError("Too few.", code="few")], "__all__": ["Both."]})
    refusal = translate(error)
    assert refusal is not None
    rows = problem_response(refusal, None).data["errors"]
    assert [(row["pointer"], row["detail"], row["code"]) for row in rows] == [
        ("/teeth", "Too few.", "few"),
        ("", "Both.", "invalid"),
    ]


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (OperationalError("gone"), 503),
        (DataError("out of range"), 400),
        (IntegrityError("FOREIGN KEY constraint failed"), 409),
        (IntegrityError("NOT NULL constraint failed: x.y"), 400),
        (UnicodeEncodeError("utf-8", "\ud800", 0, 1, "surrogates"), 400),
    ],
)
def test_it_answers_for_the_database(error: Exception, status: int) -> None:
    refusal = translate(error)
    assert refusal is not None
    assert refusal.status_code == status


def test_it_says_when_to_come_back() -> None:
    response = problem_response(Throttled(wait=12.2), None)
    assert (response.status_code, response["Retry-After"]) == (429, "13")


def test_it_leaves_faults_of_its_own_to_be_found() -> None:
    assert translate(RuntimeError("x")) is None


def test_it_escapes_pointers() -> None:
    assert pointer("a/b", "c~d", 3) == "/a~1b/c~0d/3"


def test_it_walks_a_tree_of_errors() -> None:
    tree: Any = {"lines": [{}, {"teeth": ["few"]}], "non_field_errors": ["both"], "list": {2: ["odd"]}}
    assert list(flatten(tree)) == [("/lines/1/teeth", "few"), ("", "both"), ("/list/2", "odd")]
