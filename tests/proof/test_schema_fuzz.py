"""Requests made up from the OpenAPI document, over every operation in it, as a manager and as the integration.

Proves: no answer outside what the document says (status, content type, headers, body), and none of 500 or above, for requests
that follow the document and for such that break it, half of them on records that exist. Each request is undone
before the next. Does not prove: sequences of requests, nor that what is accepted means what it should.

On SQLite in the short variant; `PROOF=long` asks 150 times as much, on both databases, and the demo plant
(`tests/demo_plant/test_schema_fuzz.py`).
"""

from typing import Any

import pytest
from django.db import connection

from tests.conftest import ClientFor
from tests.examples import IS_LONG
from tests.proof.fuzzer import Fuzzer, schema_document
from tests.proof.known_world import WORDS, make_world

EXAMPLES = 300 if IS_LONG else 2
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(
        not IS_LONG and connection.vendor != "sqlite", reason="PROOF=long asks PostgreSQL too"
    ),
]


@pytest.fixture(scope="module")
def document() -> Any:
    return schema_document()


@pytest.mark.parametrize(
    ("method", "role"),
    [*((method, "manager") for method in ("get", "post", "put", "patch", "delete")), ("put", "integration")],
)
def test_every_answer_is_one_that_the_document_names(
    document: Any, client_for: ClientFor, method: str, role: str
) -> None:
    make_world()
    Fuzzer(client_for(role), document, WORDS, EXAMPLES).ask_all(document, method)
