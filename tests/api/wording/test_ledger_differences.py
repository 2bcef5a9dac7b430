from typing import Any

import pytest

from api.wording.ledger_differences import ENTRIES, RESERVATIONS, STOCK
from api.wording.sentences import sentence
from inventory.facts import fact

PLACE = {"item": "SPR-1", "storeroom": "MAIN", "condition": "new", "booked": 5, "found": 4}
RESERVATION = {"reservation": 7, "work_order": "WO-1"}


@pytest.mark.parametrize(
    ("code", "values", "words"),
    [
        ("on_hand_differs", {}, "SPR-1 in MAIN, new: on hand is 4, the ledger says 5."),
        ("reserved_not_covered", {}, "SPR-1 in MAIN, new: on hand is 4, reserved is 5."),
        (
            "balance_after_differs",
            {"entry": 12},
            "SPR-1 in MAIN, new, movement 12: the balance is 4, the movements before make it 5.",
        ),
        (
            "transfer_legs_differ",
            {"entry": 12, "found": 1, "booked": 2},
            "movement 12: the transfer has 1 leg, 2 are expected.",
        ),
        (
            "reservation_exceeded",
            RESERVATION,
            "SPR-1 in MAIN, new, reservation 7 for WO-1: it holds 4, 5 are reserved.",
        ),
    ],
)
def test_a_difference_names_the_place_and_both_numbers(code: str, values: dict[str, Any], words: str) -> None:
    assert words in sentence(fact(code, **{**PLACE, **values}))


@pytest.mark.parametrize("code", [*STOCK, *ENTRIES, *RESERVATIONS])
def test_every_difference_begins_with_its_place(code: str) -> None:
    more = {**RESERVATION, "entry": 12, "reference": "R-1"}
    assert sentence(fact(code, **PLACE, **more)).startswith("SPR-1 in MAIN, new")
