import math

import pytest
from scipy import stats

from inventory.stocking.record_accuracy import (
    DAYS_PER_MONTH,
    error_hazard_per_month,
    probability_right,
    wilson_interval,
)


def test_57_of_60_leave_from_86_to_98_percent_open():
    """The check value of the practice notes: 95 % right, 86.3 to 98.3 %."""
    assert wilson_interval(57, 60) == pytest.approx((0.8630, 0.9829), abs=5e-5)


@pytest.mark.parametrize(("days", "chance"), [(18 * DAYS_PER_MONTH, 0.58), (14, 0.986)])
def test_12_errors_in_400_item_months_wear_the_trust_in_a_record(days, chance):
    """The check values of the practice notes: 58 % after 18 months, 98.6 % after 14 days."""
    hazard = error_hazard_per_month(12, 400)
    assert probability_right(hazard, days / DAYS_PER_MONTH) == pytest.approx(chance, abs=0.003)


@pytest.mark.parametrize(("right", "counted"), [(0, 1), (1, 1), (3, 7), (199, 200), (0, 40)])
def test_it_agrees_with_another_program(right, counted):
    other = stats.binomtest(right, counted).proportion_ci(method="wilson")
    assert wilson_interval(right, counted) == pytest.approx((other.low, other.high), abs=1e-12)


@pytest.mark.parametrize("counted", [1, 3, 40])
def test_an_interval_ends_at_none_and_at_all(counted):
    assert wilson_interval(0, counted)[0] == 0.0
    assert wilson_interval(counted, counted)[1] == 1.0


def test_the_interval_is_what_the_score_test_does_not_refuse():
    low, _ = wilson_interval(57, 60)
    assert (57 / 60 - low) / math.sqrt(low * (1 - low) / 60) == pytest.approx(1.959964, abs=1e-6)


def test_no_error_seen_is_not_no_error_possible():
    assert error_hazard_per_month(0, 100) == 0.005
    assert probability_right(0.0, 1e6) == 1.0


@pytest.mark.parametrize(
    ("act", "named"),
    [
        (lambda: wilson_interval(0, 0), "`counted`"),
        (lambda: wilson_interval(-1, 5), "`right`"),
        (lambda: wilson_interval(6, 5), "`right`"),
        (lambda: wilson_interval(1, 5, 1.0), "`confidence`"),
        (lambda: error_hazard_per_month(-1, 5), "`errors`"),
        (lambda: error_hazard_per_month(1, 0), "`item_months`"),
        (lambda: probability_right(-0.1, 1), "`hazard_per_month`"),
        (lambda: probability_right(0.1, math.nan), "`months`"),
    ],
)
def test_it_refuses_what_cannot_be(act, named):
    with pytest.raises(ValueError, match=named):
        act()
