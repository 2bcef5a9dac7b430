"""No fact that was not seen in a source decides silently: raised or lowered by its plausible error it changes no grade without
being named."""

from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drives.place import rating_check
from drives.place.verdict import judge_for_place
from inventory.interchange import screening
from inventory.interchange.thresholds import ESTIMATES, Practice, Thresholds
from inventory.interchange.verdict import SHIPPED
from inventory.interchange.vocabulary import Environment, Grade, Material, PositionRole
from inventory.standards.confidence import Estimate, SourceKind
from inventory.standards.tooth_formulas import HIGHER_ROOT, LOWER_ROOT, seating_radius_max_mm
from tests.drives.place.cases import CASES as ON_DRIVES
from tests.drives.place.samples import driver, duty, sprocket
from tests.drives.place.test_properties import DUTIES
from tests.examples import some_of, third_of
from tests.inventory.interchange.cases import CASES as ALONE
from tests.inventory.interchange.samples import (
    chain,
    custom_chain,
    idler,
    idler_place,
    keyed,
    part,
    pilot,
    place,
    room,
)
from tests.inventory.interchange.strategies import CHAINS, FAMILIAR, parts, places

MANY = settings(max_examples=some_of(75), deadline=None)
UNSEEN = [one for one in CHAINS if one.estimates]
REMEMBERED = [one for one in UNSEEN if one.designation in {"04C", "425", "48AH", "64B"}]
C2160, C2160H = (
    {"chain": chain("C2160"), "single_cut": True},
    {"chain": chain("C2160H"), "single_cut": True},
)
DOUBLE = {"chain": chain("2040"), "single_cut": True}
CAST_IRON = {"material": Material.CAST_IRON}
# fmt: off
NEAR = [
    ("inner_width_mm", place(chain=chain("08A")), part(chain=chain("425")), None),
    ("roller_diameter_mm", place(chain=chain("425")), part(chain=chain("08A")), None),
    ("inner_width_mm", place(chain=chain("04C")), part(chain=custom_chain(6.35, 3.3, 3.1)), None),
    ("inner_width_mm", place(**C2160), part(**C2160H), None),
    ("roller_diameter_mm", place(**C2160), part(**C2160H), None),
    ("transverse_pitch_mm", place(chain=chain("240H"), strands=2), part(chain=chain("240"), strands=2), None),
    ("tooth_width_mm", place(chain=custom_chain(101.6, 63.5, 59.5)), part(chain=chain("64B")), None),
    ("seat_diameter_max_mm", place(chain=custom_chain(12.7, 8.33, 7.85)), part(chain=custom_chain(12.7, 7.92, 7.85)), None),
    ("seat_diameter_max_mm", place(chain=custom_chain(12.7, 8.25, 7.85)), part(chain=custom_chain(12.7, 7.92, 7.85)), None),
    ("key_height_mm", place(shaft=keyed(300.0, 76.2)), pilot(100.0, 320.0, hub_diameter_mm=500.0), None),
    ("keyway_depth_mm", place(shaft=keyed(40.0, 5.0)), part(bore_mm=40.0, keyway_width_mm=5.0, keyway_depth_mm=1.8), None),
    ("idler_least_teeth", idler_place(teeth=20), idler(teeth=18), None),
    ("wall_over_keyseat_share", place(shaft=keyed(35.0, 10.0)), pilot(16.0, hub_diameter_mm=49.0), None),
    ("wall_over_keyseat_depths", place(), pilot(16.0, hub_diameter_mm=38.4), None),
    ("wall_over_keyseat_depths", place(envelope=room(hub_diameter_mm=39.0)), part(), None),
    ("bearing_room_share", idler_place(), part(hub_diameter_mm=40.0), None),
    ("double_pitch_no_below_teeth", place(**DOUBLE, teeth=10), part(chain=chain("40"), teeth=20), None),
    ("cast_iron_least_teeth", place(role=PositionRole.DRIVEN, teeth=24), part(teeth=24, **CAST_IRON), None),
    ("key_pressure_review_mpa", driver(chain=chain("16A"), shaft=keyed(25.0, 8.0)), sprocket(chain=chain("16A"), length_through_bore_mm=95.0), duty(power_kw=3.0, speed_rpm=100.0)),
    ("fast_driver_rpm", driver(hardened_teeth=None), sprocket(), duty(speed_rpm=560.0)),
    ("double_pitch_wear_limit_percent", driver(**DOUBLE), sprocket(**DOUBLE), duty(elongation_percent=1.6)),
    ("double_pitch_wear_limit_percent", driver(**DOUBLE), sprocket(**DOUBLE), duty(elongation_percent=1.4)),
    ("rated_power_times", driver(), sprocket(), duty(power_kw=0.75)),
    ("rated_power_times", driver(chain=chain("60H")), sprocket(chain=chain("60H"), teeth=18), duty(power_kw=40.0)),
]
# fmt: on
"""The fact, what is required and offered, and the drive: each of them would be decided by the fact alone."""
CASES = [
    *((case.required, case.offered, case.duty) for case in ON_DRIVES),
    *((case.required, case.offered, None) for case in ALONE),
    *(near[1:] for near in NEAR),
]
BEYOND = [
    (
        "well inside the wall rule",
        place(shaft=keyed(35.0, 10.0)),
        pilot(16.0, hub_diameter_mm=70.0),
        None,
        "with_work",
    ),
    ("no wall by any rule", place(shaft=keyed(35.0, 10.0)), pilot(16.0, hub_diameter_mm=42.0), None, "unfit"),
    ("an idler of teeth enough by any rule", idler_place(teeth=20), idler(teeth=19), None, "drop_in"),
    ("an idler of more teeth", idler_place(), idler(teeth=23), None, "drop_in"),
    ("a hub with room for any bearing", idler_place(), part(hub_diameter_mm=60.0), None, "with_work"),
    (
        "a chain beyond every limit",
        driver(**DOUBLE),
        sprocket(**DOUBLE),
        duty(elongation_percent=3.1),
        "with_work",
    ),
    ("a chain hardly worn", driver(**DOUBLE), sprocket(**DOUBLE), duty(elongation_percent=0.5), "drop_in"),
    ("a rating hardly used", driver(), sprocket(), duty(power_kw=0.2), "drop_in"),
    (
        "a remembered chain on its own rim",
        place(chain=chain("425")),
        part(chain=chain("425")),
        None,
        "drop_in",
    ),
    ("a slow small driver", driver(hardened_teeth=None), sprocket(), duty(speed_rpm=300.0), "drop_in"),
]


