import pytest

from drives.place.verdict import judge_for_place
from inventory.interchange.vocabulary import Aspect
from tests.drives.place.cases import CASES
from tests.found_facts import all_found


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_a_fitter_agrees_with_the_grade_and_with_the_reason(case):
    verdict = judge_for_place(case.required, case.offered, duty=case.duty)
    found_by = {finding.aspect: finding for finding in verdict.checks}

    assert verdict.grade.value == case.grade, [f.facts for f in verdict.deciding]
    assert case.decided_by in {finding.aspect.value for finding in verdict.deciding}, case.source
    finding = found_by[Aspect(case.decided_by)]
    assert all_found(finding.facts, case.expected), finding.facts


def test_every_case_has_a_name_of_its_own_and_a_source():
    assert len({case.name for case in CASES}) == len(CASES)
    assert all(case.source and case.expected for case in CASES)
