import re
from dataclasses import replace

import pytest

from inventory.facts import fact
from inventory.interchange.bushing import BushAtHand, BushesAtHand, check_bushed
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, BoreType, KeyStandard, Outcome, ShaftKind
from inventory.standards.bushes import bushes, find_bush
from tests.found_facts import found
from tests.inventory.interchange.checks_reader import rows
from tests.inventory.interchange.samples import bushed, keyed, part, place, qd

TABLE = rows("bushing_interchange")
SIZE = re.compile(r"\b(\d{4})\b")
SIZED = [r for r in TABLE if SIZE.search(r["from_part"]) and SIZE.search(r["to_place"])]
OUTCOME_OF_WORD = {"conditional": "review", "no": "no"}
WITHOUT_AN_ATTRIBUTE = {
    "bush with UNC screws": "no attribute for the thread of the screws",
    "QD P or S": "the system of a QD letter is not recorded beside it",
    "QD JA..J hub": "no position requires mounting in reverse",
    "QD M..W hub": "no position requires mounting in reverse",
}


def mounting(verdict):
    return next(f for f in verdict.checks if f.aspect is Aspect.MOUNTING)


def codes(finding):
    return [one.code for one in finding.facts]


def in_hub(bush_size, hub, make=bushed):
    return mounting(judge(requirement_of(make(bush_size)), hub))


def test_every_row_of_the_table_is_checked_or_listed_with_its_reason():
    checked = {"bush, inch bore", "any taper bush", "QD SDS", "QD SD", "QD letter X"}

    assert len(TABLE) == 28
    assert {r["from_part"] for r in TABLE if r not in SIZED} == checked | set(WITHOUT_AN_ATTRIBUTE)


@pytest.mark.parametrize("row", [pytest.param(r, id=f"{r['from_part']} in {r['to_place']}") for r in SIZED])
def test_a_bush_in_a_hub_of_another_size_goes_as_the_table_says(row):
    fitted, hub = SIZE.search(row["from_part"])[1], SIZE.search(row["to_place"])[1]

    finding = in_hub(fitted, bushed(hub))

    assert finding.outcome.value == OUTCOME_OF_WORD[row["verdict"]]
    assert (finding.values["fitted_bush_size"], finding.values["bush_size"]) == (fitted, hub)


@pytest.mark.parametrize(
    "row", [pytest.param(r, id=r["from_part"]) for r in SIZED if r["verdict"] == "conditional"]
)
def test_a_pair_of_lengths_says_what_becomes_of_the_difference(row):
    fitted, hub = SIZE.search(row["from_part"])[1], SIZE.search(row["to_place"])[1]
    finding = in_hub(fitted, bushed(hub))

    assert finding.code == ("longer_bush_in_hub" if "(long)" in row["from_part"] else "shorter_bush_in_hub")
    assert finding.values["difference_mm"] == pytest.approx(
        abs(find_bush(fitted).length_mm - find_bush(hub).length_mm)
    )


def test_inch_and_metric_bores_of_one_size_are_a_bush_swap_only():
    shaft = keyed(25.4, 6.35)

    finding = mounting(judge(place(shaft=shaft), bushed("1610")))

    assert (finding.outcome.value, finding.work[0].operation.value) == ("work", "change_bush")


@pytest.mark.parametrize("taper", [b.size for b in bushes() if b.series == "taper"])
def test_no_taper_bush_goes_in_a_qd_hub_nor_the_other_way(taper):
    assert in_hub(taper, qd("SDS")).outcome.value == "no"
    assert in_hub("SDS", bushed(taper), make=qd).outcome.value == "no"


@pytest.mark.parametrize(("fitted", "hub"), [("SDS", "SD"), ("SD", "SDS")])
def test_the_remembered_pair_of_qd_lengths_is_for_review(fitted, hub):
    finding = in_hub(fitted, qd(hub), make=qd)

    assert finding.outcome.value == "review"
    assert finding.code == ("shorter_qd_bush_in_hub" if fitted == "SDS" else "longer_qd_bush_in_hub")


@pytest.mark.parametrize(("fitted", "hub"), [("JA", "SH"), ("SH", "SK"), ("E", "F"), ("F", "E")])
def test_another_qd_letter_is_another_cone(fitted, hub):
    assert in_hub(fitted, qd(hub), make=qd).outcome.value == "no"


@pytest.mark.parametrize("size", [b.size for b in bushes()])
def test_a_hub_takes_the_bush_of_its_own_size(size):
    assert in_hub(size, bushed(size)).outcome.value == "ok"


def test_a_refused_size_says_how_it_may_yet_be_done():
    assert codes(in_hub("1210", bushed("1610"))) == ["bush_cones_differ", "bush_of_own_size_may_fit"]


def test_a_bored_hub_in_the_place_of_a_bushed_one_waits_for_the_shaft():
    finding = in_hub("1610", part())

    assert (finding.outcome.value, finding.is_unchecked) == ("review", True)
    assert found(finding.facts, fact("bored_hub_replaces_bush", fitted_bush_size="1610", bore_mm=25.0))


def test_a_bush_that_is_reserved_is_not_on_the_shelf():
    gone = BushesAtHand((BushAtHand(size="1610", bore_mm=25.0, available=0),))

    assert judge(place(), bushed("1610"), bushes=gone).grade.value == "unfit"


def test_one_bush_of_several_with_the_right_keyway_is_enough():
    two = BushesAtHand(
        (
            BushAtHand(size="1610", bore_mm=25.0, keyway_width_mm=6.35),
            BushAtHand(size="1610", bore_mm=25.0, keyway_width_mm=8.0),
        )
    )

    assert judge(place(), bushed("1610"), bushes=two).grade.value == "with_work"


