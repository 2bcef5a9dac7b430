from typing import Any

import pytest

from api.wording.sentences import sentence
from inventory.facts import fact

READING = {"position": "STEEP-EL1-P1", "hours": 1200.0}
SENTENCES: list[tuple[str, dict[str, Any], str]] = [
    (
        "record_not_found",
        {"kind": "item", "name": "SPR-X"},
        'There is no item "SPR-X": record it, or correct the message.',
    ),
    ("storeroom_not_named", {}, "No storeroom is named and none serves the plant"),
    (
        "no_unit_fitted_then",
        {"position": "STEEP-EL1-P1", "at_on": "2024-03-04"},
        "No unit is recorded at STEEP-EL1-P1 on 4 Mar 2024: record what was fitted there, then try again.",
    ),
    (
        "meter_below_earlier_reading",
        {**READING, "earlier_hours": 1500.5, "earlier_on": "2024-03-04"},
        "hours is 1,200.0, but the meter of STEEP-EL1-P1 showed 1,500.5 on 4 Mar 2024: send is_reset true",
    ),
    (
        "meter_above_later_reading",
        {**READING, "later_hours": 900.0, "later_on": "2024-03-04"},
        "showed 900.0 later, on 4 Mar 2024: correct the hours",
    ),
    ("message_not_waiting", {"outcome": "applied"}, "This message does not wait: its outcome is applied."),
]


@pytest.mark.parametrize(("code", "values", "words"), SENTENCES)
def test_the_sentence_says_what_is_missing_and_what_to_do(code: str, values: Any, words: str) -> None:
    assert words in sentence(fact(code, **values))
