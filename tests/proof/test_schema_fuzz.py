"""Requests made up from the OpenAPI document, over every operation in it, as a manager and as the integration.

Proves: no answer outside what the document says (status, content type, headers, body), and none of 500 or above, for requests
that follow the document and for such that break it, half of them on records that exist. Each request is undone
before the next. Does not prove: sequences of requests, nor that what is accepted means what it should.

On SQLite in the short variant; `PROOF=long` asks 150 times as much, on both databases.
"""

import random
from collections.abc import Iterator
from contextlib import suppress
from typing import Any

import hypothesis
import pytest
import schemathesis
from django.core.cache import cache
from django.db import connection, transaction
from drf_spectacular.generators import SchemaGenerator
from hypothesis import HealthCheck, Phase, strategies
from rest_framework.test import APIClient
from schemathesis import GenerationMode
from schemathesis.checks import (
    content_type_conformance,
    not_a_server_error,
    response_headers_conformance,
    response_schema_conformance,
    status_code_conformance,
)

from api.wsgi import application
from tests.conftest import ClientFor
from tests.examples import IS_LONG
from tests.proof.known_world import WORDS, known_rows, told

EXAMPLES = 300 if IS_LONG else 2
CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        not IS_LONG and connection.vendor != "sqlite", reason="PROOF=long asks PostgreSQL too"
    ),
]
SETTINGS = hypothesis.settings(
    max_examples=EXAMPLES,
    derandomize=not IS_LONG,
    database=None,
    deadline=None,
    phases=[Phase.generate],
    suppress_health_check=list(HealthCheck),
)


class Fuzzer:
    def __init__(self, client: APIClient, document: Any) -> None:
        self.client = client
        self.auth = client._credentials["HTTP_AUTHORIZATION"]
        names = {path.split("/")[3] for path in document.raw_schema["paths"]}
        self.rows = known_rows(client, sorted(names))
        self.found: dict[str, str] = {}
        self.asked = 0
        self.answers: dict[int, int] = {}

    def ask(self, operation: Any) -> None:
        modes = [
            operation.as_strategy(GenerationMode.POSITIVE),
            operation.as_strategy(GenerationMode.NEGATIVE),
        ]

        @SETTINGS
        @hypothesis.given(strategies.data())
        def examples(data: Any) -> None:
            mode = modes[data.draw(strategies.integers(0, 2)) % 2]
            with suppress(schemathesis.errors.SchemathesisError):
                case = data.draw(mode)
                self.aim(case, random.Random(data.draw(strategies.integers(0, 10**6))))
                self.send(case)

        try:
            examples()
        except hypothesis.errors.Unsatisfiable:
            self.found.setdefault(f"{operation.method} {operation.path}", "no request can be made for it")

    def aim(self, case: Any, chance: random.Random) -> None:
        """Let most requests meet a record, with its tag."""
        collection = case.path.removeprefix("/api/v1/").split("/")[0]
        rows = self.rows.get(collection, [])
        if rows and case.path_parameters and chance.random() < 0.8:
            row = chance.choice(rows)
            known = {**row, "key": row.get("stock_number")}
            case.path_parameters = {
                name: known.get(name, value) for name, value in case.path_parameters.items()
            }
        if isinstance(case.body, dict | list):
            case.body = told(case.body, chance)
        if isinstance(case.query, dict):
            case.query = {
                name: WORDS.get(name, value) if chance.random() < 0.5 else value
                for name, value in case.query.items()
            }
        if case.method.upper() in ("PUT", "PATCH", "DELETE") and chance.random() < 0.8:
            with suppress(KeyError, ValueError):
                case.headers = {
                    **(case.headers or {}),
                    "If-Match": self.client.get(case.formatted_path)["ETag"],
                }

    def send(self, case: Any) -> None:
        cache.clear()
        label = f"{case.method} {case.operation.path}"
        try:
            with transaction.atomic():
                response = case.call(headers={"Authorization": self.auth})
                transaction.set_rollback(True)
            self.asked += 1
            self.answers[response.status_code] = self.answers.get(response.status_code, 0) + 1
            case.validate_response(response, checks=CHECKS, additional_checks=[], excluded_checks=[])
        except (hypothesis.errors.HypothesisException, schemathesis.errors.SchemathesisError):
            raise
        except BaseException as failure:
            if isinstance(failure, KeyboardInterrupt):
                raise
            self.found.setdefault(label, f"{failure}")


@pytest.fixture(scope="module")
def document() -> Any:
    raw = SchemaGenerator().get_schema(request=None, public=True)
    schema = schemathesis.openapi.from_dict(raw)
    schema.app = application
    return schema


def operations(document: Any, method: str) -> Iterator[Any]:
    for result in document.get_all_operations():
        operation = result.ok()
        if operation.method == method:
            yield operation


@pytest.mark.parametrize(
    ("method", "role"),
    [*((method, "manager") for method in ("get", "post", "put", "patch", "delete")), ("put", "integration")],
)
def test_every_answer_is_one_that_the_document_names(
    document: Any, client_for: ClientFor, method: str, role: str
) -> None:
    fuzzer = Fuzzer(client_for(role), document)
    for operation in operations(document, method):
        fuzzer.ask(operation)
    print(f"{method}: {fuzzer.asked} requests, {sorted(fuzzer.answers.items())}")
    assert not fuzzer.found, "\n\n".join(f"{label}\n{text}" for label, text in fuzzer.found.items())
    assert fuzzer.asked > EXAMPLES