def judged(required, offered, known, practice=SHIPPED):
    return judge_for_place(required, offered, duty=known, practice=practice)


@cache
def judged_cases():
    """Each case as it is shipped."""
    return [(given_, judged(*given_)) for given_ in CASES]


def named(verdict):
    facts = [one for found in verdict.findings for one in found.facts]
    heights = {
        ("plate_height_mm", one.values["chain"]) for one in facts if one.code == "plate_height_not_recorded"
    }
    estimates = (one.values for one in facts if one.code == "rests_on_estimate")
    return heights | {(one["name"], one["of"]) for one in estimates}


def where(name, end):
    return Practice(thresholds=Thresholds.with_rules({name: end}), stated=(name,))


def seen_as(given_, name, of, size_mm):
    """As if a source showed this figure of a chain."""

    def shown(owner):
        one = owner and owner.chain
        if one is None or one.designation != of:
            return owner
        rest = tuple(estimate for estimate in one.estimates if estimate.name != name)
        return replace(owner, chain=replace(one, **{name: size_mm}, estimates=rest))

    required, offered, known = given_
    return replace(shown(required), interface=shown(required.interface)), shown(offered), known


@pytest.mark.parametrize("name", [near[0] for near in NEAR])
def test_each_fact_that_would_decide_is_named_and_leaves_it_to_a_person(name):
    for _, *given_ in (near for near in NEAR if near[0] == name):
        verdict = judged(*given_)

        assert name in {found for found, _ in named(verdict)}
        assert verdict.grade is Grade.NEEDS_REVIEW


def test_every_estimated_threshold_and_every_estimate_of_a_rim_is_tried():
    tried = {near[0] for near in NEAR}

    assert set(ESTIMATES) <= tried
    # A remembered plate height is never used: the tallest plate of the pitch stands for it.
    assert {estimate.name for one in UNSEEN for estimate in one.estimates} - {"plate_height_mm"} <= tried


@pytest.mark.parametrize(
    ("name", "required", "offered", "known", "grade"), BEYOND, ids=[b[0] for b in BEYOND]
)
def test_beyond_the_plausible_error_the_ordinary_grade_stands(name, required, offered, known, grade):
    verdict = judged(required, offered, known)

    assert (verdict.grade.value, named(verdict)) == (grade, set())


@pytest.mark.parametrize("name", ESTIMATES)
def test_no_threshold_changes_a_fitters_case_without_being_named(name):
    for given_, verdict in judged_cases():
        if (name, None) not in named(verdict):
            for end in ESTIMATES[name].ends:
                assert judged(*given_, where(name, end)).grade is verdict.grade, given_


