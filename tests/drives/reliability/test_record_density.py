"""Where the density of a record jumps.

By hand: the others of a constant rate lie on either side of a record as the shares of the time do (binomial).
"""

import numpy as np
import pytest

from drives.reliability.record_density import density_jump, last_rise


def every(step, begin, end):
    return list(np.arange(begin, end, step))


def test_the_chance_of_one_old_record_by_hand():
    # Five records, four of them in the last fifth of the time: 0 of 4 others in the first four fifths is 0.2 ** 4.
    found = density_jump([0, 80, 85, 90, 95], end=100)
    assert found is not None
    assert (found.first, found.earlier_records, found.later_records, found.is_rise) == (1, 1, 4, True)
    assert found.chance == pytest.approx(0.2**4)


def test_a_steady_record_begins_with_its_first():
    steady = every(7.0, 0.0, 3650.0)
    assert last_rise(steady, end=3650.0) == 0
    assert density_jump(steady, end=3650.0) is None


@pytest.mark.parametrize("old", [[0.0], [0.0, 1700.0, 2900.0], [0.0, 400.0, 800.0, 1200.0, 5000.0]])
def test_old_cards_before_a_feed_are_found_whatever_their_number(old):
    feed = every(9.0, 7000.0, 7365.0)
    assert last_rise([*old, *feed], end=7365.0) == len(old)


def test_a_record_that_rises_twice_begins_at_the_second_rise():
    moments = [*every(400.0, 0.0, 4000.0), *every(60.0, 4000.0, 6000.0), *every(4.0, 6000.0, 6400.0)]
    first = last_rise(moments, end=6400.0)
    assert moments[first] == pytest.approx(6000.0, abs=60.0)


def test_too_few_records_show_no_jump():
    assert last_rise([0, 3000], end=3650.0) == 0
    assert last_rise([0, 2000, 3000], end=3650.0) == 0


def test_less_than_the_factor_is_no_jump():
    moments = [*every(20.0, 0.0, 4000.0), *every(10.0, 4000.0, 8000.0)]
    assert last_rise(moments, end=8000.0) == 0
    assert last_rise(moments, end=8000.0, factor=1.8) > 0


def test_a_feed_that_stopped_is_a_fall():
    found = density_jump(every(5.0, 0.0, 1000.0), end=2000.0)
    assert found is not None
    assert (found.first, found.later_records, found.is_rise) == (200, 0, False)


# By hand: of five records all but the first lie in the last share of the time with the chance share ** 4, tried at five places.
@pytest.mark.parametrize(("share", "jumps"), [(0.2114, True), (0.2118, False)])
def test_a_jump_less_likely_than_one_in_a_hundred_is_one(share, jumps):
    moments = [0, *np.linspace(100 * (1 - share), 99, 4)]
    assert 5 * share**4 == pytest.approx(0.01, rel=0.01)
    assert (density_jump(moments, end=100) is not None) is jumps
    assert last_rise(moments, end=100) == (1 if jumps else 0)


@pytest.mark.parametrize(("times", "jumps"), [(2.95, False), (3.05, True)])
def test_three_times_the_density_is_a_jump(times, jumps):
    moments = [*every(1.0, 0.0, 400.0), *np.linspace(400.0, 800.0, round(400 * times), endpoint=False)]
    assert (density_jump(moments, end=800.0) is not None) is jumps
    assert last_rise(moments, end=800.0) == (400 if jumps else 0)


def test_at_its_limits_a_rise_counts():
    # By hand: one record in the first three days, three in the last: nine times as dense, and 4 * (1 / 4) ** 3 likely.
    moments = [0, 3, 3.25, 3.5]
    found = density_jump(moments, end=4, factor=9.0, chance=0.0625)
    assert found is not None
    assert (found.first, found.chance) == (1, 0.015625)
    assert last_rise(moments, end=4, factor=9.0, chance=0.0625) == 1


def test_a_fall_by_hand():
    # One of four others in the last 80 of 83 days: (3/83)**4 + 4 (80/83) (3/83)**3.
    found = density_jump([0, 1, 2, 3, 43], end=83)
    assert found is not None
    assert (found.first, found.earlier_records, found.later_records, found.is_rise) == (4, 4, 1, False)
    assert (found.earlier_span, found.later_span) == (3, 80)
    assert found.chance == pytest.approx((3 / 83) ** 4 + 4 * (80 / 83) * (3 / 83) ** 3)


def test_at_its_limit_a_fall_counts():
    # Two records in a day, one in the sixteen after it: 32 times as dense.
    found = density_jump([0, 1, 9], end=17, factor=32.0, chance=0.9)
    assert found is not None
    assert (found.first, found.later_records) == (2, 1)


def test_three_later_records_show_a_rise_and_two_do_not():
    found = density_jump([0, 99.4, 99.5, 99.6], end=100)
    assert found is not None
    assert found.is_rise
    assert density_jump([0, 99.5, 99.6], end=100) is None
    assert density_jump([0], end=100) is None


def test_a_record_at_its_end_shows_nothing():
    assert density_jump([0, 100], end=100) is None


def test_a_constant_rate_is_rarely_taken_for_a_jump():
    """The limit holds: Bonferroni makes it less than `chance`."""
    dice = np.random.default_rng(9)
    wrong = 0
    for _ in range(300):
        moments = np.sort(dice.uniform(0, 1000, 60))
        wrong += (
            density_jump(moments - moments[0], end=1000 - moments[0], factor=1.01, chance=0.05) is not None
        )
    assert wrong <= 0.05 * 300 + 3 * (300 * 0.05 * 0.95) ** 0.5


@pytest.mark.parametrize("late", [[], [2500.0 - 0.5]])
def test_what_was_recorded_just_now_does_not_begin_the_record(late):
    """A month apart for three years, then nothing for years, and one or two days of records before the question."""
    moments = [30.0 * month for month in range(36)]
    assert last_rise([*moments, *late, 2500.0 - 1e-5], end=2500.0) == 0
