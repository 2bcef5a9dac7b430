"""The room under the guard, and tolerances that stand in one place."""

import re
from pathlib import Path

import pytest

from inventory.facts import fact
from inventory.interchange import thresholds
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.mass import estimated_mass_kg
from inventory.interchange.reboring import bore_up
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, BoreType, HubStyle, Material, Operation
from inventory.standards.chains import chains
from tests.found_facts import found
from tests.inventory.interchange.samples import (
    bushed,
    chain,
    copied_room,
    custom_chain,
    idler,
    idler_place,
    keyed,
    part,
    pilot,
    place,
    plain_shaft,
    room,
)

CORES = Path(thresholds.__file__).parents[1]


def check(verdict, aspect):
    return next(found for found in verdict.checks if found.aspect is aspect)


def under_guard(room_mm, *, teeth=48, **attributes):
    return judge(
        place(teeth=teeth, envelope=room(outside_diameter_mm=room_mm)), part(teeth=teeth, **attributes)
    )


# ISO 606, 08B: p = 12.7 mm, 48 teeth: 194.18 mm over the pitch circle, plates 11.81 mm high: 205.99 mm.
@pytest.mark.parametrize(
    ("room_mm", "outcome", "is_narrow"),
    [
        (203.0, "no", False),
        (205.9, "no", False),
        (206.0, "ok", True),
        (210.9, "ok", True),
        (211.1, "ok", False),
    ],
)
def test_under_a_guard_the_chain_on_the_wheel_decides(room_mm, outcome, is_narrow):
    verdict = under_guard(room_mm, outside_diameter_mm=199.0)

    assert check(verdict, Aspect.ENVELOPE).outcome.value == outcome
    assert any(one.code == "little_room_under_guard" for one in verdict.cautions) == is_narrow


@pytest.mark.parametrize("name", [one.designation for one in chains() if not one.has_large_rollers])
def test_no_tip_stands_higher_than_the_chain_on_it(name):
    # The greatest tip of ISO 606 is d + 1.25 p - d1; plates reach d + h2. Large rollers alone have higher teeth.
    rim = chain(name)
    pitch_mm = rim.pitch_mm / (2 if rim.is_double_pitch else 1)
    height_mm = rim.plate_height_mm or 0.951 * pitch_mm

    assert 1.25 * pitch_mm - rim.roller_diameter_mm <= height_mm <= 0.951 * pitch_mm


def test_a_room_copied_from_the_old_part_is_that_of_the_bare_wheel():
    copied = judge(
        place(teeth=48, envelope=copied_room(outside_diameter_mm=200.0)),
        part(teeth=48, outside_diameter_mm=199.0),
    )

    assert copied.grade.value == "drop_in"


@pytest.mark.parametrize(
    ("room_mm", "outcome", "code"),
    [
        # The largest tip of 48 teeth is 201.54 mm: up to that, the room may be a copy of the old wheel.
        (201.5, "ok", "diameter_fits"),
        (203.0, "review", "chain_exceeds_unmeasured_room"),
        (206.0, "ok", "diameter_fits"),
    ],
)
def test_a_room_that_no_wheel_fills_is_no_copy_of_one(room_mm, outcome, code):
    required = place(teeth=48, envelope=copied_room(outside_diameter_mm=room_mm))

    found_there = check(judge(required, part(teeth=48, outside_diameter_mm=199.0)), Aspect.ENVELOPE)

    assert (found_there.outcome.value, found_there.code) == (outcome, code)


def test_the_width_of_a_narrow_room_is_a_setting():
    practice = Practice(thresholds=Thresholds.with_rules({"narrow_room_mm": 2.0}))
    required = place(teeth=48, envelope=room(outside_diameter_mm=209.0))

    cautions = judge(required, part(teeth=48), practice=practice).cautions

    assert not any(one.code == "little_room_under_guard" for one in cautions)


# 199.03 mm over the chain on 46 teeth of 08B, less or more by one millionth.
def chain_over_46_teeth():
    return check(under_guard(500.0, teeth=46), Aspect.ENVELOPE).values["diameter_mm"]


@pytest.mark.parametrize(("over_mm", "outcome"), [(0.0, "ok"), (0.0058, "ok"), (0.0063, "no"), (0.02, "no")])
def test_a_guard_is_exceeded_only_by_more_than_the_tolerance(over_mm, outcome):
    verdict = under_guard(round(chain_over_46_teeth() - over_mm, 6), teeth=46)

    assert check(verdict, Aspect.ENVELOPE).outcome.value == outcome


@pytest.mark.parametrize(("diameter_mm", "outcome"), [(130.006, "ok"), (130.0061, "no"), (130.05, "no")])
def test_a_tolerance_is_compared_after_rounding_at_hub_length_and_guard(diameter_mm, outcome):
    plate = {"hub_style": HubStyle.SPLIT, "bore_type": BoreType.SPLIT}
    hub = judge(
        place(hub_style=HubStyle.SPLIT, envelope=room(hub_diameter_mm=130.0)),
        part(hub_diameter_mm=diameter_mm, **plate),
    )
    length = judge(
        place(hub_style=HubStyle.SPLIT, envelope=room(length_through_bore_mm=130.0)),
        part(length_through_bore_mm=diameter_mm, **plate),
    )

    assert check(hub, Aspect.ENVELOPE).outcome.value == outcome
    assert check(length, Aspect.HUB).outcome.value == outcome


