import pytest

from api.wording.exposure import SENTENCES
from api.wording.sentences import sentence
from inventory.facts import fact

CHANCE = {"position": "KILN-P1", "days": 20.6, "chance_of_demand": 0.1234, "chance": 0.01256, "available": 2}
CASES = [
    (
        fact("nothing_serves_position", position="KILN-P1"),
        "No item in the catalogue serves KILN-P1: it is not known what would be ordered for it.",
    ),
    (
        fact("days_to_next_piece_not_known", item="SPR-7"),
        "When more of SPR-7 can be here is not known: enter its lead time.",
    ),
    (
        fact("demand_of_position_not_known", position="KILN-P1"),
        "KILN-P1 is not in use, or its part is not known, so its demand is not known.",
    ),
    (
        fact("chance_unserved", **CHANCE),
        "KILN-P1 needs a piece within 21 days with a chance of 12.3 %, and none is left for it with a chance of 0.013."
        " Available: 2.",
    ),
    (
        fact("chance_unserved_at_most", **CHANCE),
        "KILN-P1 needs a piece within 21 days with a chance of 12.3 %, and none is left for it with a chance of 0.013 at most: too"
        " many parts are shared for an exact figure. Available: 2.",
    ),
    (
        fact("chance_not_calculated_yet", position="KILN-P1"),
        "The demand of KILN-P1 is not calculated yet: the next stocking run does it.",
    ),
    (
        fact("chances_not_calculated_yet", positions=1),
        "The chance of 1 position is not calculated yet: the next stocking run does it.",
    ),
    (
        fact("chances_not_calculated_yet", positions=3),
        "The chances of 3 positions are not calculated yet: the next stocking run does it.",
    ),
    (
        fact("cover_not_calculated"),
        "It is not calculated yet which item serves which position: start a stocking run first.",
    ),
    (
        fact("demand_not_calculated"),
        "The demand is not calculated yet, so its cost is missing here: start a stocking run first.",
    ),
    (
        fact("demand_as_of_run", as_of="2026-03-02T01:30:00+00:00"),
        "The demand is that of the stocking run of 2 Mar 2026 01:30.",
    ),
    (
        fact("demand_older_than_record", as_of="2026-03-02T01:30:00+00:00"),
        "The demand is that of the stocking run of 2 Mar 2026 01:30; some requests or installations recorded since then are not in it.",
    ),
    (
        fact("no_piece_available", item="SPR-7"),
        "SPR-7 is not available in any storeroom: nobody is exposed by it.",
    ),
    (
        fact("hours_to_wait_not_known", positions=2),
        "2 positions without known hours to a delivery are listed after those with a cost, by chance times cost per hour.",
    ),
    (
        fact("downtime_costs_not_known", positions=1),
        "1 position without a downtime cost is listed after those with one, by criticality.",
    ),
    (
        fact("downtime_costs_not_known", positions=2),
        "2 positions without a downtime cost are listed after those with one, by criticality.",
    ),
    (
        fact("chances_not_known", positions=1),
        "1 position whose chance is not known is listed last, with what is missing.",
    ),
    (
        fact("chances_not_known", positions=12),
        "12 positions whose chance is not known are listed last, each with what is missing.",
    ),
    (
        fact("demand_not_known_counted_as_none", positions=1),
        "1 of them could take a piece that serves others too: it counts there as if it needed none, so their chances may be"
        " higher.",
    ),
    (
        fact("demand_not_known_counted_as_none", positions=3),
        "3 of them could take pieces that serve others too: they count there as if they needed none, so those chances may be"
        " higher.",
    ),
]


@pytest.mark.parametrize(("found", "text"), CASES)
def test_a_fact_reads_as_a_sentence(found, text):
    assert sentence(found) == text


def test_every_sentence_is_tried():
    assert {found.code for found, _ in CASES} == set(SENTENCES)
