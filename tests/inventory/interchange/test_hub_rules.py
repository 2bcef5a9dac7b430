"""The rules for hubs, tooth hardness and materials, by their ids. All are common practice; where a source was seen it
is named beside the rule. Rules that no attribute can express stand in WITHOUT_AN_ATTRIBUTE with the reason."""

from dataclasses import replace

import pytest

from inventory.facts import fact
from inventory.interchange.bushing import BushAtHand, BushesAtHand
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Shaft
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import (
    Aspect,
    BoreType,
    Environment,
    HubStyle,
    Material,
    Operation,
    PositionRole,
    RoleKind,
    ShaftKind,
)
from tests.found_facts import all_facts
from tests.inventory.interchange.samples import (
    SPLINED,
    bushed,
    chain,
    hex_shaft,
    hexed,
    idler,
    idler_place,
    keyed,
    part,
    pilot,
    place,
    plain_shaft,
    room,
)

A, B, C, D = HubStyle.A, HubStyle.B, HubStyle.C, HubStyle.D
SPLIT, FLANGED, WELD_ON = HubStyle.SPLIT, HubStyle.FLANGED, HubStyle.WELD_ON
CARBON, IRON, STAINLESS, PLASTIC = (
    Material.CARBON_STEEL,
    Material.CAST_IRON,
    Material.STAINLESS_STEEL,
    Material.PLASTIC,
)
WET = [Environment.WASHDOWN, Environment.FOOD, Environment.CORROSIVE, Environment.CHLORIDE]

WITHOUT_AN_ATTRIBUTE = {
    "H6": "which way round a hub sits on its shaft is not an attribute; the shift of the chain line is given instead",
    "H11": "no attribute says that a bore has no keyway, only that none is recorded: for review instead of after-rework",
    "H18": "style D does not tell a bolted hub from a split one, and the other half of the hub is not linked",
    "H24": "the phase between tooth and keyway is not an attribute",
    "T5": "temper heat is part of the welding step, it changes no grade",
    "T6": "preheating by carbon content is a matter of the welding procedure",
    "M10 for metals": "temperatures are not recorded, only that a place is hot; 200 and 400 °C were not seen in a source",
}


def outcome(verdict, aspect):
    return next(f.outcome.value for f in verdict.checks if f.aspect is aspect)


def codes(verdict, aspect):
    return {one.code for f in verdict.checks if f.aspect is aspect for one in all_facts(f.facts)}


def hub(wanted, given, **more):
    bore = BoreType.SPLIT if given is SPLIT else BoreType.FINISHED
    return judge(place(hub_style=wanted), part(hub_style=given, bore_type=bore, **more))


def material(wanted, given, environment=(), required=place, **more):
    return judge(required(material=wanted, environment=frozenset(environment), **more), part(material=given))


@pytest.mark.parametrize(
    ("rule", "wanted", "given", "expected", "operation"),
    [
        ("H1", B, C, "work", Operation.FACE_HUB),
        ("H2", A, B, "work", Operation.FACE_HUB),
        ("H2", A, C, "work", Operation.FACE_HUB),
        ("H3", B, A, "review", Operation.WELD_HUB),
        ("H3", C, A, "review", Operation.WELD_HUB),
        ("H5", C, B, "review", None),
        ("H15", B, SPLIT, "ok", None),
        ("H15", C, SPLIT, "ok", None),
        ("H16", SPLIT, B, "review", None),
        ("H17", FLANGED, FLANGED, "review", None),
        ("H17", FLANGED, B, "no", None),
        ("H17", B, FLANGED, "no", None),
        ("H18", D, B, "review", None),
        ("H18", B, D, "review", None),
        ("style D names two things", D, D, "review", None),
        ("a rim to weld on needs its hub", B, WELD_ON, "review", Operation.WELD_HUB),
        ("a split hub is no plate", A, SPLIT, "no", None),
    ],
)
def test_one_hub_style_for_another(rule, wanted, given, expected, operation):
    verdict = hub(wanted, given)

    assert outcome(verdict, Aspect.HUB) == expected, rule
    steps = {step.operation for f in verdict.findings if f.aspect is Aspect.HUB for step in f.work}
    assert steps == ({operation} if operation else set())


@pytest.mark.parametrize("style", [s for s in HubStyle if s not in {D, FLANGED}])
def test_equal_styles_pass(style):
    assert outcome(hub(style, style), Aspect.HUB) == "ok"


def test_h1_and_h2_do_not_work_in_reverse():
    for less, more in ((B, C), (A, B), (A, C)):
        assert hub(less, more).grade.value == "with_work"
        assert hub(more, less).grade.value == "needs_review"


