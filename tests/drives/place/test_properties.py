from dataclasses import fields, replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from drives.place.duty import Duty
from drives.place.verdict import judge_for_place
from inventory.interchange.part_requirement import requirement_of
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import GRADE_RANK, OUTCOME_RANK, Aspect, Grade, PositionRole
from tests.drives.place.cases import CASES
from tests.drives.place.samples import driver, duty, sprocket
from tests.examples import some_of
from tests.inventory.interchange.strategies import FAMILIAR, complete_parts, maybe, parts, places

MANY = settings(max_examples=some_of(100), deadline=None)
DUTIES = st.builds(
    Duty,
    power_kw=maybe(st.floats(0.05, 40)),
    speed_rpm=maybe(st.floats(5, 2000)),
    service_factor=maybe(st.floats(1, 2)),
    mating_teeth=maybe(st.integers(9, 120)),
    centre_distance_mm=maybe(st.floats(300, 3000)),
    links=maybe(st.integers(20, 150).map(lambda pairs: 2 * pairs)),
    centre_adjustment_mm=maybe(st.tuples(st.floats(-40, 0), st.floats(0, 40))),
    fixed_centres=maybe(st.booleans()),
    ratio_tolerance_percent=maybe(st.floats(0.1, 20)),
    lifting=maybe(st.booleans()),
    elongation_percent=maybe(st.floats(0, 5)),
)
OWN_PLACES = st.builds(
    lambda own, role, teeth: (replace(requirement_of(own), role=role, teeth=own.teeth + teeth), own),
    complete_parts(FAMILIAR),
    st.sampled_from([PositionRole.DRIVER, PositionRole.DRIVEN]),
    st.sampled_from([0, 0, 1, -1, 2]),
)


def rank(required, offered, known):
    return GRADE_RANK[judge_for_place(required, offered, duty=known).grade]


@MANY
@given(places(FAMILIAR), parts(FAMILIAR), maybe(DUTIES))
def test_no_drive_makes_it_raise_and_the_worst_finding_wins(required, offered, known):
    verdict = judge_for_place(required, offered, duty=known)

    outcomes = [f.outcome for f in verdict.findings if f.outcome is not None]
    assert verdict.outcome is max(outcomes, key=OUTCOME_RANK.__getitem__)
    aspects = [finding.aspect for finding in verdict.checks]
    assert aspects == [aspect for aspect in Aspect if aspect in aspects]


@MANY
@given(complete_parts())
def test_a_complete_part_goes_in_its_own_place_where_nothing_is_known_of_the_drive(own):
    verdict = judge_for_place(requirement_of(own), own)

    assert verdict.grade is Grade.DROP_IN
    assert {Aspect.CHAIN_WEAR} <= {finding.aspect for finding in verdict.unchecked}


@MANY
@given(OWN_PLACES, DUTIES, st.floats(0.05, 1))
def test_a_tighter_ratio_tolerance_never_helps(own, known, share):
    required, offered = own
    tolerance = known.ratio_tolerance_percent
    tighter = replace(known, ratio_tolerance_percent=None if tolerance is None else tolerance * share)

    assert rank(required, offered, tighter) >= rank(required, offered, known)


@MANY
@given(OWN_PLACES, DUTIES)
def test_lifting_never_helps_and_is_at_best_for_review(own, known):
    required, offered = own
    lifting = rank(required, offered, replace(known, lifting=True))

    assert lifting >= rank(required, offered, replace(known, lifting=False))
    assert lifting >= GRADE_RANK[Grade.NEEDS_REVIEW]


@MANY
@given(OWN_PLACES, DUTIES, st.floats(1, 4))
def test_more_power_never_helps(own, known, times):
    required, offered = own
    more = replace(known, power_kw=None if known.power_kw is None else known.power_kw * times)

    assert rank(required, offered, more) >= rank(required, offered, known)


@MANY
@given(OWN_PLACES, DUTIES, st.floats(0, 3))
def test_a_more_worn_chain_never_helps(own, known, more):
    required, offered = own
    worn = None if known.elongation_percent is None else known.elongation_percent + more

    assert rank(required, offered, replace(known, elongation_percent=worn)) >= rank(required, offered, known)


@MANY
@given(OWN_PLACES, DUTIES)
def test_the_drive_opens_nothing_but_the_teeth(own, known):
    required, offered = own
    part = judge(required, offered)
    worst_elsewhere = max(
        (OUTCOME_RANK[f.outcome] for f in part.findings if f.aspect is not Aspect.TEETH and f.outcome),
        default=0,
    )

    assert rank(required, offered, known) >= worst_elsewhere


@MANY
@given(OWN_PLACES, DUTIES)
def test_another_tooth_count_is_never_better_than_review(own, known):
    required, offered = own

    if required.teeth != offered.teeth:
        assert rank(required, offered, known) >= GRADE_RANK[Grade.NEEDS_REVIEW]


@pytest.mark.parametrize("name", [spec.name for spec in fields(Duty)])
def test_a_drive_with_a_hole_is_still_judged_and_says_no_more_than_it_knows(name):
    verdict = judge_for_place(driver(), sprocket(teeth=20), duty=duty(**{name: None}))

    assert verdict.grade in {Grade.NEEDS_REVIEW, Grade.UNFIT}


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
@pytest.mark.parametrize(
    "name",
    ["chain", "teeth", "strands", "bore_type", "length_through_bore_mm", "hardened_teeth", "bush_size"],
)
def test_a_hole_in_a_fitters_case_never_helps(case, name):
    known = rank(case.required, case.offered, case.duty)

    unknown = rank(case.required, replace(case.offered, **{name: None}), case.duty)

    assert unknown >= min(known, GRADE_RANK[Grade.NEEDS_REVIEW])
