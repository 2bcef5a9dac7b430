"""The sentences that a fitter is meant to believe: what, by how much, what follows, what to do."""

import pytest

from api.wording.sentences import sentences
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, Environment, Material
from tests.explained import explained
from tests.inventory.interchange.cases import CASES
from tests.inventory.interchange.samples import chain, keyed, part, pilot, place


def sentence(verdict, aspect):
    return next(f for f in verdict.checks if f.aspect is aspect)


def test_the_08b_roller_on_an_08a_rim():
    finding = sentence(judge(place(), part(chain=chain("08A"))), Aspect.CHAIN)

    assert finding.outcome.value == "no"
    assert explained(finding) == (
        "The 08B roller (8.51 mm) is larger than the seat of the 08A rim (8.27 mm at most): "
        "the chain rides high and jumps under load."
    )


def test_a_pilot_bore_of_16_on_a_shaft_of_35():
    finding = sentence(
        judge(place(shaft=keyed(35.0, 10.0)), pilot(16.0, 42.0, hub_diameter_mm=70.0)), Aspect.MOUNTING
    )

    assert finding.outcome.value == "work"
    assert explained(finding) == (
        "Pilot bore 16 mm, shaft 35 mm: bore to 35 H8, cut a 10 × 8 keyseat and drill and tap for set screws, one over the "
        "key and one at 90°. The wall left over the key is 14.2 mm (3.5 mm wanted). About 75 minutes in the shop."
    )


def test_stainless_in_the_steep():
    steep = place(hardened_teeth=True, environment=frozenset({Environment.WASHDOWN}))
    verdict = judge(steep, part(material=Material.STAINLESS_STEEL))

    assert sentence(verdict, Aspect.MATERIAL).outcome.value == "review"
    assert "Stainless does not rust" in explained(sentence(verdict, Aspect.MATERIAL))
    assert "teeth wear faster" in explained(sentence(verdict, Aspect.TOOTH_HARDNESS))


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_every_finding_is_a_sentence_with_a_source(case):
    for finding in judge(case.required, case.offered, bushes=case.bushes).findings:
        assert explained(finding)[0].isupper() or explained(finding)[0].isdigit()
        assert explained(finding).endswith(".")
        assert finding.sources
        assert "None" not in explained(finding)


@pytest.mark.parametrize(
    "case", [pytest.param(case, id=case.name) for case in CASES if case.grade == "unfit"]
)
def test_what_is_unfit_gets_no_work(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)

    assert (verdict.work, verdict.work_minutes) == ((), 0)


@pytest.mark.parametrize("case", [pytest.param(c, id=c.name) for c in CASES if c.grade == "with_work"])
def test_work_is_named_with_its_minutes(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)

    assert verdict.work
    assert all(step.detail and step.minutes for step in verdict.work)
    assert verdict.work_minutes == sum(step.minutes for step in verdict.work)


def test_every_answer_ends_with_who_decides():
    cautions = [sentences([one]) for one in judge(place(), part()).cautions]

    assert "lock out" in cautions[0]
    assert cautions[-1].endswith("a competent person decides.")


def test_a_heavy_part_names_its_mass():
    assert any("132 kg" in sentences([one]) for one in judge(place(), part(mass_kg=132.0)).cautions)
