from typing import Any

import pytest

from api.wording.sentences import sentence
from inventory.facts import fact

PLACE = {"item": "SPR-08B17", "storeroom": "MAIN"}
COUNTS = {"requested": 3, "available": 2, "on_hand": 2, "reserved": 0}
HELD = (
    fact("reserved_for_work_order", work_order="WO-1", quantity=2),
    fact("reserved_for_work_order", work_order="WO-2", quantity=1),
)
SENTENCES: list[tuple[str, dict[str, Any], str]] = [
    (
        "stock_short",
        PLACE | COUNTS,
        "SPR-08B17 in MAIN: 3 requested, 2 available (2 on hand, 0 reserved). Take fewer, count the shelf, or take from "
        "another storeroom.",
    ),
    (
        "stock_reserved",
        {**PLACE, **COUNTS, "reservations": HELD},
        "3 requested, 2 available; the rest is reserved for WO-1 (2) and WO-2 (1). Release a reservation",
    ),
    ("stock_reserved", {**PLACE, **COUNTS, "reservations": ()}, "the rest is reserved for other work."),
    (
        "count_below_reserved",
        {"counted": 1, "left": 1, "reserved": 2, "reservations": HELD[:1]},
        "1 counted, which leaves 1, but 2 are reserved for WO-1 (2). Release a reservation first, then count again.",
    ),
    (
        "no_piece_long_enough",
        {**PLACE, "quantity": 120, "piece_links": (100, 60, 40)},
        "No single piece of SPR-08B17 in MAIN has 120 links: there are pieces of 100, 60 and 40. Allow pieces",
    ),
    (
        "too_many_joints",
        {**PLACE, "quantity": 120, "joints": 1, "chain_joints": 0, "piece_links": (100, 60)},
        "120 links of SPR-08B17 in MAIN need 1 joint, and a chain may have none here (chain_joints of the stocking terms): there",
    ),
    (
        "no_piece_to_reserve",
        {**PLACE, "quantity": 120, "chain_joints": 1, "piece_links": (70, 40)},
        "Beside what is reserved, 120 links of SPR-08B17 cannot be cut in MAIN; joints allowed: 1 (chain_joints of the",
    ),
    (
        "piece_too_short",
        {**PLACE, "quantity": 80, "links": 60, "piece_links": (100, 60)},
        "That piece has 60 links, 80 are requested: there are pieces of 100 and 60.",
    ),
    ("piece_not_here", {"piece_links": ()}, "That piece is not here: there is none."),
    ("counted_piece_not_named", {"piece_links": (100, 60)}, "Say which piece was counted: there are pieces"),
    ("stock_on_hold_not_issued", {}, "transfer it to another condition first"),
    (
        "quantity_out_of_range",
        {"field": "quantity", "least": 1, "greatest": 10**9, "given": 0},
        "quantity must be a whole number from 1 to 1000000000, not 0.",
    ),
    (
        "word_not_known",
        {"field": "condition", "given": "shiny", "allowed": ("new", "used_serviceable", "on_hold")},
        "condition must be one of new, used_serviceable and on_hold.",
    ),
    (
        "text_too_long",
        {"field": "reference", "limit_characters": 80, "characters": 81},
        "reference must have at most 80 characters; this has 81.",
    ),
    (
        "moment_in_future",
        {"field": "occurred_at", "tolerance_minutes": 5},
        "occurred_at is in the future: record what has happened, at most 5 minutes ahead.",
    ),
    ("moment_without_offset", {"field": "ordered_at"}, "ordered_at needs a time offset, such as 2024-"),
    (
        "reference_already_booked",
        {"reference": "DEL-1", "differs": "quantity"},
        "Reference DEL-1 is booked already with another quantity: give this movement a reference of its own.",
    ),
    ("reservation_ended", {"work_order": "WO-1", "state": "released"}, "it is released."),
    ("received_above_ordered", {"received": 4, "ordered": 3}, "received is 4 of 3 ordered"),
    (
        "reference_already_recorded",
        {"reference": "RQ-1", "differs": ("quantity", "result")},
        "RQ-1 is recorded already with another quantity and result",
    ),
    (
        "unit_already_fitted",
        {"position": "STEEP-EL1-DRV", "installed_on": "2024-03-04"},
        "A unit is fitted at STEEP-EL1-DRV since 4 Mar 2024: record its removal first.",
    ),
    (
        "elongation_out_of_range",
        {"least_percent": -1, "greatest_percent": 20},
        "elongation_percent must be from -1 to 20: was it measured over enough pitches?",
    ),
]


@pytest.mark.parametrize(("code", "values", "words"), SENTENCES)
def test_the_sentence_says_what_is_wrong_and_what_to_do(code: str, values: Any, words: str) -> None:
    assert words in sentence(fact(code, **values))
