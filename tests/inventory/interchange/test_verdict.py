import pytest

from inventory.facts import fact
from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import BoreType, Environment, Material, Operation, Outcome
from tests.inventory.interchange.cases import CASES
from tests.inventory.interchange.samples import chain, keyed, part, place


def cases(grade=None):
    return [pytest.param(case, id=case.name) for case in CASES if grade in (None, case.grade)]


@pytest.mark.parametrize("case", cases())
def test_every_finding_has_a_reason_and_a_source(case):
    for finding in judge(case.required, case.offered, bushes=case.bushes).findings:
        assert finding.code == finding.facts[0].code
        assert finding.sources


@pytest.mark.parametrize("case", cases("unfit"))
def test_an_unfit_candidate_gets_no_work(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)

    assert (verdict.work, verdict.work_minutes) == ((), 0)


@pytest.mark.parametrize("case", cases("with_work"))
def test_work_is_named_with_its_minutes(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)

    assert verdict.work
    assert verdict.work_minutes == sum(step.minutes for step in verdict.work)


def test_the_first_fact_of_a_check_is_the_worst_and_each_stands_once():
    verdict = judge(
        place(chain=chain("60H"), strands=2), part(chain=chain("60"), strands=2, tooth_width_mm=11.1)
    )
    check = verdict.checks[0]

    assert (check.code, [one.code for one in check.further]) == ("rows_do_not_line_up", [])
    assert len(set(check.sources)) == len(check.sources)


def test_a_check_lists_what_others_of_its_aspect_found():
    check = judge(place(), part(chain=chain("08B"), tooth_width_mm=7.6)).checks[0]

    assert (check.code, check.further[-1].code) == ("tooth_width_between", "same_chain")


def test_every_answer_begins_with_lock_out_and_ends_with_who_decides():
    cautions = judge(place(), part()).cautions

    assert cautions[0] == fact("lock_out")
    assert cautions[-1] == fact("competent_person_decides")


@pytest.mark.parametrize(
    ("changes", "attributes", "caution"),
    [
        ({}, {"mass_kg": 132.0}, fact("lifting_gear", mass_kg=132.0)),
        # 558.06 mm over the pitch circle: (558.06² x 16.169 - 25² x 28) mm³ x pi/4 x 7.85e-6 kg/mm³.
        (
            {"chain": chain("16B"), "teeth": 69},
            {"chain": chain("16B"), "teeth": 69, "bore_mm": 25.0, "hub_diameter_mm": None},
            fact("lifting_gear_estimated", mass_kg=30.94),
        ),
        ({}, {"material": Material.CAST_IRON}, fact("no_hammer_on_cast_iron")),
        ({"environment": frozenset({Environment.EXPLOSIVE})}, {}, fact("no_sparks_in_dust_zone")),
        ({}, {"set_screws": 0}, fact("no_set_screws")),
    ],
)
def test_a_part_or_a_place_brings_its_own_caution(changes, attributes, caution):
    assert caution in judge(place(**changes), part(**attributes)).cautions


@pytest.mark.parametrize(
    "attributes",
    [
        {"set_screws": 2},
        {"set_screws": None},
        {"set_screws": 0, "bore_type": BoreType.PLAIN, "bore_mm": 16.0},
    ],
)
def test_set_screws_that_are_there_or_come_with_the_work_need_no_caution(attributes):
    assert fact("no_set_screws") not in judge(place(), part(**attributes)).cautions


def test_work_is_listed_in_the_order_in_which_it_is_done():
    order = list(Operation)
    for case in CASES:
        steps = [order.index(step.operation) for step in judge(case.required, case.offered).work]
        assert steps == sorted(steps)


# What fits is worked out from more than the two figures that are shown.
WORKED_OUT = {"bore_to_open", "pilot_bore_to_finish", "wall_over_keyseat_too_thin", "keyway_fits_key"}


def findings_with_margin():
    for case in CASES:
        yield from judge(case.required, case.offered, bushes=case.bushes).findings
    # Of a size between standard sizes nobody can say on which side it lies.
    for bore_mm in (24.98, 25.02, 25.4, 26.0):
        yield from judge(place(shaft=keyed(25.0, 8.0)), part(bore_mm=bore_mm)).findings


FOUND = [finding for finding in findings_with_margin() if finding.margin is not None]


def test_a_margin_is_negative_where_a_limit_is_broken_and_nowhere_else():
    sizes_between = [one for one in FOUND if one.code == "size_between_standard_sizes"]

    assert all(one.margin >= 0 for one in FOUND if one.outcome is Outcome.OK)
    assert all(
        one.margin < 0 for one in FOUND if one.outcome is Outcome.NO and one.code != "teeth_differ_by_cut"
    )
    assert sizes_between
    assert all(one.margin < 0 for one in sizes_between)


def test_a_margin_is_the_distance_of_what_is_offered_from_its_limit():
    compared = [
        one
        for one in FOUND
        if type(one.offered) in (int, float)
        and type(one.limit) in (int, float)
        and one.code not in WORKED_OUT
        and not one.code.startswith("rows_too_wide")
    ]

    assert len(compared) > 50
    for one in compared:
        apart = abs(one.offered - one.required)
        distances = [one.limit - one.offered, one.offered - one.limit, one.limit - apart]
        if one.code == "size_between_standard_sizes":
            distances = [-apart]
        if one.code == "shaft_beyond_greatest_bore":
            distances = [one.limit - one.required]
        assert any(one.margin == pytest.approx(distance, abs=1e-3) for distance in distances), one


OF_THE_PLACE = {"shaft_mm", "pin_mm", "room_mm", "replaced_bore_mm", "needed_depth_mm", "key_width_mm"}
OF_THE_PART = {"offered_mm", "bore_mm", "hub_mm", "length_mm", "depth_mm", "keyway_mm", "diameter_mm"}
# Here the figures compare something else than the size that the fact names besides.
OTHER_FIGURES = {
    *(("rows_too_wide", "room_mm"), ("shaft_beyond_greatest_bore", "bore_mm")),
    *(("wall_over_keyseat_too_thin", "hub_mm"), ("bearing_to_press_in", "hub_mm")),
    ("keyway_too_shallow", "key_width_mm"),
}


def test_the_figures_beside_a_reason_are_those_it_names():
    compared = 0
    for finding in FOUND:
        for names, figure in ((OF_THE_PLACE, finding.required), (OF_THE_PART, finding.offered)):
            for name in names & set(finding.values):
                size = finding.values[name]
                is_number = type(size) in (int, float) and type(figure) in (int, float)
                if is_number and (finding.code, name) not in OTHER_FIGURES:
                    compared += 1
                    assert size == pytest.approx(figure, abs=0.001), (finding, name)
    assert compared > 200
