"""Renewals over very many lifetimes: the distribution on equal steps, convolved by Fourier transform.

The mass of each step is shared between its two ends so that the mean lifetime stays exact (Gerber, Insurance: Mathematics
and Economics 1, 1982). The error falls with the square of the step; two steps, one half the other, cancel most of it
(Richardson). Powers by transform: Embrechts and Frei, Mathematical Methods of Operations Research 69, 2009.
"""

import numpy as np
from scipy import fft, special

from drives.reliability.renewal_process import MOST_RENEWALS, cumulative_hazard
from inventory.array_checks import FloatArray

# One less than a power of two: a convolution then fits the next one exactly.
STEPS = (1 << 14) - 1
# Chances below this are lost in the rounding of the transform.
LOST_CHANCE = 1e-12
# From ages with no more hazard behind them, a plain difference of hazards is off by no more than the last digits of a chance.
LITTLE_HAZARD = 8.0
_GAUSS_X, _GAUSS_W = special.roots_legendre(3)
_GAUSS_X, _GAUSS_W = (_GAUSS_X + 1) / 2, _GAUSS_W / 2


def chances_over_many_lifetimes(ages: FloatArray, *, reach: float, shape: float) -> FloatArray:
    """Chance of n renewals or more within `reach`, one row per age, n = 0, 1, …; ages and reach in scales.

    >>> round(float(chances_over_many_lifetimes(np.zeros(1), reach=60.0, shape=1.0).sum()) - 1, 6)
    60.0
    """
    coarse, fine = (_on_steps(ages, reach=reach, shape=shape, steps=steps) for steps in (STEPS, 2 * STEPS))
    most = max(coarse.shape[1], fine.shape[1])
    coarse, fine = (np.pad(table, ((0, 0), (0, most - table.shape[1]))) for table in (coarse, fine))
    return np.minimum.accumulate(np.clip(fine + (fine - coarse) / 3, 0.0, 1.0), axis=1)


def _on_steps(ages: FloatArray, *, reach: float, shape: float, steps: int) -> FloatArray:
    size = 2 * fft.next_fast_len(steps + 1, real=True)
    first = step_masses(ages, reach=reach, shape=shape, steps=steps)
    fresh = fft.rfft(step_masses(np.zeros(1), reach=reach, shape=shape, steps=steps)[0], size)
    columns = [np.ones(ages.size), -np.expm1(-cumulative_hazard(ages, reach, shape=shape))]
    masses = np.zeros(steps + 1)
    masses[0] = 1.0
    while columns[-1].max() > LOST_CHANCE and len(columns) < MOST_RENEWALS:
        # Mass beyond the end is dropped at each step, or the transform would wrap it round to the start.
        masses = fft.irfft(fft.rfft(masses, size) * fresh, size)[: steps + 1]
        # Half of the mass on the last step lies beyond the time.
        until = np.cumsum(masses) - masses / 2
        columns.append(first @ until[::-1])
    return np.array(columns).T


def step_masses(ages: FloatArray, *, reach: float, shape: float, steps: int) -> FloatArray:
    """Mass at 0, h, 2h, … up to `reach`: the decrease of the mean survival between steps."""
    points = (np.arange(steps + 1)[:, None] + _GAUSS_X).ravel() * (reach / steps)
    mean = _survival(ages, points, shape).reshape(ages.size, steps + 1, _GAUSS_X.size) @ _GAUSS_W
    return np.asarray(-np.diff(mean, axis=1, prepend=1.0))


def _survival(ages: FloatArray, spans: FloatArray, shape: float) -> FloatArray:
    """Of each age, over each span; the exponential of a logarithm takes a quarter of the time of a power."""
    with np.errstate(divide="ignore", over="ignore"):
        so_far = np.exp(shape * np.log(ages))
        found = np.exp(so_far[:, None] - np.exp(shape * np.log(ages[:, None] + spans)))
    old = so_far > LITTLE_HAZARD
    if old.any():
        found[old] = np.exp(-cumulative_hazard(ages[old, None], spans, shape=shape))
    return np.asarray(found)
