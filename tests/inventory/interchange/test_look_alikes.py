"""A measured tooth against the rims that it could be taken for."""

import csv
from pathlib import Path

import pytest

from inventory.facts import fact
from inventory.interchange.engagement import check_chain
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import OUTCOME_RANK
from tests.found_facts import found
from tests.inventory.interchange.checks_reader import rows
from tests.inventory.interchange.samples import chain, custom_chain, part, place

PRINTED = Path(__file__).parents[1] / "standards" / "checks" / "flange_thickness.csv"
CALLIPER_MM = 0.1
ENGAGES = {"SAME": "ok", "CONDITIONAL": "review", "POOR": "no"}


def measured(name, width_mm, *, strands=1, runs=None, practice=None, **attributes):
    """The worst finding on the chain for a part that is named for a chain and measured as something else."""
    required = place(chain=chain(runs or name), strands=strands)
    offered = part(chain=chain(name), strands=strands, tooth_width_mm=width_mm, **attributes)
    findings = check_chain(required, offered, practice or Practice())
    return max(findings, key=lambda finding: OUTCOME_RANK[finding.outcome])


def printed_flanges():
    with PRINTED.open(newline="", encoding="utf-8") as file:
        return [
            (row["chain"], round(25.4 * float(row["flange_thickness_in"]), 2)) for row in csv.DictReader(file)
        ]


@pytest.mark.parametrize("width_mm", [14.6, 14.9, 14.96, 15.0, 15.2, 15.5])
def test_a_16b_rim_that_measures_as_a_16a_is_refused_by_that_name(width_mm):
    # ISO 606: 0.95 of 15.75 mm is 14.96, of 17.02 mm is 16.17; ASME B29.1 No. 80: 14.61 mm.
    finding = measured("16B", width_mm, teeth=21)

    assert (finding.outcome.value, finding.values["look_alike"]) == ("no", "16A")
    assert finding.code == "tooth_width_of_look_alike"


@pytest.mark.parametrize(
    ("name", "width_mm", "look_alike"),
    [
        ("16A", 16.17, "16B"),
        ("12A", 11.1, "12B"),
        ("12B", 11.94, "12A"),
        ("28B", 23.96, "28A"),
        ("40", 5.81, "085"),
        ("80", 7.3, "C208AL"),
        ("50", 6.03, "520"),
    ],
)
def test_other_rims_are_refused_by_the_name_of_their_look_alike(name, width_mm, look_alike):
    finding = measured(name, width_mm)

    assert (finding.outcome.value, finding.values["look_alike"]) == ("no", look_alike)


PAIRS = [
    (row[this], row[other], float(row[f"tooth_width_{other}_mm"]), row[f"chain_{this}_on_sprocket_{other}"])
    for row in rows("confusable")
    for this, other in (("a", "b"), ("b", "a"))
    # 530 is as wide as 532, and its roller is that of the 50.
    if (row["a"], row["b"]) != ("50", "532")
    # The inch flange of the 160 is as wide as the rim of the 32B.
    and (row["a"], row["b"], this) != ("160", "32B", "a")
    and row["pitch_a_mm"] == row["pitch_b_mm"]
    and abs(float(row["tooth_width_a_mm"]) - float(row["tooth_width_b_mm"])) > CALLIPER_MM + 0.01
]


@pytest.mark.parametrize(("name", "other", "width_mm", "words"), PAIRS)
def test_a_rim_that_measures_as_its_look_alike_is_no_better_than_the_look_alike(name, other, width_mm, words):
    expected = "no" if words.startswith("NO") else ENGAGES[words.split(":")[0]]

    outcome = measured(name, width_mm).outcome.value

    assert outcome == expected or (expected == "no" and outcome == "review")


def test_so_many_pairs_are_told_apart_by_width():
    assert len(PAIRS) >= 40


@pytest.mark.parametrize(("name", "width_mm"), printed_flanges())
def test_a_rim_of_the_inch_standard_is_what_it_is_called(name, width_mm):
    assert measured(name, width_mm).outcome.value == "ok"


@pytest.mark.parametrize(
    ("name", "strands", "width_mm"),
    [
        # ISO 606: 0.93 and 0.90 of b1 above 12.7 mm of pitch, 0.91 and 0.88 up to it.
        ("16B", 2, 15.83),
        ("16B", 4, 15.32),
        ("16A", 2, 14.65),
        ("12A", 2, 11.69),
        ("08B", 3, 7.05),
        ("08B", 4, 6.82),
        # ASME B29.1: 0.90 W - 0.006 in.
        ("80", 2, 14.14),
        ("60", 3, 11.28),
    ],
)
def test_several_rows_are_lawfully_narrower(name, strands, width_mm):
    assert measured(name, width_mm, strands=strands).outcome.value == "ok"


@pytest.mark.parametrize(("name", "width_mm"), [("08B", 7.2), ("08B", 7.3), ("40", 7.2), ("16B", 15.8)])
def test_what_a_calliper_cannot_tell_apart_or_h14_allows_is_not_doubted(name, width_mm):
    assert measured(name, width_mm).outcome.value == "ok"


@pytest.mark.parametrize("width_mm", [15.53, 15.6])
def test_between_two_rims_the_part_is_for_review_and_says_what_to_measure(width_mm):
    finding = measured("16B", width_mm)

    assert (finding.outcome.value, finding.code) == ("review", "tooth_width_between")
    assert finding.values["look_alike"] == "16A"
    assert found(finding.facts, fact("measure_tooth_width_again"))


