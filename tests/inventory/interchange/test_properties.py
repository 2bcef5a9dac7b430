from dataclasses import fields, replace

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.requirement import Envelope, Sprocket
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import (
    GRADE_RANK,
    OUTCOME_RANK,
    Aspect,
    Environment,
    Grade,
    HubStyle,
    Material,
    Outcome,
)
from tests.examples import some_of
from tests.inventory.interchange.cases import CASES
from tests.inventory.interchange.samples import (
    bushed,
    chain,
    idler,
    part,
    pilot,
    place,
)
from tests.inventory.interchange.strategies import (
    CHAINS,
    ENVELOPES,
    ENVIRONMENTS,
    FAMILIAR,
    complete_parts,
    maybe,
    parts,
    places,
)

MANY = settings(max_examples=some_of(120), deadline=None)
DECIDING_ATTRIBUTES = ("chain", "teeth", "strands", "bore_type")
ANSWERED_OTHERWISE = {
    "max_bore_mm": "the wall over the keyseat, worked out from the hub, answers where no greatest bore is recorded",
    "hub_diameter_mm": "the recorded greatest bore answers where no hub is recorded, and the larger of two hubs the other",
    "hub_diameter_2_mm": "a type C hub of equal ends records one of them",
    "keyway_depth_mm": "bore and width name the depth of the usual key",
    "key_standard": "bore and width name the usual key",
    "tooth_width_mm": "the standard's width of the rim's chain",
    "outside_diameter_mm": "the standard's range of tip diameters",
    "keyway_width_mm": "on a shaft without key, recorded set screws say how the bore holds",
    "set_screws": "tapped in the shop where none are recorded",
    "mass_kg": "a caution only",
    "role_kind": "the place says what it is for",
}
"""Attributes whose blank another record or a standard answers; a blank in any other is never better than needs_review."""


def rank(verdict):
    return GRADE_RANK[verdict.grade]


@MANY
@given(complete_parts())
def test_a_complete_part_goes_in_its_own_place_as_it_is(own):
    verdict = judge(requirement_of(own), own)

    assert verdict.grade is Grade.DROP_IN, [f.facts for f in verdict.deciding]
    assert verdict.work == ()


@MANY
@given(complete_parts(), st.sampled_from(DECIDING_ATTRIBUTES))
def test_a_part_without_a_deciding_attribute_is_not_even_its_own_substitute(own, name):
    hole = replace(own, **{name: None})

    verdict = judge(requirement_of(hole), hole)

    assert rank(verdict) >= GRADE_RANK[Grade.NEEDS_REVIEW]
    assert verdict.unchecked


@MANY
@given(places(), parts())
def test_no_requirement_and_no_part_raise_and_the_worst_finding_decides(required, offered):
    verdict = judge(required, offered)

    outcomes = [f.outcome for f in verdict.findings if f.outcome is not None]
    assert verdict.outcome is max(outcomes, key=OUTCOME_RANK.__getitem__)
    assert {f.outcome for f in verdict.deciding} == {verdict.outcome}


@MANY
@given(places(FAMILIAR), parts(FAMILIAR))
def test_there_is_one_check_for_an_aspect_in_a_fitters_order(required, offered):
    aspects = [finding.aspect for finding in judge(required, offered).checks]

    assert aspects == [aspect for aspect in Aspect if aspect in aspects]
    assert len(set(aspects)) == len(aspects)


@MANY
@given(places(FAMILIAR), parts(FAMILIAR))
def test_margins_are_finite_and_what_was_not_checked_is_listed(required, offered):
    verdict = judge(required, offered)

    assert all(f.is_unchecked for f in verdict.findings if f.outcome is None)
    assert all(f.margin is None or abs(f.margin) < 1e6 for f in verdict.findings)
    assert all(f.outcome is not Outcome.NO or not f.is_unchecked for f in verdict.findings)


@MANY
@given(st.data())
def test_one_more_environment_never_improves_the_grade(data):
    offered = data.draw(complete_parts(FAMILIAR))
    required = replace(
        requirement_of(offered),
        material=data.draw(maybe(st.sampled_from(Material))),
        environment=data.draw(ENVIRONMENTS),
        hardened_teeth=data.draw(maybe(st.booleans())),
    )
    more = replace(required, environment=required.environment | {data.draw(st.sampled_from(Environment))})

    assert rank(judge(more, offered)) >= rank(judge(required, offered))


@MANY
@given(
    complete_parts(FAMILIAR),
    ENVELOPES,
    st.floats(0.2, 1.0),
    st.sampled_from(["outside_diameter_mm", "hub_diameter_mm", "length_through_bore_mm"]),
)
def test_less_room_never_improves_the_grade(offered, envelope, share, name):
    required = replace(requirement_of(offered), envelope=envelope)
    size = getattr(envelope, name)
    assume(size is not None)

    tighter = replace(required, envelope=replace(envelope, **{name: size * share}))

    assert rank(judge(tighter, offered)) >= rank(judge(required, offered))


