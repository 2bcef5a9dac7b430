"""Random lines in five languages: at least 95 % of the attributes are right, and no parsed line holds a wrong one."""

import random

import pytest

from inventory.descriptions.reader import read_description
from tests.inventory.descriptions.cases import differences, surplus
from tests.inventory.descriptions.random_lines import LANGUAGES, random_line

LINES = 600
LEAST_SHARE_RIGHT = 0.95
LEAST_SHARE_PARSED = 0.95
"""Else every line could be sent to a person, and nothing would ever be wrong."""


@pytest.mark.parametrize("language", LANGUAGES)
def test_random_lines_are_read(language: str) -> None:
    dice = random.Random(f"storeroom {language}")
    stated = right = parsed = 0
    wrong = []
    for _ in range(LINES):
        line = random_line(dice, language)
        reading = read_description(line.text)
        missed = differences(line.expected, reading)
        stated += len(line.expected)
        right += len(line.expected) - len(missed)
        if reading.outcome == "parsed":
            parsed += 1
            extra = set(surplus(line.expected, reading)) - {"keyway_depth_mm"}
            if missed or extra:
                wrong.append((line.text, missed, extra))

    assert wrong == []
    assert right / stated >= LEAST_SHARE_RIGHT
    assert parsed / LINES >= LEAST_SHARE_PARSED
