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
