"""A plant that no rule was fitted to: its demand comes from a generator that was fixed before any rule saw it.

Sprockets, bushes and chain of an invented plant: steady parts, parts whose years differ, sets, parts that fade and parts that
were introduced late. Nothing here may be changed to make a rule look better.
"""

from functools import cache

import numpy as np

from inventory.array_checks import FloatArray

SEED, ITEMS, MONTHS = 20_261_128, 1_500, 96
MEDIAN_PER_MONTH, LOG_SPREAD = 0.12, 1.1
SEASON = 0.1
STEADY, UNEVEN, SETS, FADING = 0.55, 0.75, 0.85, 0.93
"""Upper ends of the shares; the rest was introduced late."""


@cache
def unseen_plant() -> FloatArray:
    """Whole pieces, items by months."""
    random = np.random.default_rng(SEED)
    rate = MEDIAN_PER_MONTH * np.exp(LOG_SPREAD * random.standard_normal(ITEMS))
    kind, month = random.uniform(size=ITEMS), np.arange(MONTHS)
    level = rate[:, None] * (1 + SEASON * np.sin(2 * np.pi * month / 12))
    uneven = (kind >= STEADY) & (kind < UNEVEN)
    years = random.gamma(4.0, 1 / 4.0, (ITEMS, MONTHS // 12)).repeat(12, axis=1)
    months = random.gamma(1.5, 1 / 1.5, (ITEMS, MONTHS))
    level = np.where(uneven[:, None], level * years * months, level)
    turn = random.integers(12, 72, ITEMS)[:, None]
    fading, late = (kind >= SETS) & (kind < FADING), kind >= FADING
    level = np.where(fading[:, None], level * 0.5 ** (np.maximum(month - turn, 0) / 18), level)
    level = np.where(late[:, None] & (month < turn), 0.0, level)
    jobs = random.poisson(level)
    more = random.binomial(jobs * 3, 1 / 3)
    pieces = np.where(((kind >= UNEVEN) & (kind < SETS))[:, None], jobs + more, jobs).astype(np.float64)
    pieces.flags.writeable = False
    return pieces