def test_h4_a_plate_is_not_keyed_alone():
    verdict = judge(place(), pilot(12.0, 40.0, hub_style=A))

    assert outcome(verdict, Aspect.MOUNTING) == "review"
    assert "plate_too_thin_for_key" in codes(verdict, Aspect.MOUNTING)
    assert Operation.CUT_KEYSEAT not in {s.operation for s in verdict.work}


def test_h6_the_shift_of_the_chain_line_is_given():
    shift = judge(requirement_of(part()), part(length_through_bore_mm=25.5)).consequences.chain_line_shift_mm

    assert shift == pytest.approx(-2.5)


def test_h7_a_pilot_bore_is_finished_and_h7_stops_at_the_greatest_bore():
    steps = [s.operation for s in judge(place(), pilot(12.0, 28.0)).work]

    assert steps == [Operation.BORE, Operation.CUT_KEYSEAT, Operation.DRILL_SET_SCREWS]
    assert judge(place(), pilot(12.0, 24.0)).grade.value == "unfit"


def test_h8_a_finished_bore_is_opened_with_its_new_keyseat_clear_of_the_old_one():
    verdict = judge(place(shaft=keyed(28.0, 8.0)), part(max_bore_mm=30.0))

    assert verdict.grade.value == "with_work"
    assert "cut_second_keyseat" in codes(verdict, Aspect.MOUNTING)


def test_h9_metal_cannot_be_added():
    verdict = judge(place(), part(bore_mm=30.0))

    assert verdict.grade.value == "unfit"
    assert "metal_cannot_be_added" in codes(verdict, Aspect.MOUNTING)


def test_h10_a_keyed_bore_on_a_shaft_without_key_is_for_light_load_only():
    verdict = judge(place(shaft=plain_shaft()), part())

    assert (verdict.grade.value, "no_key_on_shaft" in codes(verdict, Aspect.MOUNTING)) == (
        "needs_review",
        True,
    )


def test_h11_a_bore_without_a_recorded_keyway_is_for_review():
    assert outcome(judge(place(), part(keyway_width_mm=None)), Aspect.KEY) == "review"


def test_h12_a_bushed_hub_replaces_a_bored_one_where_its_bush_is_in_stock():
    bush = BushAtHand(size="1610", bore_mm=25.0, keyway_width_mm=8.0)

    assert judge(place(), bushed("1610"), bushes=BushesAtHand((bush,))).grade.value == "with_work"
    assert judge(place(), bushed("1610"), bushes=BushesAtHand()).grade.value == "unfit"


@pytest.mark.parametrize("offered", [part(), pilot(12.0, 28.0)], ids=["finished", "pilot"])
def test_h13_a_bored_hub_in_the_place_of_a_bushed_one_is_for_review(offered):
    assert judge(place(shaft=keyed(bush_size="1210")), offered).grade.value == "needs_review"


def test_h14_another_cone_is_another_hub():
    assert judge(requirement_of(bushed("1210")), bushed("1610")).grade.value == "unfit"


def test_h17_the_very_same_flanged_part_passes():
    flanged = part(hub_style=FLANGED)

    assert outcome(judge(requirement_of(flanged), flanged), Aspect.HUB) == "ok"


@pytest.mark.parametrize(
    ("shaft", "offered"),
    [
        (keyed(), hexed(25.0)),
        (hex_shaft(25.0), part()),
        (hex_shaft(25.0), pilot(12.0, 40.0)),
        (hex_shaft(25.0), bushed("1610")),
        (SPLINED, part()),
        (SPLINED, hexed(25.0)),
        (SPLINED, bushed("1610")),
        (plain_shaft(), hexed(25.0)),
    ],
)
def test_h19_round_hex_and_spline_do_not_mix(shaft, offered):
    verdict = judge(place(shaft=shaft), offered)

    assert [f.aspect for f in verdict.deciding] == [Aspect.MOUNTING]
    assert verdict.grade.value == "unfit"


@pytest.mark.parametrize("role", [PositionRole.DRIVER, PositionRole.DRIVEN])
@pytest.mark.parametrize("interface", [None, idler()])
def test_h20_a_bearing_bore_never_drives(role, interface):
    verdict = judge(place(role=role, interface=interface), idler())

    assert outcome(verdict, Aspect.MOUNTING) == "no"


def test_h21_a_keyed_sprocket_becomes_an_idler_by_a_bearing():
    verdict = judge(idler_place(), part(hub_diameter_mm=60.0))

    assert [s.operation for s in verdict.work] == [Operation.BORE, Operation.FIT_BEARING]
    assert verdict.grade.value == "with_work"


def test_h22_one_row_of_several_is_for_review():
    assert judge(place(), part(strands=2)).grade.value == "needs_review"