def test_the_tolerance_of_a_nominal_size_stands_once_in_the_cores():
    written = [
        path.name
        for path in CORES.rglob("*.py")
        if "migrations" not in path.parts
        for line in path.read_text().splitlines()
        if re.search(r"\b0\.006\b", line)
    ]

    assert [name for name in written if name != "tooth_formulas.py"] == ["sizes.py"]


ON_SHELF = BushesAtHand((BushAtHand(size="1610", bore_mm=25.0),))
SPLIT_HUB = part(hub_style=HubStyle.SPLIT, bore_type=BoreType.SPLIT)


@pytest.mark.parametrize(
    ("required", "offered", "aspect", "shipped", "wide"),
    [
        (place(), part(bore_mm=25.02), Aspect.MOUNTING, "review", "ok"),
        (place(), pilot(12.0, 24.98), Aspect.MOUNTING, "no", "work"),
        (place(shaft=keyed(25.02)), bushed("1610"), Aspect.MOUNTING, "no", "work"),
        (
            place(hub_style=HubStyle.SPLIT, envelope=room(length_through_bore_mm=27.98)),
            SPLIT_HUB,
            Aspect.HUB,
            "no",
            "ok",
        ),
        (idler_place(), idler(25.02), Aspect.MOUNTING, "review", "ok"),
        (place(), part(keyway_width_mm=8.02), Aspect.KEY, "review", "ok"),
    ],
)
def test_a_plants_own_tolerance_reaches_every_check(required, offered, aspect, shipped, wide):
    own = Practice(thresholds=Thresholds.with_rules({"bore_tolerance_mm": 0.03, "room_tolerance_mm": 0.03}))

    for practice, outcome in ((Practice(), shipped), (own, wide)):
        verdict = judge(required, offered, practice=practice, bushes=ON_SHELF)
        assert check(verdict, aspect).outcome.value == outcome


def test_a_pilot_bore_of_the_shafts_size_needs_no_work_where_there_is_none():
    finding, *_ = bore_up(place(), pilot(25.0, 30.0, set_screws=2), plain_shaft(25.0), Practice())

    assert (finding.outcome.value, finding.code, finding.work) == ("ok", "pilot_bore_fits_shaft", ())


def test_of_several_bushes_the_one_with_the_keyway_is_shown():
    bushes = BushesAtHand(
        tuple(BushAtHand(size="1610", bore_mm=25.0, keyway_width_mm=width) for width in (6.0, 7.0, 8.0))
    )

    key = check(judge(place(), bushed("1610"), bushes=bushes), Aspect.KEY)

    assert (key.outcome.value, key.offered, key.values["keyway_mm"]) == ("ok", 8.0, 8.0)


@pytest.mark.parametrize(
    ("required", "offered", "cautions"),
    [
        (
            place(shaft=keyed(35.0, 10.0)),
            pilot(16.0, 42.0, hub_diameter_mm=70.0),
            {"lathe_work", "slotter_work", "drill_work"},
        ),
        (place(), bushed("1610"), {"bush_cone_dry"}),
        (idler_place(), part(hub_diameter_mm=60.0), {"bearing_in_press", "heated_hub", "lathe_work"}),
        (place(envelope=room(length_through_bore_mm=23.0)), part(), {"lathe_work"}),
    ],
)
def test_every_step_of_work_brings_its_cautions(required, offered, cautions):
    verdict = judge(required, offered)
    of_steps = {caution for step in verdict.work for caution in step.cautions}

    assert {one.code for one in of_steps} == cautions
    assert of_steps <= set(verdict.cautions)
    assert len(set(verdict.cautions)) == len(verdict.cautions)


def test_every_operation_on_metal_has_a_caution():
    harmless = {Operation.FIT_CHAIN, Operation.ADJUST_CENTRE, Operation.OTHER}

    for operation in set(Operation) - harmless:
        assert Practice().times.step(operation, fact("weld_on_hub")).cautions


@pytest.mark.parametrize(
    ("attributes", "is_heavy"),
    [
        # 16B: 558 mm wide wheel of 16.17 mm is 31 kg of steel, 6 kg of plastic; the same with 40 teeth is 10 kg.
        ({"teeth": 69}, True),
        ({"teeth": 69, "material": Material.PLASTIC}, False),
        ({"teeth": 40}, False),
        ({"teeth": 40, "strands": 3}, True),
        ({"teeth": 69, "mass_kg": 24.0}, False),
    ],
)
def test_a_mass_that_nobody_recorded_is_estimated(attributes, is_heavy):
    cautions = judge(place(chain=chain("16B")), part(chain=chain("16B"), **attributes)).cautions

    assert found(cautions, fact("lifting_gear_estimated")) == is_heavy


