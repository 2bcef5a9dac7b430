"""Lines made to mislead, with the reading of a careful storekeeper: common practice, no source."""

import pytest

from inventory.descriptions.reader import read_description
from tests.inventory.descriptions.cases import differences, rows, surplus, written_attributes

ROWS = rows("hard_lines")
CHECKED_ELSEWHERE = {"keyway_depth_mm", "pitch_mm"}


def test_there_are_more_than_two_hundred() -> None:
    assert len(ROWS) > 250


@pytest.mark.parametrize("row", ROWS, ids=[row["text"] for row in ROWS])
def test_a_hard_line_is_read_or_asked_about(row: dict[str, str]) -> None:
    reading = read_description(row["text"])
    expected = written_attributes(row["expected"])

    assert reading.outcome == row["outcome"]
    assert differences(expected, reading) == {}
    if reading.outcome == "parsed":
        assert set(surplus(expected, reading)) - CHECKED_ELSEWHERE == set()
    else:
        assert reading.questions