def test_h23_single_rows_are_no_double_sprocket():
    verdict = judge(place(strands=2), part(strands=1))

    (finding,) = verdict.deciding

    assert (verdict.grade.value, finding.code) == ("unfit", "rows_too_few")
    assert dict(finding.values) == {"strands": 2, "rows": 1}


def test_t1_hardened_teeth_for_soft_ones():
    # Trade pages: the hardened zone is the tooth flank only.
    assert outcome(judge(place(), part(hardened_teeth=True)), Aspect.TOOTH_HARDNESS) == "ok"


@pytest.mark.parametrize("given", [False, None])
def test_t2_soft_or_unknown_teeth_for_hardened_ones(given):
    # Trade pages name 35 to 55 HRC for hardened teeth.
    assert judge(place(hardened_teeth=True), part(hardened_teeth=given)).grade.value == "needs_review"


@pytest.mark.parametrize(
    ("given", "expected"), [(True, "drop_in"), (False, "needs_review"), (None, "needs_review")]
)
def test_t4_an_abrasive_place_needs_hardened_teeth_unless_recorded_otherwise(given, expected):
    gritty = place(hardened_teeth=None, environment=frozenset({Environment.ABRASIVE}))

    assert judge(gritty, part(hardened_teeth=given)).grade.value == expected


def test_t5_the_welding_step_is_the_one_that_keeps_the_teeth_cool():
    (step,) = [s for s in hub(B, A).work if s.operation is Operation.WELD_HUB]

    assert step.detail == fact("weld_on_hub")


@pytest.mark.parametrize(
    ("rule", "wanted", "given", "expected"),
    [
        ("M1", IRON, CARBON, "ok"),
        ("M3 dry", STAINLESS, CARBON, "review"),
        ("M4", CARBON, STAINLESS, "review"),
        ("M7 power", CARBON, PLASTIC, "no"),
        ("M8", PLASTIC, CARBON, "review"),
        ("M8", PLASTIC, STAINLESS, "review"),
    ],
)
def test_one_material_for_another_in_the_dry(rule, wanted, given, expected):
    assert outcome(material(wanted, given), Aspect.MATERIAL) == expected, rule


@pytest.mark.parametrize(
    ("changes", "expected"),
    [
        ({"role": PositionRole.DRIVEN, "teeth": 60}, "review"),
        ({"role": PositionRole.DRIVEN, "teeth": 17}, "no"),
        ({"role": PositionRole.DRIVEN, "teeth": 24}, "review"),
        ({"role": PositionRole.DRIVER, "teeth": 60}, "no"),
        ({"role": PositionRole.DRIVEN, "teeth": 60, "is_shock_loaded": True}, "no"),
    ],
)
def test_m2_cast_iron_is_for_large_slow_steady_driven_sprockets(changes, expected):
    # Trade text: cast iron for low speed and stable load.
    assert outcome(material(CARBON, IRON, **changes), Aspect.MATERIAL) == expected


@pytest.mark.parametrize("word", WET)
@pytest.mark.parametrize("given", [CARBON, Material.ALLOY_STEEL, IRON, Material.SINTERED_STEEL])
def test_m3_what_rusts_stays_out_of_the_wet(word, given):
    assert outcome(material(STAINLESS, given, [word]), Aspect.MATERIAL) == "no"


@pytest.mark.parametrize(
    ("rule", "wanted", "given", "environment", "expected"),
    [
        ("M5", "304", "316", [Environment.CHLORIDE], "ok"),
        ("M5", "AISI 304", "1.4404", [Environment.CHLORIDE], "ok"),
        ("M6", "316", "304", [Environment.CHLORIDE], "no"),
        ("M6", "1.4401", "1.4301", [Environment.CHLORIDE], "no"),
        ("M6 without chlorides", "316", "304", [], "review"),
        ("M6 unknown", "316", None, [Environment.CHLORIDE], "review"),
        ("M6 unknown", "316", None, [], "review"),
        ("not compared", "304", "430", [], "review"),
        ("M6, no grade required", None, "304L", [Environment.CHLORIDE], "review"),
        ("M6, no grade required", None, "430", [Environment.CHLORIDE], "review"),
        ("M6, no grade required", None, None, [Environment.CHLORIDE], "review"),
        ("M6, no grade required", None, "1.4404", [Environment.CHLORIDE], "ok"),
        ("no chlorides", None, "304", [Environment.WASHDOWN], "ok"),
    ],
)
def test_stainless_grades_are_compared(rule, wanted, given, environment, expected):
    # Trade article: 304 pitted at 180 ppm chloride; guideline about 80 ppm against 400 ppm.
    verdict = judge(
        place(material=STAINLESS, material_grade=wanted, environment=frozenset(environment)),
        part(material=STAINLESS, material_grade=given),
    )

    assert outcome(verdict, Aspect.MATERIAL) == expected, rule


