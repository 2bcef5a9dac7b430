"""What a verdict makes of its findings: hand-built findings, one of each kind."""

import pytest

from inventory.facts import fact
from inventory.interchange.findings import Finding, Verdict, WorkStep, not_recorded, not_required, worst_of
from inventory.interchange.vocabulary import Aspect, Grade, Operation, Outcome

OK, WORK, REVIEW, NO = Outcome.OK, Outcome.WORK, Outcome.REVIEW, Outcome.NO


def finding(outcome, code="one", aspect=Aspect.CHAIN, **more):
    return Finding(aspect, outcome, (fact(code),), **more)


def step(operation, minutes=10, basis="recorded", detail="why"):
    return WorkStep(operation=operation, detail=fact(detail), minutes=minutes, basis=basis)


def verdict(*findings):
    return Verdict(findings=findings)


@pytest.mark.parametrize(
    ("outcomes", "grade"),
    [
        ((OK,), Grade.DROP_IN),
        ((OK, WORK), Grade.WITH_WORK),
        ((REVIEW, OK, WORK), Grade.NEEDS_REVIEW),
        ((WORK, NO, REVIEW), Grade.UNFIT),
        ((None, OK), Grade.DROP_IN),
        ((None,), Grade.NEEDS_REVIEW),
        ((), Grade.NEEDS_REVIEW),
    ],
)
def test_the_worst_finding_decides_and_nothing_checked_is_for_review(outcomes, grade):
    assert verdict(*(finding(outcome) for outcome in outcomes)).grade is grade


def test_one_unchecked_finding_makes_its_aspect_unchecked():
    both = verdict(finding(REVIEW, "seen"), not_recorded(Aspect.CHAIN, fact("unseen")))

    (check,) = both.checks
    assert check.is_unchecked
    assert not verdict(finding(OK), finding(OK, "two")).checks[0].is_unchecked
    assert [one.code for one in both.unchecked] == ["unseen"]


def test_a_refused_aspect_says_only_why_and_any_other_says_all():
    refused = verdict(finding(OK, "fits"), finding(NO, "too_wide"), finding(REVIEW, "doubtful"))
    open_ended = verdict(finding(OK, "fits"), finding(REVIEW, "doubtful"), finding(REVIEW, "doubtful"))

    assert [one.code for one in refused.checks[0].facts] == ["too_wide"]
    assert [one.code for one in open_ended.checks[0].facts] == ["doubtful", "fits"]


def test_what_nothing_is_required_of_is_no_check():
    found = verdict(finding(OK), not_required(Aspect.RATING, fact("no_power")))

    assert [check.aspect for check in found.checks] == [Aspect.CHAIN]
    assert [one.aspect for one in found.unchecked] == [Aspect.RATING]


def test_checks_stand_in_the_order_of_a_fitter_and_the_worst_of_them_decide():
    found = verdict(
        finding(REVIEW, aspect=Aspect.TEETH),
        finding(OK, aspect=Aspect.CHAIN),
        finding(REVIEW, aspect=Aspect.RATING),
    )
    order = list(Aspect)

    assert [order.index(check.aspect) for check in found.checks] == sorted(
        order.index(aspect) for aspect in (Aspect.TEETH, Aspect.CHAIN, Aspect.RATING)
    )
    assert {check.aspect for check in found.deciding} == {Aspect.TEETH, Aspect.RATING}


def test_one_step_is_done_once_and_its_minutes_add_up():
    bore, keyseat = step(Operation.BORE, 30), step(Operation.CUT_KEYSEAT, 25)
    found = verdict(finding(WORK, work=(keyseat,)), finding(WORK, "two", work=(bore, keyseat)))

    assert (found.work, found.work_minutes, found.work_basis) == ((bore, keyseat), 55, "recorded")


def test_one_estimate_makes_the_time_an_estimate_and_one_unknown_makes_it_unknown():
    known, guessed = step(Operation.BORE), step(Operation.CUT_KEYSEAT, basis="estimate")
    unknown = step(Operation.OTHER, minutes=None, basis=None)

    assert verdict(finding(WORK, work=(known, guessed))).work_basis == "estimate"
    timeless = verdict(finding(WORK, work=(known, unknown)))
    assert (timeless.work_minutes, timeless.work_basis) == (None, None)
    assert verdict(finding(OK)).work_basis is None


def test_an_unfit_candidate_is_not_worked_on():
    found = verdict(finding(WORK, work=(step(Operation.BORE),)), finding(NO, aspect=Aspect.TEETH))

    assert (found.work, found.work_minutes) == ((), 0)


def test_the_first_of_the_worst_findings_of_an_aspect():
    found = (
        finding(OK, "fits"),
        finding(REVIEW, "first"),
        finding(REVIEW, "second"),
        finding(NO, aspect=Aspect.TEETH),
        finding(None, "not_asked"),
    )

    assert worst_of(found, Aspect.CHAIN).code == "first"
    assert worst_of(found, Aspect.RATING) is None
    assert worst_of((finding(None),), Aspect.CHAIN) is None
