"""How many published values the main job is held against; a table may gain some, and lose none."""

import csv
from pathlib import Path

import pytest

from tests.outside_checks import is_printed

TESTS = Path(__file__).parent
PRINTED = {
    "drives/chain/checks/rating_checks.csv": 11,
    "drives/chain/checks/chain_length_checks.csv": 16,
    "inventory/standards/checks/tooth_form_checks.csv": 500,
}
WHOLLY_PRINTED = {
    "drives/chain/checks/printed_ratings.csv": 33,
    "drives/chain/checks/printed_rating_tables.csv": 52,
    "inventory/standards/checks/taper_bush_torques.csv": 18,
    "inventory/standards/checks/iso_606_1994.csv": 25,
}


def rows(name: str) -> list[dict[str, str]]:
    with (TESTS / name).open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("name", PRINTED)
def test_values_that_were_read_in_their_source_are_counted_apart(name: str) -> None:
    found = rows(name)
    printed = [row for row in found if is_printed(row)]
    assert len(printed) >= PRINTED[name]
    assert len(printed) < len(found)


@pytest.mark.parametrize("name", WHOLLY_PRINTED)
def test_a_table_of_printed_values_keeps_its_rows(name: str) -> None:
    assert len(rows(name)) >= WHOLLY_PRINTED[name]


def test_the_verdicts_of_the_pairs_are_pins_of_the_screening_rule() -> None:
    found = rows("inventory/interchange/checks/confusable.csv")
    assert not any(is_printed(row) for row in found)
