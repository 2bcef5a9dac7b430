"""The depth of the keyseat where nobody recorded it: the table's for that key, named; else a person measures it."""

import pytest

from inventory.facts import fact
from inventory.interchange.key import keyseat_for
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import KeyStandard
from inventory.standards.keys import key_seats
from tests.found_facts import found
from tests.inventory.interchange.samples import keyed, part, pilot, place


def deciding(verdict):
    return {finding.aspect.value: finding for finding in verdict.deciding}


@pytest.mark.parametrize(
    ("shaft", "depth_mm"),
    [
        (keyed(35.0, 10.0), 3.3),
        (keyed(35.0, 12.0), 3.3),
        (keyed(50.0, 10.0), 3.3),
        (keyed(40.0, 18.0), 4.4),
        (keyed(35.0, 12.0, keyway_depth_mm=3.9), 3.9),
        (keyed(30.0, 5.0, key_height_mm=3.0), 1.2),
        (keyed(35.0, 11.0), None),
        (keyed(18.0, 6.0, key_standard=KeyStandard.ISO_773_LOW), None),
        (keyed(35.0, None), None),
    ],
)
def test_the_depth_is_the_recorded_one_or_that_of_the_key_in_the_tables(shaft, depth_mm):
    # GB/T 1095: 10 x 8 and 12 x 8 keys 3.3 mm, 18 x 11 keys 4.4 mm; DIN 6885-3: 5 x 3 key 1.2 mm.
    assert keyseat_for(shaft).hub_depth_mm == depth_mm


def test_a_key_of_another_diameter_takes_its_depth_and_names_the_table():
    # Half the width, 6 mm, would leave a wall of 3 mm where 3.5 mm are needed, and refuse the hub.
    verdict = judge(place(shaft=keyed(35.0, 12.0)), pilot(16.0, hub_diameter_mm=53.0))
    mounting = next(check for check in verdict.checks if check.aspect.value == "mounting")

    assert verdict.grade.value == "with_work"
    assert found(mounting.sources, fact("keyseat_depth_elsewhere", depth_mm=3.3, standards=("ISO 773",)))


def test_a_depth_that_no_table_has_is_left_to_a_person():
    verdict = judge(place(shaft=keyed(35.0, 11.0)), pilot(16.0, hub_diameter_mm=53.0))

    assert verdict.grade.value == "needs_review"
    assert found(deciding(verdict)["key"].facts, fact("keyseat_depth_not_known", key_width_mm=11.0))


def test_a_keyway_of_the_width_whose_depth_no_table_has_is_left_to_a_person():
    bored = part(bore_mm=35.0, keyway_width_mm=11.0, keyway_depth_mm=3.0, key_standard=None)

    verdict = judge(place(shaft=keyed(35.0, 11.0)), bored)

    assert found(deciding(verdict)["key"].facts, fact("keyseat_depth_not_known"))


def test_a_hub_smaller_than_the_shaft_is_refused_whatever_the_depth():
    assert judge(place(shaft=keyed(50.0, 11.0)), pilot(16.0, hub_diameter_mm=45.0)).grade.value == "unfit"


def test_two_depths_of_one_width_leave_it_to_a_person_where_they_decide():
    # A 5 mm key: 2.3 mm in ISO 773, 1.2 mm in DIN 6885-3.
    bored = part(bore_mm=40.0, keyway_width_mm=5.0, keyway_depth_mm=1.8)

    verdict = judge(place(shaft=keyed(40.0, 5.0)), bored)

    span = fact("rests_on_estimate", name="keyway_depth_mm", low=1.2, high=2.3, kind="disputed")
    assert verdict.grade.value == "needs_review"
    assert found(deciding(verdict)["key"].facts, span)


@pytest.mark.parametrize(
    "shaft", [keyed(300.0, 76.2), keyed(300.0, None, key_standard=KeyStandard.ASME_B17_1)]
)
def test_a_key_above_11_in_is_not_ordered_from_memory(shaft):
    verdict = judge(place(shaft=shaft), pilot(100.0, 320.0, hub_diameter_mm=600.0))

    assert verdict.grade.value == "needs_review"
    assert found(
        deciding(verdict)["mounting"].facts, fact("rests_on_estimate", name="key_height_mm", kind="memory")
    )


def test_a_key_above_11_in_that_is_recorded_whole_is_cut():
    shaft = keyed(300.0, 76.2, key_height_mm=76.2, keyway_depth_mm=38.1)

    assert judge(place(shaft=shaft), pilot(100.0, 320.0, hub_diameter_mm=600.0)).grade.value == "with_work"


def test_a_key_up_to_11_in_is_seen_and_cut():
    shaft = keyed(254.0, None, key_standard=KeyStandard.ASME_B17_1)

    assert judge(place(shaft=shaft), pilot(100.0, 320.0, hub_diameter_mm=600.0)).grade.value == "with_work"


def test_a_depth_that_was_never_seen_is_off_by_half_of_what_its_height_is():
    """Half of a key sits in the hub."""
    seen = 0
    for row in key_seats():
        estimates = {
            one.name: one
            for one in keyseat_for(keyed((row.shaft_over_mm + row.shaft_to_mm) / 2, row.width_mm)).estimates
        }
        if "keyway_depth_mm" in estimates and "key_height_mm" in estimates:
            depth, height = estimates["keyway_depth_mm"], estimates["key_height_mm"]
            assert 2 * (depth.high - depth.low) == pytest.approx(height.high - height.low)
            seen += 1
    assert seen > 3
