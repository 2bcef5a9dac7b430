"""As `tests/proof/test_schema_fuzz.py`, over tables that are filled: every operation on records of the demo plant, with `PROOF=long`."""

from typing import Any

import pytest

from tests.conftest import ClientFor
from tests.examples import IS_LONG
from tests.proof.fuzzer import Fuzzer, schema_document

EXAMPLES = 40
WORDS = {
    "storeroom": "OM-MAIN",
    "to_storeroom": "OM-MALT",
    "from_storeroom": "OM-MALT",
    "plant": "OM",
    "drive": "OM-DSP-SC01-D1",
    "position": "OM-DSP-SC01-D1-DRV",
    "item": "41-0135",
    "stock_number": "41-0135",
    "work_order": "WO-7000",
    "chain": "08B",
}
pytestmark = [
    pytest.mark.django_db,
    pytest.mark.skipif(not IS_LONG, reason="PROOF=long asks the demo plant"),
]


@pytest.fixture(scope="module")
def document() -> Any:
    return schema_document()


@pytest.mark.parametrize(
    ("method", "role"),
    [*((method, "manager") for method in ("get", "post", "put", "patch", "delete")), ("put", "integration")],
)
def test_every_answer_about_filled_tables_is_one_that_the_document_names(
    demo_plant: None, document: Any, client_for: ClientFor, method: str, role: str
) -> None:
    Fuzzer(client_for(role), document, WORDS, EXAMPLES).ask_all(document, method)