@pytest.mark.parametrize("one", UNSEEN, ids=lambda one: one.designation)
@pytest.mark.parametrize("strands", [1, 2])
def test_no_dimension_changes_how_a_chain_of_the_pitch_runs_without_being_named(one, strands):
    for other in third_of([other for other in CHAINS if other.pitch_mm == one.pitch_mm]):
        for runs, rim in ((one, other), (other, one)):
            required = place(chain=runs, strands=strands, teeth=24, single_cut=True)
            assert_silent_on(
                one, (required, part(chain=rim, strands=strands, teeth=24, single_cut=True), None)
            )


@pytest.mark.parametrize("root", [LOWER_ROOT, HIGHER_ROOT])
def test_no_reading_of_the_largest_seat_changes_how_a_chain_runs_without_being_named(root, monkeypatch):
    pairs = [(runs, rim) for runs in CHAINS for rim in CHAINS if runs.pitch_mm == rim.pitch_mm]
    given_ = [(place(chain=runs), part(chain=rim), None) for runs, rim in pairs]
    before = [judged(*one) for one in given_]

    def read(self):
        size_mm = 2 * seating_radius_max_mm(self.rim.roller_diameter_mm, root)
        return Estimate("seat_diameter_max_mm", size_mm, size_mm, size_mm, SourceKind.SEEN)

    monkeypatch.setattr(screening.Meeting, "seat_max", property(read))
    for one, verdict in zip(given_, before, strict=True):
        if "seat_diameter_max_mm" not in {name for name, _ in named(verdict)}:
            assert judged(*one).grade is verdict.grade, one


def assert_silent_on(one, given_):
    verdict = judged(*given_)
    for estimate in one.estimates:
        if (estimate.name, one.designation) not in named(verdict):
            for end in estimate.ends:
                moved = judged(*seen_as(given_, estimate.name, one.designation, end))
                assert moved.grade is verdict.grade, (estimate, given_)


@MANY
@given(places(FAMILIAR), parts(FAMILIAR), DUTIES, st.sampled_from(sorted(ESTIMATES)))
def test_no_threshold_changes_any_grade_without_being_named(required, offered, known, name):
    verdict = judged(required, offered, known)

    if (name, None) not in named(verdict):
        for end in ESTIMATES[name].ends:
            assert judged(required, offered, known, where(name, end)).grade is verdict.grade


@settings(max_examples=some_of(40), deadline=None)
@given(places(REMEMBERED), parts([*REMEMBERED, *FAMILIAR]), DUTIES)
def test_no_dimension_changes_any_grade_without_being_named(required, offered, known):
    for one in {owner.chain for owner in (required, offered) if owner.chain is not None}:
        assert_silent_on(one, (required, offered, known))


@pytest.mark.parametrize("times", [0.75, 1.3])
def test_no_rating_taken_over_changes_a_case_without_being_named(times, monkeypatch):
    before = judged_cases()
    rate = rating_check.rate

    def published(*args, **more):
        rating = rate(*args, **more)
        estimate = getattr(rating, "estimate", None)
        if estimate is None or not estimate.low <= times <= estimate.high:
            return rating
        return replace(rating, rated_power_kw=rating.rated_power_kw * times, estimate=None)

    monkeypatch.setattr(rating_check, "rate", published)
    for given_, verdict in before:
        if "rated_power_times" not in {name for name, _ in named(verdict)}:
            assert judged(*given_).grade is verdict.grade, given_


@pytest.mark.parametrize("environment", [Environment.HOT, Environment.ABRASIVE])
def test_a_rule_from_memory_is_for_review_and_says_so(environment):
    here = frozenset({environment})
    verdict = judged(
        idler_place(environment=here, hardened_teeth=None),
        idler(material=Material.PLASTIC, hardened_teeth=False),
        None,
    )

    assert verdict.grade is Grade.NEEDS_REVIEW
    assert "rule_from_memory" in {one.code for found in verdict.findings for one in found.facts}


@pytest.mark.parametrize("name", ESTIMATES)
def test_what_the_plant_states_is_not_an_estimate(name):
    shipped = ESTIMATES[name].value

    for given_ in CASES:
        assert (name, None) not in named(judged(*given_, where(name, shipped)))


def test_an_estimate_says_its_kind():
    assert {one.kind for one in ESTIMATES.values()} <= {SourceKind.MEMORY, SourceKind.JUDGEMENT}
