import math

import numpy as np
import pytest

from drives.reliability.lifetimes import (
    Lifetimes,
    ReportedLifetime,
    lifetimes_by_mechanism,
    reported_lifetimes,
    right_censored,
)

CENSORED = ["preventive", "opportunity", "relocated", "modification", "decommissioned", "unknown", "", None]


def reported(*rows):
    return [ReportedLifetime(hours, hours, ended_by, mechanism) for hours, ended_by, mechanism in rows]


@pytest.mark.parametrize("ended_by", ["failure", "limit_reached"])
def test_a_failure_and_a_part_worn_to_its_limit_count_as_failures(ended_by):
    lifetimes = reported_lifetimes(reported((100, ended_by, None)))
    assert (lifetimes.failures, lifetimes.suspensions) == (1, 0)


@pytest.mark.parametrize("ended_by", CENSORED)
def test_all_other_ends_and_running_parts_are_censored(ended_by):
    lifetimes = reported_lifetimes(reported((100, ended_by, "wear")))
    assert (lifetimes.failures, lifetimes.suspensions) == (0, 1)


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (-1, r"`hours\[1\]` must be from 0 to 10,000,000, not -1"),
        (math.nan, r"`hours\[1\]` must be finite"),
        (math.inf, r"`hours\[1\]` must be finite"),
        (1.1e7, r"`hours\[1\]` must be from 0 to 10,000,000"),
        (0, r"`hours\[1\]` must be more than 0 where a failure was observed"),
    ],
)
def test_it_names_the_hours_that_it_refuses(hours, words):
    with pytest.raises(ValueError, match=words):
        right_censored([100, hours], observed=[True, True])


def test_a_part_removed_before_it_ran_is_a_lifetime_of_no_hours():
    assert right_censored([0], observed=[False]).exposure_hours == 0


def test_no_rows_are_no_lifetimes():
    assert len(reported_lifetimes([])) == 0


def test_bounds_distinguish_the_four_kinds():
    lifetimes = Lifetimes(np.array([5.0, 5, 0, 3]), np.array([5.0, math.inf, 4, 4]))
    assert lifetimes.is_exact.tolist() == [True, False, False, False]
    assert lifetimes.is_observed.tolist() == [True, False, True, True]
    assert lifetimes.exposure_hours == 5 + 5 + 2 + 3.5
    assert not lifetimes.is_right_censored_only


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"upper_hours": [3.0, 1]}, r"`upper_hours\[1\]` must be from 2 \(its lower bound\)"),
        ({"upper_hours": [3.0, math.nan]}, r"`upper_hours\[1\]`"),
        ({"upper_hours": [3.0, 2e7]}, r"`upper_hours\[1\]`"),
        ({"upper_hours": [3.0]}, "`upper_hours` must be 2 numbers"),
        ({"lower_hours": [0.0, 2], "upper_hours": [0.0, 2]}, r"`upper_hours\[0\]` must be more than 0"),
        ({"weights": [1.0, 0]}, "`weights` must all be more than 0"),
        ({"weights": [1.0]}, "`weights` must be 2 numbers"),
        ({"lower_hours": [[1.0, 2]]}, "`lower_hours` must be one flat list"),
    ],
)
def test_it_refuses_bounds_that_are_no_lifetimes(fields, words):
    base = {"lower_hours": [1.0, 2], "upper_hours": [3.0, 3]}
    with pytest.raises(ValueError, match=words):
        Lifetimes(**{name: np.array(value) for name, value in {**base, **fields}.items()})


def test_lifetimes_cannot_be_changed():
    lifetimes = right_censored([1.0], observed=[True])
    with pytest.raises(ValueError, match="read-only"):
        lifetimes.lower_hours[0] = 2


@pytest.mark.parametrize("observed", [[True], [True, 2], ["yes", "no"]])
def test_it_refuses_what_is_not_true_or_false(observed):
    with pytest.raises(ValueError, match="`observed` must be"):
        right_censored([1.0, 2.0], observed=observed)


def test_a_failure_by_another_mechanism_is_censored_at_its_hour():
    rows = reported(
        (900, "limit_reached", "wear"),
        (200, "failure", "overload"),
        (500, "failure", None),
        (50, None, "wear"),
    )
    wear = reported_lifetimes(rows, mechanism="wear")
    assert wear.is_observed.tolist() == [True, False, False, False]
    assert wear.lower_hours.tolist() == [900, 200, 500, 50]


def test_a_failure_between_inspections_by_another_mechanism_is_censored_at_the_first():
    rows = [ReportedLifetime(200, 400, "failure", "overload", weight=3)]
    wear = reported_lifetimes(rows, mechanism="wear")
    assert (wear.lower_hours.tolist(), wear.upper_hours.tolist()) == ([200], [math.inf])
    assert (wear.suspensions, wear.exposure_hours) == (3, 600)


def test_every_failure_belongs_to_one_mechanism():
    rows = reported(
        (900, "failure", "wear"),
        (200, "failure", "overload"),
        (500, "failure", ""),
        (50, "preventive", "wear"),
    )
    split = lifetimes_by_mechanism(rows)
    assert list(split) == ["overload", "unknown", "wear"]
    assert sum(lifetimes.failures for lifetimes in split.values()) == 3


def test_without_a_named_mechanism_there_is_nothing_to_split():
    assert lifetimes_by_mechanism(reported((900, "failure", None), (50, "preventive", "wear"))) == {}
