"""What the drive says about a candidate: what, by how much, what follows, what to do."""

import pytest

from api.wording.sentences import sentence, sentences
from drives.place.verdict import judge_for_place
from inventory.facts import fact
from inventory.interchange.vocabulary import Aspect
from tests.api.wording.test_findings import reads_well
from tests.drives.place.cases import CASES
from tests.drives.place.samples import driver, duty, sprocket

USE = {"design_power_kw": 0.78, "rated_power_kw": 1.2, "teeth": 19.0, "used_share": 0.65}
SPEED = {"teeth": 20.0, "old_teeth": 19.0, "change_percent": 5.263}


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_every_finding_is_a_whole_sentence_with_a_source(case):
    verdict = judge_for_place(case.required, case.offered, duty=case.duty)

    for finding in verdict.findings:
        assert reads_well(sentences(finding.facts)), sentences(finding.facts)
        assert all(sentence(source) for source in finding.sources)
    assert all(sentence(step.detail) for step in verdict.work)


def test_twenty_instead_of_nineteen_on_the_elevator():
    verdict = judge_for_place(driver(), sprocket(teeth=20), duty=duty())
    text = sentences(next(f for f in verdict.findings if f.aspect is Aspect.TEETH).facts)

    assert text.startswith(
        "20 teeth instead of 19: the driven shaft runs 5.3 % faster (its limit is 6 %). The same chain needs the shafts "
    )
    assert text.endswith(" mm closer together. The take-up has 15 mm that way.")


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            fact("ratio_beyond_tolerance", **SPEED, limit_percent=5.0),
            "20 teeth instead of 19: the driven shaft runs 5.3 % faster; its limit is 5 %.",
        ),
        (
            fact("ratio_within_tolerance", **SPEED | {"change_percent": -5.0}, limit_percent=6.0),
            "20 teeth instead of 19: the driven shaft runs 5.0 % slower (its limit is 6 %).",
        ),
        (
            fact("ratio_change_not_taken_up", **SPEED, limit_percent=6.0),
            "20 teeth instead of 19: the driven shaft runs 5.3 % faster (its limit is 6 %), but the drive cannot take it up.",
        ),
        (
            fact("shafts_move_with_other_chain", links=82, shift_mm=6.37),
            "A chain of 82 links needs the shafts 6.4 mm further apart.",
        ),
        (fact("move_shafts", shift_mm=-3.12), "move the shafts 3.1 mm closer together and set the slack"),
        (fact("take_up_room", room_mm=0.0), "The take-up has 0 mm that way."),
        (fact("rating_used", **USE), "0.78 kW design power, 1.20 kW rated at 19 teeth: 65 % used."),
        (fact("rating_limited_by", limit="plate_fatigue"), "Limited by plate fatigue."),
        (
            fact("rated_by_older_tables"),
            "Rated by the older generation of tables; newer ones rate higher.",
        ),
        (
            fact("key_pressure_depth_not_known", key_width_mm=11.0, key_height_mm=None),
            "The pressure of the 11 mm key was not checked: how deep it stands in the hub is not known.",
        ),
        (
            fact("bush_slips", torque_nm=572.9, bush_size="1008", capacity_nm=136.0),
            "573 Nm design torque, a 1008 bush carries 136 Nm: it slips.",
        ),
    ],
)
def test_what_the_drive_says_by_how_much(found, text):
    assert sentence(found) == text


@pytest.mark.parametrize(
    ("found", "words"),
    [
        (fact("ratio_tolerance_not_recorded", **SPEED), ("is not offered", "record its ratio tolerance")),
        (fact("take_up_not_recorded", **SPEED, limit_percent=6.0), ("was not checked", "measure it")),
        (fact("rating_used_more_than_before", **USE, share_before=0.61), ("65 % used", "more than the 61 %")),
        (fact("rating_in_galling_region", **USE), ("galling region", "ask the chain's maker")),
        (fact("rating_overloaded", **USE | {"used_share": 1.3}), ("130 % used", "overloaded")),
        (fact("rating_none_at_this_speed", design_power_kw=0.78, rated_power_kw=0.0, teeth=19.0), ("no rating", "overloaded")),
        (fact("drive_load_before", share_before=0.97), ("97 %",)),
        (fact("drive_load_before_not_known"), ("not known",)),
        (fact("bush_overloaded_already"), ("overloaded as it stands", "does not change that")),
        (fact("drive_overloaded_already"), ("overloaded already", "does not change that")),
        (fact("rating_service_factor_not_recorded", used_share=0.5), ("was not checked", "50 % of the rating")),
        (fact("key_pressure_high", torque_nm=286.5, key_width_mm=8.0, key_height_mm=7.0, length_mm=17.0, pressure_mpa=408.5, limit_mpa=100.0), ("8 × 7 mm key over 17 mm", "press 408 N/mm²", "an engineer has to look at it")),
        (fact("length_of_key_contact_not_recorded", torque_nm=286.5, key_width_mm=8.0, key_height_mm=None), ("8 mm key", "measure how long the key bears")),
        (fact("fast_driver_hardness_not_recorded", teeth=19, speed_rpm=700.0), ("small fast drivers", "try a file")),
        (fact("chain_worn_out", elongation_percent=3.1, limit_percent=3.0), ("3.1 % longer", "its limit is 3 %", "in weeks", "Fit a new chain")),
        (fact("lifting_drive_takes_no_substitute"), ("no substitute is offered", "authorised person", "local rules for lifting")),
    ],
)  # fmt: skip
def test_what_the_drive_says_follows_and_is_to_be_done(found, words):
    assert all(word in sentence(found) for word in words), sentence(found)


@pytest.mark.parametrize(
    ("reason", "said"),
    [
        (
            fact(
                "rating_overloaded", design_power_kw=3.004, rated_power_kw=3.0, teeth=19.0, used_share=1.00133
            ),
            ("3.004 kW design power, 3.000 kW rated", "100.1 % used"),
        ),
        (
            fact("bush_slips", torque_nm=395.4, bush_size="SH", capacity_nm=395.0),
            ("395.4 Nm design torque", "carries 395.0 Nm"),
        ),
        (
            fact("ratio_beyond_tolerance", **{**SPEED, "change_percent": 6.004}, limit_percent=6.0),
            ("6.004 % faster",),
        ),
    ],
)
def test_the_decimals_that_decide_are_shown(reason, said):
    assert all(words in sentence(reason) for words in said), sentence(reason)