@MANY
@given(complete_parts(FAMILIAR), ENVELOPES)
def test_recording_the_room_never_improves_the_grade(offered, envelope):
    required = replace(requirement_of(offered), envelope=Envelope())

    assert rank(judge(replace(required, envelope=envelope), offered)) >= rank(judge(required, offered))


@MANY
@given(complete_parts(FAMILIAR), ENVIRONMENTS)
def test_requiring_hardened_teeth_never_improves_the_grade(offered, environment):
    required = replace(requirement_of(offered), hardened_teeth=False, environment=environment)

    assert rank(judge(replace(required, hardened_teeth=True), offered)) >= rank(judge(required, offered))


@MANY
@given(
    complete_parts(FAMILIAR),
    st.sampled_from(["food_contact_required", "non_sparking_required", "is_shock_loaded"]),
    maybe(st.sampled_from(Material)),
)
def test_requiring_a_declaration_or_recording_shock_never_improves_the_grade(offered, name, material):
    required = replace(requirement_of(offered), material=material, **{name: False})

    assert rank(judge(replace(required, **{name: True}), offered)) >= rank(judge(required, offered))


@MANY
@given(complete_parts(FAMILIAR), st.integers(9, 60), st.integers(1, 20))
def test_a_higher_least_count_of_an_idler_never_improves_the_grade(offered, least, more):
    required = replace(requirement_of(offered), role="idler", minimum_teeth=least)

    assert rank(judge(replace(required, minimum_teeth=least + more), offered)) >= rank(
        judge(required, offered)
    )


@MANY
@given(st.data())
def test_a_blank_in_the_record_never_improves_the_grade(data):
    offered = data.draw(parts(FAMILIAR))
    required = data.draw(st.one_of(fitting_places_of(offered), places(FAMILIAR)))
    name = data.draw(st.sampled_from([f.name for f in fields(Sprocket) if f.name not in ANSWERED_OTHERWISE]))
    assume(not is_moot(required, name))
    known = judge(required, offered)

    unknown = judge(required, replace(offered, **{name: None}))

    assert rank(unknown) >= min(rank(known), GRADE_RANK[Grade.NEEDS_REVIEW])


def is_moot(required, name):
    """A place that names neither hub style nor material takes a blank for the usual: a hub, and steel."""
    calm = not required.is_shock_loaded and not required.environment - {
        Environment.CLEAN_DRY,
        Environment.OUTDOOR,
    }
    return (name == "hub_style" and required.hub_style is None) or (
        name == "material" and required.material is None and calm
    )


def fitting_places_of(offered):
    return st.builds(
        lambda own, **changes: replace(own, **changes),
        st.just(requirement_of(offered)),
        environment=ENVIRONMENTS,
        envelope=ENVELOPES,
        hardened_teeth=maybe(st.booleans()),
        is_shock_loaded=maybe(st.booleans()),
    )


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_a_blank_in_a_fitters_case_never_improves_the_grade(case):
    known = rank(judge(case.required, case.offered, bushes=case.bushes))
    for name in {f.name for f in fields(Sprocket)} - set(ANSWERED_OTHERWISE):
        if is_moot(case.required, name):
            continue
        unknown = judge(case.required, replace(case.offered, **{name: None}), bushes=case.bushes)

        assert rank(unknown) >= min(known, GRADE_RANK[Grade.NEEDS_REVIEW]), name


def test_every_excepted_blank_is_an_attribute():
    assert set(ANSWERED_OTHERWISE) <= {f.name for f in fields(Sprocket)}


@MANY
@given(st.sampled_from(CHAINS), st.sampled_from(CHAINS), st.integers(1, 4), st.integers(24, 60))
def test_any_two_chains_get_an_answer(one, other, strands, teeth):
    verdict = judge(
        place(chain=one, strands=strands, teeth=teeth), part(chain=other, strands=strands, teeth=teeth)
    )

    assert verdict.checks[0].aspect is Aspect.CHAIN


@pytest.mark.parametrize(
    ("one", "other", "there", "back"),
    [
        (pilot(12.0, 28.0), part(), "needs_review", "with_work"),
        (part(hub_style=HubStyle.B), part(hub_style=HubStyle.C), "with_work", "needs_review"),
        (part(), part(bore_mm=28.0, hub_diameter_mm=60.0), "unfit", "with_work"),
        (part(), bushed("1210"), "with_work", "needs_review"),
        (part(chain=chain("41")), part(chain=chain("420")), "drop_in", "needs_review"),
        (part(hardened_teeth=False), part(hardened_teeth=True), "drop_in", "needs_review"),
        (part(material=Material.CAST_IRON), part(), "drop_in", "unfit"),
        (part(strands=1), part(strands=2), "needs_review", "unfit"),
        (part(outside_diameter_mm=76.0), part(outside_diameter_mm=73.0), "drop_in", "drop_in"),
        (part(), idler(), "unfit", "with_work"),
    ],
)
def test_required_and_offered_do_not_commute(one, other, there, back):
    # `there` is `other` in the place of `one`.
    assert judge(requirement_of(one), other).grade.value == there
    assert judge(requirement_of(other), one).grade.value == back
