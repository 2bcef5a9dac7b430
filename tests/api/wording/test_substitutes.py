"""What goes with an answer about substitutes, in words."""

import pytest

from api.wording.sentences import sentence, sentences
from inventory.facts import fact

TEETH = {"driver_teeth": 18, "driven_teeth": 36}
CHAIN = {"designation": "08B", "strands": 1}
COMPARED = {"item": "SPR-1", "position": "KILN-D1-P1"}


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            fact(
                "requirement_taken_from_fitted_unit",
                attributes=("strands", "hub_style", "hardened_teeth"),
                item="41-0105",
                installed_on="2022-05-02",
            ),
            "Not recorded for this position, taken from 41-0105, fitted for good on 2 May 2022: number of strands, hub style "
            "and hardened teeth.",
        ),
        (
            fact(
                "requirement_taken_from_removed_unit",
                attributes=("teeth",),
                item=None,
                installed_on="2022-05-02",
                removed_on="2026-03-09",
            ),
            "Not recorded for this position, taken from a part without a stock number, the last one fitted for good (on "
            "2 May 2022, removed on 9 Mar 2026): number of teeth.",
        ),
        (
            fact("temporary_unit_lends_nothing", item="41-0110", until_on="2026-06-01"),
            "41-0110 is fitted for a limited time, until 1 Jun 2026: nothing was taken from it.",
        ),
        (fact("bush_needed", bush_size="1610", bore_mm=25.0), "1610, bore 25 mm"),
        (fact("bush_needed", bush_size="1610", bore_mm=None), "1610, bore not recorded"),
        (fact("key_needed", key_width_mm=8.0, key_height_mm=7.0), "8 × 7 mm"),
        (fact("key_needed", key_width_mm=8.0, key_height_mm=None), "8 mm"),
        (fact("key_needed", key_width_mm=None, key_height_mm=None), "not recorded"),
        (fact("chain_needed", **CHAIN, links=100), "08B-1, 100 links"),
        (fact("chain_needed", **CHAIN, links=None), "08B-1"),
        (
            fact("companion_not_available", kind="joining_link", needed=fact("joining_link_needed", **CHAIN)),
            "The joining link (08B-1) is not available in any storeroom with a known transfer time.",
        ),
        (
            fact("chain_pieces_too_short", piece_links=(65, 55)),
            "No single piece is long enough; the pieces have 65 and 55 links and would have to be joined.",
        ),
        (
            fact("chain_to_be_joined", links=114, longest_links=65, joints=1),
            "The longest piece has 65 of 114 links: pieces are joined, 1 joint is allowed.",
        ),
        (
            fact("no_piece_for_chain_job", links=164, piece_links=(90, 78), joints=0),
            "No piece left gives a chain of 164 links (a chain is one piece); the longest have 90 and 78.",
        ),
        (
            fact("no_piece_for_chain_job", links=164, piece_links=(60, 40), joints=2),
            "No piece left gives a chain of 164 links (2 joints are allowed); the longest have 60 and 40.",
        ),
        (
            fact("promised_to_earlier_job", work_order="WO-3", quantity=2, needed_by="2030-04-01"),
            "2 go to WO-3, needed by 1 Apr 2030.",
        ),
        (
            fact("promised_to_earlier_job", work_order="WO-3", quantity=1, needed_by="2030-04-01"),
            "1 goes to WO-3, needed by 1 Apr 2030.",
        ),
        (
            fact("transfer_time_not_recorded", storeroom="NORTH", quantity=2),
            "2 in NORTH: the transfer time from there is not recorded.",
        ),
        (
            fact("approval_too_long", limit_days=366),
            "A temporary substitute may run for at most 366 days: for longer, change what the position requires.",
        ),
        (
            fact("measure_bore_and_shaft", **COMPARED, offered=25.0, required=22.0),
            "Measure the bore of the part and the shaft, both with a micrometer: 25 is recorded for SPR-1, 22 for"
            " KILN-D1-P1.",
        ),
        (
            fact("count_teeth", **COMPARED, offered=None, required=17),
            "Count the teeth of the part and of the sprocket that was removed: nothing is recorded for SPR-1, 17 for"
            " KILN-D1-P1.",
        ),
        (
            fact("measure_recorded_attribute", attribute="bore_mm", recorded=25.0),
            "Measure the bore of the part: 25 is recorded.",
        ),
        (
            fact("missing_with_substitutes", missing=2, substitutes=("SPR-2", "SPR-3")),
            "2 missing; SPR-2 and SPR-3 could serve.",
        ),
        (fact("on_order_too_late", due_on="2040-06-30"), "On order, due 30 Jun 2040: too late."),
    ],
)
def test_a_reason_in_words(found, text):
    assert sentence(found) == text


def test_a_pair_says_what_changes():
    found = (
        fact("pair_keeps_speed", **TEETH),
        fact("pair_keeps_chain", shift_mm=-9.56, centre_mm=461.94),
        fact("pair_other_length", links=102, shift_mm=3.14, centre_mm=474.64),
        fact("pair_is_planned_work"),
    )
    assert sentences(found) == (
        "18 and 36 teeth: the speed does not change. The same chain needs the shafts 9.6 mm closer together, 461.9 mm "
        "from centre to centre. Or a chain of 102 links with the shafts 3.1 mm further apart, 474.6 mm from centre to centre. "
        "Two parts, the chain length and the chain speed change: this is planned work and needs approval."
    )


@pytest.mark.parametrize("direction", ["faster", "slower"])
def test_a_pair_with_another_ratio_says_how_the_driven_shaft_runs(direction):
    found = fact(f"pair_runs_{direction}", **TEETH, change_percent=1.25)
    assert sentence(found) == f"18 and 36 teeth: the driven shaft runs 1.25 % {direction}."


def test_a_pair_with_another_chain_says_how_long_it_is():
    found = fact("pair_needs_other_chain", links=102, shift_mm=3.0, centre_mm=474.5)
    assert sentence(found) == (
        "It needs a chain of 102 links and the shafts 3.0 mm further apart, 474.5 mm from centre to centre."
    )


@pytest.mark.parametrize("code", ["unfit_without_reason", "review_without_reason"])
def test_reasons_that_are_sentences_stand_one_after_the_other(code):
    reasons = (fact("lifting_drive_takes_no_pair"), fact("pair_is_planned_work"))
    text = sentence(fact(code, position="P-1", reasons=reasons))
    assert sentences(reasons) in text
    assert ". and " not in text