def test_a_look_alike_of_another_roller_is_told_apart_in_the_gaps():
    # 120 and 24B, 21 teeth: d cos(90/21) = 254.91 mm, less rollers of 22.23 and 25.4 mm.
    finding = measured("24B", 23.96, teeth=21)

    assert finding.outcome.value == "review"
    assert found(finding.facts, fact("measure_diameter_in_gaps", own_mm=229.5, look_alike_mm=232.7))


def test_two_rows_are_told_apart_by_their_width_together():
    # Teeth of 8.97 and 8.74 mm, rows 16.59 and 18.11 mm apart: 25.6 and 26.9 mm over both.
    finding = measured("10B", 8.7, strands=2)

    assert finding.outcome.value == "review"
    assert found(finding.facts, fact("measure_width_over_rows", own_mm=25.6, look_alike_mm=26.9))


def test_a_name_that_the_measure_contradicts_is_no_drop_in_for_the_chain_of_the_measure():
    assert measured("16B", 14.96, runs="16A").outcome.value == "review"


@pytest.mark.parametrize("width_mm", [7.73, 7.74, 7.75, 7.9])
def test_a_tooth_without_the_stated_clearance_is_for_review(width_mm):
    finding = measured("08B", width_mm)

    assert (finding.outcome.value, finding.code) == ("review", "tooth_leaves_no_play")
    assert finding.values["clearance_mm"] == 0.02


def test_the_same_record_is_its_own_substitute_whatever_it_measures():
    own = part(chain=chain("16B"), tooth_width_mm=14.96)

    findings = check_chain(place(chain=chain("16B"), interface=own), own, Practice())

    assert [finding.outcome.value for finding in findings] == ["ok"]


def test_a_part_of_the_same_name_and_measure_stays_its_substitute():
    own = part(chain=chain("16B"), tooth_width_mm=14.96)
    other = part(chain=chain("16B"), tooth_width_mm=15.0, hub_diameter_mm=50.0)

    findings = check_chain(place(chain=chain("16B"), interface=own), other, Practice())

    assert [finding.outcome.value for finding in findings] == ["ok"]


def test_a_part_to_replace_that_measures_as_a_look_alike_is_no_sure_measure():
    own = part(chain=chain("16B"), tooth_width_mm=14.96)

    verdict = judge(requirement_of(own), part(chain=chain("16B"), tooth_width_mm=16.17))

    assert verdict.grade.value == "needs_review"
    assert verdict.checks[0].code == "replaced_tooth_nearer_look_alike"


def test_a_rim_of_a_width_that_was_never_seen_refuses_nothing():
    # 425: roller and width are quoted on trade pages from memory.
    assert measured("425", 5.81).outcome.value == "review"


def test_the_uncertainty_of_measuring_is_a_setting():
    fine = Practice(thresholds=Thresholds.with_rules({"measuring_uncertainty_mm": 0.02}))

    assert measured("08B", 7.3).outcome.value == "ok"
    assert measured("08B", 7.3, practice=fine).values["look_alike"] == "08A"


@pytest.mark.parametrize(
    ("roller_mm", "width_mm", "rim", "outcome", "look_alikes"),
    [
        # 08A 7.92 x 7.85, 08B 8.51 x 7.75 mm; 16A 15.88 x 15.75, 16B 15.88 x 17.02 mm.
        (8.40, 7.70, "08A", "no", ("08B",)),
        (8.00, 7.80, "08B", "no", ("08A",)),
        (8.30, 7.75, "08B", "review", ("08B",)),
        (8.21, 7.80, "08A", "review", ("08A", "08B")),
        (8.48, 7.74, "08B", "ok", None),
        (8.51, 7.75, "08B", "ok", None),
    ],
)
def test_a_measured_chain_is_taken_for_the_nearest_by_name(roller_mm, width_mm, rim, outcome, look_alikes):
    required = place(chain=custom_chain(12.7, roller_mm, width_mm), strands=1)

    finding, *_ = check_chain(required, part(chain=chain(rim)), Practice())

    assert finding.outcome.value == outcome, finding.facts
    if look_alikes:
        named = next(one for one in finding.facts if one.code == "chain_measures_as")
        assert set(named.values["look_alikes"]) == set(look_alikes)


def test_a_measured_rim_is_taken_for_the_nearest_by_name():
    rim = custom_chain(25.4, 15.88, 15.9)

    finding, *_ = check_chain(place(chain=chain("16B")), part(chain=rim), Practice())

    assert finding.outcome.value == "no"
    assert found(finding.facts, fact("chain_measures_as", look_alikes=("16A",)))


def test_a_chain_outside_the_standards_has_no_look_alike():
    own = custom_chain(12.7, 9.4, 6.9)

    finding, *_ = check_chain(place(chain=own), part(chain=chain("08B")), Practice())

    assert not any(one.code == "chain_measures_as" for one in finding.facts)


@pytest.mark.parametrize(
    ("name", "strands", "width_mm", "outcome"),
    [
        # h14 of 6 to 10 mm is 0.36: a 10B rim of 9.17 mm may have 8.81, and a caliper reads 8.71 to 9.27 mm.
        ("06B", 1, 4.95, "ok"),
        ("06B", 1, 4.88, "review"),
        # A duplex rim may be cut like a single one: 16B 16.17 mm.
        ("16B", 2, 16.3, "review"),
        ("16B", 2, 16.25, "ok"),
        # One strand would run on a 10A rim for a short time; two do not, their rows stand 1.52 mm further apart.
        ("10B", 2, 8.45, "no"),
    ],
)
def test_where_the_tolerance_of_a_name_ends(name, strands, width_mm, outcome):
    assert measured(name, width_mm, strands=strands).outcome.value == outcome
