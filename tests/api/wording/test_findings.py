"""The sentences that a fitter is meant to believe: what, by how much, what follows, what to do."""

import json

import pytest
from hypothesis import given, settings

from api.wording.sentences import sentence, sentences
from inventory.facts import fact, fact_from_json
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, Environment, Material
from tests.examples import some_of
from tests.inventory.interchange.cases import CASES
from tests.inventory.interchange.samples import chain, part, place
from tests.inventory.interchange.strategies import FAMILIAR, parts, places


def explanation(verdict, aspect):
    return next(sentences(check.facts) for check in verdict.checks if check.aspect is aspect)


def reads_well(text):
    return (
        (text[0].isupper() or text[0].isdigit())
        and text.endswith(".")
        and not any(mark in text for mark in ("None", "{", "}", "not recorded mm", "  ", "_"))
    )


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_every_finding_is_a_whole_sentence_with_a_source(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)

    for finding in verdict.findings:
        assert reads_well(sentences(finding.facts)), sentences(finding.facts)
        assert all(sentence(source) for source in finding.sources)
    for text in [
        *map(sentence, verdict.cautions),
        *(f"{sentence(s.detail).capitalize()}." for s in verdict.work),
    ]:
        assert reads_well(text), text


@settings(max_examples=some_of(100), deadline=None)
@given(places(FAMILIAR), parts(FAMILIAR))
def test_whatever_is_recorded_every_fact_has_a_sentence_and_can_be_sent(required, offered):
    verdict = judge(required, offered)

    for finding in verdict.findings:
        assert reads_well(sentences(finding.facts)), finding.facts
        stored = json.loads(json.dumps([one.as_json() for one in finding.facts], allow_nan=False))
        assert sentences(map(fact_from_json, stored)) == sentences(finding.facts)


def test_the_08b_roller_on_an_08a_rim():
    assert explanation(judge(place(), part(chain=chain("08A"))), Aspect.CHAIN) == (
        "The 08B roller (8.51 mm) is larger than the seat of the 08A rim (8.27 mm at most): "
        "the chain rides high and jumps under load."
    )


def test_stainless_steel_in_the_wash_down():
    wet = place(hardened_teeth=True, environment=frozenset({Environment.WASHDOWN}))
    verdict = judge(wet, part(material=Material.STAINLESS_STEEL))

    assert "Stainless steel does not rust" in explanation(verdict, Aspect.MATERIAL)
    assert "teeth wear faster" in explanation(verdict, Aspect.TOOTH_HARDNESS)


SAID = [
    (
        fact("rows_do_not_line_up", chain="10A", rim="10B", chain_row_distance_mm=18.11, rim_row_distance_mm=16.59, difference_mm=1.52),
        ("do not line up", "18.11", "16.59", "1.52 mm per row"),
    ),
    (fact("rows_too_few", strands=2, rows=1), ("hang beside the teeth", "not held in phase")),
    (fact("rows_too_wide", rows=2, width_mm=20.9725, room_mm=15.0), ("21.0 mm wide", "15.0 mm only")),
    (fact("teeth_differ", teeth=18, required_teeth=17), ("18 teeth instead of 17", "ratio tolerance")),
    (fact("face_hub", excess_mm=5.0), ("face 5.0 mm off",)),
    (fact("turn_hub_down", hub_mm=45.0, room_mm=40.0), ("turn the hub down from 45 mm to 40 mm",)),
    (fact("weld_on_hub"), ("below tempering heat",)),
    (fact("lock_out"), ("lock out",)),
    (fact("competent_person_decides"), ("a competent person decides.",)),
    (fact("lifting_gear", mass_kg=132.0), ("132 kg: use lifting gear.",)),
    (fact("no_sparks_in_dust_zone"), ("dust or explosive zone",)),
    (fact("material_rusts", material="carbon_steel", required_material="stainless_steel", environment=("food", "washdown")), ("Carbon steel for stainless steel", "(food and washdown)")),
    (fact("diameter_fouls_guard", diameter="outside_diameter", diameter_mm=76.0, room_mm=74.0, excess_mm=2.0), ("Outside diameter 76.0 mm", "fouls the guard by 2.0 mm")),
    (fact("hub_length_not_recorded", room_mm=25.4), ("1 in (25.4 mm)", "measure it")),
    (fact("iso_606_screening", chain_source="a", rim_source="a"), ("dimensions: a",)),
    (fact("iso_606_screening", chain_source=None, rim_source=None), ("dimensions: as recorded",)),
]  # fmt: skip


@pytest.mark.parametrize(("found", "words"), [pytest.param(*row, id=row[0].code) for row in SAID])
def test_a_sentence_gives_what_and_by_how_much(found, words):
    text = sentence(found)

    assert all(word in text for word in words), text


def test_the_source_of_a_chain_on_its_own_rim_is_named_once():
    text = sentence(fact("iso_606_screening", chain_source="table B.1", rim_source="table B.1"))

    assert text.count("table B.1") == 1


@pytest.mark.parametrize(
    ("diameter_mm", "said"),
    [(130.01, ("130.01 mm", "130.00 mm", "by 0.01 mm")), (130.6, ("130.6 mm", "130.0 mm", "by 0.6 mm"))],
)
def test_the_decimals_that_decide_are_shown(diameter_mm, said):
    reason = fact(
        "diameter_fouls_guard",
        diameter="outside_diameter",
        diameter_mm=diameter_mm,
        room_mm=130.0,
        excess_mm=round(diameter_mm - 130, 6),
    )

    assert all(words in sentences([reason]) for words in said)