def test_m7_plastic_may_turn_on_a_light_idler_only():
    assert outcome(judge(idler_place(), idler(material=PLASTIC)), Aspect.MATERIAL) == "review"


@pytest.mark.parametrize(
    ("wanted", "given", "expected"),
    [
        ({"food_contact_required": True}, {"food_contact": False}, "no"),
        ({"food_contact_required": True}, {"food_contact": None}, "review"),
        ({"food_contact_required": True}, {"food_contact": True}, "ok"),
        ({"non_sparking_required": True}, {"non_sparking": False}, "no"),
        ({"non_sparking_required": True}, {"non_sparking": None}, "review"),
        ({"non_sparking_required": True}, {"non_sparking": True}, "ok"),
    ],
)
def test_m9_a_declared_property_is_never_crossed(wanted, given, expected):
    assert outcome(judge(place(**wanted), part(**given)), Aspect.DUTY) == expected


@pytest.mark.parametrize("given", [m for m in Material if m is not CARBON])
def test_m9_an_explosive_zone_takes_its_own_material_only(given):
    assert outcome(material(CARBON, given, [Environment.EXPLOSIVE]), Aspect.MATERIAL) == "no"


def test_m10_plastic_softens_in_the_heat():
    assert outcome(material(CARBON, PLASTIC, [Environment.HOT]), Aspect.MATERIAL) == "no"


def test_a_part_that_stands_for_an_idler_leaves_the_count_free():
    old = idler(role_kind=RoleKind.IDLER, teeth=20)

    assert judge(requirement_of(old), idler(teeth=24)).grade.value == "drop_in"
    assert judge(requirement_of(old), idler(teeth=19)).grade.value == "drop_in"
    assert judge(requirement_of(old), idler(teeth=13)).grade.value == "needs_review"


@pytest.mark.parametrize(
    ("old_reach", "reach", "expected"),
    [
        (45.0, 30.0, "review"),
        (45.0, None, "review"),
        (45.0, 45.0, "ok"),
        (30.0, 45.0, "ok"),
        (None, 30.0, "ok"),
    ],
)
def test_one_pilot_bore_for_another_reaches_as_far(old_reach, reach, expected):
    verdict = judge(requirement_of(pilot(12.0, old_reach)), pilot(12.0, reach))

    assert outcome(verdict, Aspect.MOUNTING) == expected


def test_two_blanks_are_not_the_same_mounting():
    for blank in (part(bore_mm=None), bushed(None), hexed(None), idler(None)):
        verdict = judge(requirement_of(blank), blank)

        assert verdict.grade.value == "needs_review"
        assert Aspect.MOUNTING in {f.aspect for f in verdict.unchecked}


def test_a_faced_hub_keeps_its_teeth():
    place_of_a_plate = place(envelope=room(length_through_bore_mm=7.0))

    assert outcome(judge(place_of_a_plate, part(chain=chain("08B"))), Aspect.HUB) == "no"


def test_a_sprocket_for_a_bearing_is_offered_by_its_bore():
    verdict = judge(idler_place(), part(bore_mm=20.0, hub_diameter_mm=60.0))
    mounting = next(check for check in verdict.checks if check.aspect is Aspect.MOUNTING)

    assert mounting.code == "bearing_to_press_in"
    assert (mounting.required, mounting.offered) == (25.0, 20.0)


# ISO 15, diameter series 2: bearing 6205 is 52 mm outside, 6204 47 mm, 6206 62 mm.
@pytest.mark.parametrize(
    ("pin_mm", "bore_mm", "code"),
    [
        (25.0, 52.0, "bearing_to_press_in"),
        (25.0, 53.0, "bore_wider_than_bearing"),
        (25.0, 65.0, "bore_wider_than_bearing"),
        (30.0, 62.0, "bearing_to_press_in"),
        (22.0, 48.0, "bore_wider_than_bearing"),
        (25.0, None, "bore_not_recorded"),
    ],
)
def test_a_bore_wider_than_the_bearing_for_the_pin_is_for_review(pin_mm, bore_mm, code):
    pin = replace(idler_place(), shaft=Shaft(kind=ShaftKind.PIN, diameter_mm=pin_mm))
    verdict = judge(pin, part(bore_mm=bore_mm, max_bore_mm=None, hub_diameter_mm=110.0))
    found = next(check for check in verdict.checks if check.aspect is Aspect.MOUNTING)

    assert found.code == code
    assert verdict.grade.value == ("with_work" if code == "bearing_to_press_in" else "needs_review")
    if code == "bore_wider_than_bearing":
        assert found.values == {
            "bore_mm": bore_mm,
            "pin_mm": pin_mm,
            "bearing_mm": 47.0 if pin_mm < 25 else 52.0,
        }
