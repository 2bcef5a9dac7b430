from dataclasses import replace

from inventory.facts import fact
from inventory.interchange.findings import worst_of
from inventory.interchange.requirement import Engagement
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.chains import find_chain
from tests.found_facts import found
from tests.inventory.interchange.samples import PART, PLACE


def worst(chain, rim, **attributes):
    required = replace(PLACE, chain=Engagement.of(find_chain(chain)))
    offered = replace(PART, chain=Engagement.of(find_chain(rim)), **attributes)
    return worst_of(judge(required, offered).findings, Aspect.CHAIN)


def test_a_roller_known_from_memory_alone_refuses_nothing():
    # C2160 and C2162: roller, width, pin and plate were never seen in a source, their pitch was.
    finding = worst("C2162", "C2160")

    assert finding.outcome is Outcome.REVIEW
    assert found(finding.facts, fact("rests_on_estimate", name="roller_diameter_mm", kind="memory"))


def test_a_pitch_that_was_seen_still_refuses():
    assert worst("C2160", "80").outcome is Outcome.NO


def test_heavy_plates_run_on_the_standard_rim_whatever_its_recorded_width():
    assert worst("60H", "60", tooth_width_mm=11.66).outcome is Outcome.OK
