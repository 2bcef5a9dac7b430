from typing import Any

import pytest

from api.wording.sentences import sentence
from inventory.facts import fact


@pytest.mark.parametrize(
    ("code", "values", "words"),
    [
        (
            "pieces_on_hold_here",
            {"count": 1, "place": "MAIN, A-01"},
            "1 piece in MAIN, A-01, on hold. Find out",
        ),
        ("pieces_reserved_here", {"count": 2, "place": "MAIN"}, "2 pieces in MAIN, reserved. Ask who"),
        (
            "on_order_overdue",
            {
                "order": "PO-7",
                "pieces": 2,
                "storeroom": "MAIN",
                "promised_on": "2026-10-15",
                "overdue_days": 40,
            },
            "2 on order for MAIN (PO-7), promised for 15 Oct 2026: overdue by 40 days.",
        ),
        ("order_the_part", {"days": 45}, "order it (about 45 days), by its attributes"),
        (
            "none_in_other_storerooms",
            {"storerooms": ("North", "Kiln")},
            "None on record in North and Kiln either.",
        ),
        (
            "none_in_many_other_storerooms",
            {"storerooms": 298},
            "None on record in 298 other storerooms either.",
        ),
        ("no_substitute_for_lifting_drive", {}, "This is a lifting drive: no substitute is offered."),
    ],
)
def test_a_step_says_what_to_do(code: str, values: dict[str, Any], words: str) -> None:
    assert sentence(fact(code, **values)).startswith(words)
