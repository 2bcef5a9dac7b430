import pytest

from inventory.interchange.verdict import judge
from inventory.interchange.vocabulary import Aspect
from tests.explained import explained
from tests.inventory.interchange.cases import CASES


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in CASES])
def test_a_fitter_agrees_with_the_grade_and_with_the_reason(case):
    verdict = judge(case.required, case.offered, bushes=case.bushes)
    said = {finding.aspect: finding for finding in verdict.checks}

    assert verdict.grade.value == case.grade, [explained(f) for f in verdict.deciding]
    assert case.decided_by in {finding.aspect.value for finding in verdict.deciding}, case.source
    for word in case.words:
        assert word in explained(said[Aspect(case.decided_by)])


def test_every_case_has_a_name_of_its_own_and_a_source():
    assert len({case.name for case in CASES}) == len(CASES)
    assert all(case.source and case.words for case in CASES)
