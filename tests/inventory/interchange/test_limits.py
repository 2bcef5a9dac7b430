"""At and beside each limit of the rules: what lies on it belongs to the milder side."""

import pytest

from inventory.interchange.screening import screen
from inventory.interchange.thresholds import Thresholds
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect, Material, PositionRole
from tests.inventory.interchange.cases import idler_place
from tests.inventory.interchange.samples import chain, custom_chain, part, place, room


def the_check(verdict, aspect):
    (found,) = [check for check in verdict.checks if check.aspect is aspect]
    return found


def named_estimates(finding):
    return {one.values["name"] for one in finding.facts if one.code == "rests_on_estimate"}


# By hand, in a chain of 8 mm: 10 % are 0.8 mm of side play, 7.2 % are 0.576 mm, 3.5 % are 0.28 mm.
@pytest.mark.parametrize(
    ("tooth_mm", "outcome", "reason"),
    [
        (7.19, "no", "tooth_too_narrow"),
        (7.2, "review", "side_play_large"),
        (7.42, "review", "side_play_large"),
        (7.424, "ok", None),
        (7.72, "ok", None),
        (7.73, "review", "side_play_small"),
        (7.97, "review", "side_play_small"),
        (7.99, "no", "tooth_too_wide"),
    ],
)
def test_side_play_at_its_limits(tooth_mm, outcome, reason):
    runs, rim = custom_chain(12.7, 8.0, 8.0), custom_chain(12.7, 8.0, 7.0)
    screened = screen(runs, rim, rim_width_mm=tooth_mm)
    codes = [screened.facts[0].code, *(one.code for one in screened.facts[0].values.get("reasons", ()))]

    assert screened.outcome.value == outcome
    assert reason is None or reason in codes


@pytest.mark.parametrize(
    ("roller_mm", "outcome"), [(7.83, "no"), (7.85, "review"), (7.95, "review"), (7.97, "ok"), (8.03, "ok")]
)
def test_a_smaller_roller_at_its_limits(roller_mm, outcome):
    # By hand, in a seat for 8 mm: 2 % are 0.16 mm, 0.5 % are 0.04 mm.
    rim = custom_chain(12.7, 8.0, 7.75)
    assert screen(custom_chain(12.7, roller_mm, 7.75), rim).outcome.value == outcome


@pytest.mark.parametrize(("pitch_mm", "is_other"), [(12.73, False), (12.731, True), (12.67, False)])
def test_a_pitch_at_its_tolerance_is_the_same(pitch_mm, is_other):
    screened = screen(custom_chain(pitch_mm, 8.0, 7.75), custom_chain(12.7, 8.0, 7.75))
    assert (screened.facts[0].code == "pitch_differs") is is_other


@pytest.mark.parametrize(("pitch_mm", "is_other"), [(25.46, False), (25.47, True)])
def test_two_teeth_may_differ_twice_as_much_from_a_double_pitch(pitch_mm, is_other):
    double = custom_chain(pitch_mm, 7.92, 7.85, is_double_pitch=True)
    assert (screen(double, chain("08A")).facts[0].code == "pitch_differs") is is_other


def test_sizes_apart_by_just_the_tolerance_are_one_size():
    shipped = Thresholds()
    for apart, is_same in ((0.006, True), (0.0061, False)):
        assert shipped.is_same_size(25.0 + apart, 25.0) is is_same
        assert shipped.is_larger(25.0 + apart, 25.0) is not is_same
        assert shipped.is_within_room(25.0 + apart, 25.0) is is_same
    assert not shipped.is_larger(25.0, 25.1)


# The sample's hub is 28 mm long.
@pytest.mark.parametrize(
    ("room_mm", "code"), [(28.0, "hub_length_fits"), (28.5, "hub_length_fits"), (28.52, "hub_shorter")]
)
def test_a_hub_half_a_millimetre_shorter_is_as_long(room_mm, code):
    verdict = judge(place(envelope=room(length_through_bore_mm=room_mm)), part())
    assert code in [one.code for one in the_check(verdict, Aspect.HUB).facts]


@pytest.mark.parametrize(
    ("teeth", "outcome", "rests"),
    [(14, "review", False), (15, "review", True), (17, "ok", True), (18, "ok", True), (19, "ok", False)],
)
def test_the_teeth_of_an_idler_rest_on_the_estimate_within_its_span_only(teeth, outcome, rests):
    found = the_check(judge(idler_place(teeth=None), part(teeth=teeth)), Aspect.TEETH)

    assert ("idler_least_teeth" in named_estimates(found)) is rests
    assert found.outcome.value == ("review" if rests else outcome)


@pytest.mark.parametrize(
    ("teeth", "outcome", "rests"),
    [(19, "no", False), (20, "review", True), (29, "review", True), (30, "review", False)],
)
def test_the_teeth_of_cast_iron_rest_on_the_estimate_within_its_span_only(teeth, outcome, rests):
    required = place(teeth=teeth, role=PositionRole.DRIVEN, material=Material.CARBON_STEEL)
    found = the_check(judge(required, part(teeth=teeth, material=Material.CAST_IRON)), Aspect.MATERIAL)

    assert (found.outcome.value, "cast_iron_least_teeth" in named_estimates(found)) == (outcome, rests)


# Judgement: a hub one and a half times as wide as the pin leaves room for a bearing.
@pytest.mark.parametrize(
    ("hub_mm", "reason"),
    [
        (25.0, "no_room_for_bearing"),
        (25.001, "little_room_for_bearing"),
        (37.499, "little_room_for_bearing"),
        (37.5, "bearing_to_press_in"),
    ],
)
def test_a_hub_of_just_the_least_width_takes_a_bearing(hub_mm, reason):
    verdict = judge(idler_place(), part(hub_diameter_mm=hub_mm))
    assert the_check(verdict, Aspect.MOUNTING).code == reason
