"""One rule for the last day of an order, by hand: a part of a day counts as a whole one."""

from datetime import date

import pytest

from inventory.stores.order_dates import order_by

LIMIT = date(2026, 3, 31)


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (0, LIMIT),
        (30, date(2026, 3, 1)),
        (30.2, date(2026, 2, 28)),
        (29.999999999, date(2026, 3, 1)),
        (0.1 + 0.2 + 29.7, date(2026, 3, 1)),
        (10_000_000, date.min),
    ],
)
def test_days_are_rounded_against_the_plant(days, expected):
    assert order_by(LIMIT, days) == expected


def test_a_longer_lead_time_never_allows_a_later_day():
    days = [order_by(LIMIT, tenth / 10) for tenth in range(400)]
    assert days == sorted(days, reverse=True)
