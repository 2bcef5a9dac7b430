"""The one rule for the last day on which something can be ordered: days are rounded against the plant."""

import math
from datetime import date, timedelta

NOISE_DAYS = 1e-6
"""What a sum of fractions may be off."""


def order_by(needed_on: date, days: float) -> date:
    """The last day for an order that takes so many days; the part of a day that is left over counts as a whole one.

    >>> order_by(date(2026, 3, 31), 30.2)
    datetime.date(2026, 2, 28)
    """
    whole = math.ceil(days - NOISE_DAYS)
    return needed_on - timedelta(days=whole) if whole < needed_on.toordinal() else date.min
