import math

import numpy as np
import pytest

from drives.reliability.lives import Lives, for_mechanism, from_rows, right_censored, split_by_mechanism

SEEN = ["failure", "limit_reached"]
CENSORED = ["preventive", "opportunity", "relocated", "modification", "decommissioned", "unknown", "", None]


@pytest.mark.parametrize("ended_by", SEEN)
def test_a_failure_and_a_worn_out_part_are_ends_that_were_seen(ended_by):
    lives = from_rows([(100, ended_by)])
    assert (lives.failures, lives.suspensions) == (1, 0)


@pytest.mark.parametrize("ended_by", CENSORED)
def test_all_other_ends_and_what_still_runs_are_censored(ended_by):
    lives = from_rows([(100, ended_by)])
    assert (lives.failures, lives.suspensions) == (0, 1)


@pytest.mark.parametrize(
    ("hours", "words"),
    [
        (-1, r"`lives\[1\].hours` must be from 0 to 10,000,000, not -1"),
        (math.nan, r"`lives\[1\].hours` must be finite"),
        (math.inf, r"`lives\[1\].hours` must be finite"),
        (1.1e7, r"`lives\[1\].hours` must be from 0 to 10,000,000"),
        (0, r"`lives\[1\].hours` must be more than 0 where the end was seen"),
        ("many", r"`lives\[1\].hours` must be a number, not 'many'"),
        (None, r"`lives\[1\].hours` must be a number"),
        (True, r"`lives\[1\].hours` must be a number"),
    ],
)
def test_it_names_the_row_and_field_that_it_refuses(hours, words):
    with pytest.raises(ValueError, match=words):
        from_rows([(100, "failure"), (hours, "failure")])


@pytest.mark.parametrize("ended_by", ["broke", 3, ["failure"]])
def test_it_refuses_an_end_it_does_not_know(ended_by):
    with pytest.raises(ValueError, match=r"`lives\[0\].ended_by` must be one of decommissioned, failure"):
        from_rows([(100, ended_by)])


def test_a_part_taken_off_before_it_ran_is_a_life_of_no_hours():
    assert from_rows([(0, "preventive")]).exposure_hours == 0


def test_no_rows_are_no_lives():
    assert len(from_rows([])) == 0


def test_bounds_tell_the_four_kinds_apart():
    lives = Lives(np.array([5.0, 5, 0, 3]), np.array([5.0, math.inf, 4, 4]))
    assert lives.is_exact.tolist() == [True, False, False, False]
    assert lives.is_observed.tolist() == [True, False, True, True]
    assert lives.exposure_hours == 5 + 5 + 2 + 3.5
    assert not lives.is_right_censored_only


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
        ({"groups": ["a"]}, "`groups` must be 2 names"),
        ({"lower_hours": [[1.0, 2]]}, "`lower_hours` must be one flat list"),
    ],
)
def test_it_refuses_bounds_that_are_no_lives(fields, words):
    base = {"lower_hours": [1.0, 2], "upper_hours": [3.0, 3]}
    with pytest.raises(ValueError, match=words):
        Lives(**{name: np.array(value) for name, value in {**base, **fields}.items()})


def test_lives_cannot_be_changed():
    lives = right_censored([1.0], observed=[True])
    with pytest.raises(ValueError, match="read-only"):
        lives.lower_hours[0] = 2


@pytest.mark.parametrize("observed", [[True], [True, 2], ["yes", "no"]])
def test_it_refuses_ends_that_are_neither_seen_nor_not(observed):
    with pytest.raises(ValueError, match="`observed` must be"):
        right_censored([1.0, 2.0], observed=observed)


def test_an_end_by_another_mechanism_is_censored_at_its_hour():
    rows = [
        (900, "limit_reached", "wear"),
        (200, "failure", "overload"),
        (500, "failure", None),
        (50, None, "wear"),
    ]
    wear = for_mechanism(rows, "wear")
    assert wear.is_observed.tolist() == [True, False, False, False]
    assert wear.lower_hours.tolist() == [900, 200, 500, 50]


def test_every_end_belongs_to_one_mechanism():
    rows = [
        (900, "failure", "wear"),
        (200, "failure", "overload"),
        (500, "failure", ""),
        (50, "preventive", "wear"),
    ]
    split = split_by_mechanism(rows)
    assert list(split) == ["overload", "unknown", "wear"]
    assert sum(lives.failures for lives in split.values()) == 3
