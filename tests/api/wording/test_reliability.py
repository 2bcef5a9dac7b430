import inspect
import math

import pytest

from api.wording import reliability
from api.wording.sentences import sentence, sentences
from drives.reliability import rate_pooling, weibull
from drives.reliability.lifetimes import Lifetimes, right_censored
from drives.reliability.rate_pooling import pool_rates
from drives.reliability.weibull import fit_weibull
from inventory.facts import fact

SHAPE = {"shape": 2.345, "shape_low": 1.0512, "shape_high": 4.5678, "confidence_percent": 95.0}


@pytest.mark.parametrize(
    ("found", "text"),
    [
        (
            fact("parts_wear_out", **SHAPE),
            "The parts wear out: the shape is 2.35 and the 95 % interval, 1.05 to 4.57, lies above 1.",
        ),
        (
            fact("parts_fail_early", **SHAPE),
            "The parts fail early: the shape is 2.35 and the 95 % interval, 1.05 to 4.57, lies below 1.",
        ),
        (
            fact("parts_fail_at_random", **{**SHAPE, "shape_high": None, "confidence_percent": 99.99}),
            "No effect of age is shown: the shape is 2.35 and the 99.99 % interval, 1.05 or more, includes 1, which is"
            " random failure.",
        ),
        (
            fact("too_few_failures_for_shape", failures=1.0, **SHAPE),
            "Only 1 failure was observed: the shape 2.35 is a guess, and the 95 % interval, 1.05 to 4.57, says little.",
        ),
        (
            fact("too_few_failures_for_shape", failures=0.5, **SHAPE),
            "Only 0.5 failures were observed: the shape 2.35 is a guess, and the 95 % interval, 1.05 to 4.57, says little.",
        ),
        (
            fact("failures_only_at_longest_life", failures=1, hours=100.0),
            "The only failure came at the longest life, 100 h: no shape can be estimated.",
        ),
        (
            fact("failures_only_at_longest_life", failures=3, hours=100.5),
            "All 3 failures came at the longest life, 100.5 h: no shape can be estimated.",
        ),
        (
            fact("inspections_too_far_apart", hours=10.0),
            "One life of 10 h would explain all observations: the inspections are too far apart to estimate a shape.",
        ),
        (
            fact("mean_life_at_least", hours=3338.08, confidence_percent=90.0),
            "If failures are random, the mean life is at least 3,338 h (90 % confidence).",
        ),
        (
            fact("group_unlike_others", group=8, failures=40.0, exposure=1000.0, rate=0.04, p_value=1.23e-9),
            "Group 8 (40 failures in 1000, rate 0.04) is unlike the others (p = 1.2e-09): do not pool it with them.",
        ),
        (
            fact("rates_fall_with_exposure", p_value=0.0123),
            "Rates fall with exposure (p = 0.012): groups that run much and little are not alike.",
        ),
    ],
)
def test_a_fact_reads_as_a_sentence(found, text):
    assert sentence(found) == text


def test_a_fit_without_failures_gives_the_bound_in_words():
    fit = fit_weibull(right_censored([4000, 6000], observed=[0, 0]))
    assert sentences(fit.reasons) == (
        "No failure was observed: the hours run give an upper bound of the failure rate, but no distribution."
        " If failures are random, the mean life is at least 3,338 h (95 % confidence)."
    )


@pytest.mark.parametrize(
    "reasons",
    [
        fit_weibull(right_censored([700, 900, 1000], observed=[1, 1, 1])).reasons,
        fit_weibull(right_censored([100, 5000, 5000], observed=[1, 0, 0]), confidence=0.9999).reasons,
        fit_weibull(Lifetimes([0.0, 20], [10, math.inf])).reasons,
        fit_weibull(Lifetimes([0, 0, 1000], [1e-9, 1e-9, 1000], [1, 1e4, 0.001])).reasons,
        pool_rates([0, 0, 1, 0, 0, 1, 0, 0, 40], exposure=[1000] * 9).cautions,
    ],
)
def test_what_the_core_finds_has_a_sentence(reasons):
    assert reasons
    assert all(sentence(reason).endswith(".") for reason in reasons)


def test_every_code_is_one_that_the_core_gives():
    cores = (weibull, rate_pooling)
    given = " ".join(inspect.getsource(core) for core in cores)
    assert [code for code in reliability.SENTENCES if f'"{code}"' not in given] == []
