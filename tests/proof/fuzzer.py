"""Asks every operation of the OpenAPI document what is made up from it, and holds each answer against the document."""

import random
from collections.abc import Iterator, Mapping
from contextlib import contextmanager, suppress
from typing import Any

import hypothesis
import schemathesis
from django.core.cache import cache
from django.core.signals import request_finished, request_started
from django.db import close_old_connections, transaction
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
from tests.examples import IS_LONG
from tests.proof.known_world import known_rows, told

CHECKS = [
    not_a_server_error,
    status_code_conformance,
    content_type_conformance,
    response_headers_conformance,
    response_schema_conformance,
]


class Fuzzer:
    """`words` are what members and parameters of that name may well say; `examples` is how much each operation is asked."""

    def __init__(self, client: APIClient, document: Any, words: Mapping[str, str], examples: int) -> None:
        self.client, self.words = client, words
        self.auth = client._credentials["HTTP_AUTHORIZATION"]
        self.settings = hypothesis.settings(
            max_examples=examples,
            derandomize=not IS_LONG,
            database=None,
            deadline=None,
            phases=[Phase.generate],
            suppress_health_check=list(HealthCheck),
        )
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

        @self.settings
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
            case.body = told(case.body, chance, self.words)
        if isinstance(case.query, dict):
            case.query = {
                name: self.words.get(name, value) if chance.random() < 0.5 else value
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
            with transaction.atomic(), connections_kept():
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

    def ask_all(self, document: Any, method: str) -> None:
        """Every operation of the method; fails where an answer is not one that the document names."""
        for operation in operations(document, method):
            self.ask(operation)
        print(f"{method}: {self.asked} requests, {sorted(self.answers.items())}")
        assert not self.found, "\n\n".join(f"{label}\n{text}" for label, text in self.found.items())
        assert self.asked > self.settings.max_examples


@contextmanager
def connections_kept() -> Iterator[None]:
    """At the ends of a request Django closes a connection that is in a transaction, here the one in which it is undone."""
    for end in (request_started, request_finished):
        end.disconnect(close_old_connections)
    try:
        yield
    finally:
        for end in (request_started, request_finished):
            end.connect(close_old_connections)


def schema_document() -> Any:
    raw = SchemaGenerator().get_schema(request=None, public=True)
    schema = schemathesis.openapi.from_dict(raw)
    schema.app = application
    return schema


def operations(document: Any, method: str) -> Iterator[Any]:
    for result in document.get_all_operations():
        operation = result.ok()
        if operation.method == method:
            yield operation
