"""A hundred lines with what each says; their source stands in the head of the file."""

import pytest

from inventory.descriptions.reader import read_description
from tests.inventory.descriptions.cases import (
    BASES,
    OUTCOMES,
    differences,
    rows,
    stated_attributes,
    surplus,
)

ROWS = rows("stated_descriptions")
BESIDE_THE_FILE = {"set_screws", "bush_included", "teeth_counted", "pitch_mm", "keyway"}
"""Read from these lines and in no column of the file."""


def test_all_hundred_are_there() -> None:
    assert len(ROWS) == 100


@pytest.mark.parametrize("row", ROWS, ids=[row["id"] for row in ROWS])
def test_a_stated_description_is_read_as_stated(row: dict[str, str]) -> None:
    reading = read_description(row["text"])
    expected = stated_attributes(row)

    assert reading.outcome == OUTCOMES[row["expected_outcome"]]
    assert differences(expected, reading) == {}
    assert set(surplus(expected, reading)) - BESIDE_THE_FILE == set()
    if row["strands"]:
        assert reading.attributes["strands"].basis == BASES[row["strands_basis"]]