@pytest.mark.parametrize(
    ("size", "bore_mm", "key_mm", "depths_mm", "code"),
    [
        ("1008", 25.0, 8.0, (1.3,), "shelf_bush_keyway_shallow"),
        ("1610", 42.0, 12.0, (1.3, 2.2), "shelf_bush_keyway_shallow"),
        ("1008", 25.0, 8.0, (None,), "bush_keyway_shallow"),
        ("1008", 25.0, 8.0, (1.3, None), "bush_keyway_shallow"),
        ("1108", 25.0, 8.0, (None,), "shelf_bush_keyway_fits"),
        ("1008", 25.0, 8.0, (1.3, 3.3), "shelf_bush_keyway_fits"),
    ],
)
def test_a_keyway_of_the_right_width_may_still_be_too_shallow_for_the_key(
    size, bore_mm, key_mm, depths_mm, code
):
    # Printed transmission catalogue, taper-bush pages: 1008 with 25 mm and 1610 with 42 mm have shallow keyways.
    shelf = tuple(
        BushAtHand(size=size, bore_mm=bore_mm, keyway_width_mm=key_mm, keyway_depth_mm=depth)
        for depth in depths_mm
    )
    verdict = judge(place(shaft=keyed(bore_mm, key_mm)), bushed(size), bushes=BushesAtHand(shelf))

    assert [one.facts[0].code for one in verdict.findings if one.aspect is Aspect.KEY] == [code]
    assert verdict.grade.value == ("with_work" if code == "shelf_bush_keyway_fits" else "needs_review")


@pytest.mark.parametrize(
    ("bore_mm", "key_mm", "recorded", "code"),
    [
        (38.1, 9.525, None, "bush_keyway_less_deep"),
        (47.625, 12.7, {}, "bush_keyway_less_deep"),
        (38.1, 9.525, {"keyway_depth_mm": 3.175}, "shelf_bush_keyway_shallow"),
        (38.1, 9.525, {"keyway_depth_mm": 4.7625}, "shelf_bush_keyway_fits"),
        (38.1, 9.525, {"key_standard": KeyStandard.ASME_B17_1}, "shelf_bush_keyway_fits"),
        (25.4, 6.35, {}, "shelf_bush_keyway_fits"),
        (25.4, 6.35, None, "bush_keyway_as_listed"),
    ],
)
def test_a_european_inch_bush_may_be_less_deep_than_the_asme_key_needs(bore_mm, key_mm, recorded, code):
    # BS 46-1:1958 gives 1 1/2 in a 3/8 in keyway 1/8 in deep in the hub, ASME B17.1 one of 3/16 in; at 1 in both are equal.
    bush = {"size": "2012", "bore_mm": bore_mm, "keyway_width_mm": None if recorded is None else key_mm}
    shelf = BushesAtHand((BushAtHand(**bush, **(recorded or {})),))
    shaft = keyed(bore_mm, key_mm, key_standard=KeyStandard.ASME_B17_1)
    verdict = judge(place(shaft=shaft), bushed("2012"), bushes=shelf)

    assert [one.facts[0].code for one in verdict.findings if one.aspect is Aspect.KEY] == [code]


def test_a_shallow_keyway_takes_the_low_key_that_is_on_the_shaft():
    low = replace(keyed(25.0, 8.0), key_height_mm=5.0, keyway_depth_mm=1.3)
    shelf = BushesAtHand((BushAtHand(size="1008", bore_mm=25.0, keyway_width_mm=8.0, keyway_depth_mm=1.3),))

    assert judge(place(shaft=low), bushed("1008"), bushes=shelf).grade.value == "with_work"


@pytest.mark.parametrize(
    ("size", "bore_mm", "outcome"),
    [
        ("1210", 32.0, "work"),
        ("1210", 33.0, "no"),
        ("1210", 10.0, "review"),
        ("3525", 95.0, "review"),
        ("2525", 50.0, "review"),
    ],
)
def test_a_list_that_was_read_decides_and_a_remembered_one_does_not(size, bore_mm, outcome):
    assert mounting(judge(place(shaft=keyed(bore_mm, None)), bushed(size))).outcome.value == outcome


def codes_of_a_missing_bush(size: str, diameter_mm: float) -> list[str]:
    shaft = Shaft(kind=ShaftKind.KEYED, diameter_mm=diameter_mm, key_width_mm=8.0)
    offered = Sprocket(bore_type=BoreType.QD if size.isalpha() else BoreType.TAPERED, bush_size=size)
    [finding] = check_bushed(Requirement(shaft=shaft), offered, Practice(), BushesAtHand())
    assert finding.outcome is Outcome.NO
    return codes(finding)


def test_a_bush_that_is_made_can_be_bought():
    # Printed transmission catalogue, taper-bush pages 111-112: 1610 is listed up to 42 mm.
    assert codes_of_a_missing_bush("1610", 30.0) == ["no_bush_on_shelf", "bush_has_to_be_bought"]


def test_a_bush_that_is_not_made_is_not_to_be_bought():
    assert codes_of_a_missing_bush("1108", 45.0) == ["shaft_too_large_for_bush"]


def test_whether_a_bush_of_an_unseen_list_is_made_is_not_promised():
    assert codes_of_a_missing_bush("SK", 40.0) == ["no_bush_on_shelf", "bush_bores_not_confirmed"]