@pytest.mark.parametrize(
    ("diameter_mm", "look_alike"),
    [
        # ISO 606, 08B: 21 teeth 88.43 to 92.58 mm, 23 teeth 96.57 to 100.63 mm; 10A with 21 teeth 111.02 to 116.20 mm.
        (100.5, fact("diameter_of_other_count", rim="08B", teeth=23)),
        (114.0, fact("diameter_of_other_pitch", look_alike="10A", teeth=21)),
    ],
)
def test_an_outside_diameter_of_other_teeth_is_for_review_by_name(diameter_mm, look_alike):
    verdict = judge(place(teeth=21), part(teeth=21, outside_diameter_mm=diameter_mm))

    assert verdict.grade.value == "needs_review"
    assert found(check(verdict, Aspect.TEETH).facts, look_alike)


@pytest.mark.parametrize("diameter_mm", [88.0, 91.0, 92.6])
def test_an_outside_diameter_in_the_range_of_the_standard_is_not_doubted(diameter_mm):
    assert judge(place(teeth=21), part(teeth=21, outside_diameter_mm=diameter_mm)).grade.value == "drop_in"


@pytest.mark.parametrize(
    ("shaft_mm", "key_mm", "depth_mm"), [(25, 8, 3.3), (35, 10, 3.3), (48, 14, 3.8), (60, 18, 4.4)]
)
@pytest.mark.parametrize(("less_mm", "is_too_thin"), [(0.0, False), (0.01, True)])
def test_a_wall_of_exactly_the_least_is_enough(shaft_mm, key_mm, depth_mm, less_mm, is_too_thin):
    # ISO 773 hub depths; the least wall is the greater of that depth and a tenth of the bore.
    hub_mm = shaft_mm + 2 * (depth_mm + max(depth_mm, 0.1 * shaft_mm)) - less_mm

    verdict = judge(place(shaft=keyed(float(shaft_mm), float(key_mm))), pilot(16.0, hub_diameter_mm=hub_mm))

    # The least wall is a judgement, so near it a person decides; which side of it the wall lies on is still exact.
    assert found(check(verdict, Aspect.MOUNTING).facts, fact("wall_over_keyseat_too_thin")) == is_too_thin


@pytest.mark.parametrize(("pitch_mm", "outcome"), [(12.73, "ok"), (12.67, "ok"), (12.731, "no")])
def test_a_pitch_is_compared_after_rounding(pitch_mm, outcome):
    chain_of_own = custom_chain(pitch_mm, 8.51, 7.75)

    verdict = judge(place(chain=chain_of_own), part())

    assert check(verdict, Aspect.CHAIN).outcome.value == outcome


def test_the_hub_counts_beyond_the_rim_alone():
    # 16B, 40 teeth: (323.74² x 16.169 + 90² x (60 - 16.169) - 25² x 60) mm³ x pi/4 x 7.85e-6 kg/mm³ = 12.41 kg.
    wheel = part(chain=chain("16B"), teeth=40, hub_diameter_mm=90.0, length_through_bore_mm=60.0)

    assert estimated_mass_kg(wheel) == pytest.approx(12.41, abs=0.01)


@pytest.mark.parametrize(
    ("name", "room_mm", "outcome"),
    [
        # 04C: its plate height was never seen: 6.35 mm pitch, 48 teeth, 97.09 mm + 6.04 mm at most.
        ("04C", 102.0, "review"),
        ("04C", 103.2, "ok"),
    ],
)
def test_a_plate_height_that_was_never_seen_refuses_nothing(name, room_mm, outcome):
    required = place(chain=chain(name), teeth=48, envelope=room(outside_diameter_mm=room_mm))

    verdict = judge(required, part(chain=chain(name), teeth=48))

    assert check(verdict, Aspect.ENVELOPE).outcome.value == outcome


def test_the_plates_of_an_unknown_double_pitch_chain_are_those_of_its_base():
    # Pitch 25.4 mm, 30 teeth: 243.0 mm, and plates of 0.951 x 12.7 = 12.08 mm.
    own = custom_chain(25.4, 8.0, 7.9, is_double_pitch=True)
    required = place(chain=own, teeth=30, single_cut=True, envelope=room(outside_diameter_mm=256.0))

    verdict = judge(required, part(chain=own, teeth=30, single_cut=True, outside_diameter_mm=250.0))

    assert check(verdict, Aspect.ENVELOPE).values["diameter_mm"] == pytest.approx(255.08, abs=0.01)


@pytest.mark.parametrize(
    ("size", "step"),
    [({"hub_diameter_mm": 40.0}, "hub_to_turn_down"), ({"length_through_bore_mm": 25.0}, "hub_to_face")],
)
@pytest.mark.parametrize("make", [room, copied_room])
def test_metal_taken_off_for_the_size_of_an_old_part_says_so(size, step, make):
    """PART has a hub of 45 mm and 28 mm through the bore."""
    verdict = judge(place(envelope=make(**size)), part())

    [reason] = [found.facts for found in verdict.findings if found.facts[0].code == step]
    assert verdict.grade.value == "with_work"
    assert (fact("room_copied_from_old_part") in reason) == (make is copied_room)
