"""Renewals over very many lives: the law laid on equal steps, its sums taken by Fourier transform.

The mass of each step is shared between its two ends so that the mean life stays exact (Gerber, Insurance: Mathematics and
Economics 1, 1982). The error falls with the square of the step; two steps, one half the other, cancel the most of it
(Richardson) and show what is left.
"""

from __future__ import annotations

import numpy as np
from scipy import fft, special

from drives.reliability.process import MOST_RENEWALS, hazard_run_through
from inventory.array_checks import FloatArray

# One less than a power of two: a convolution then fits the next one exactly.
STEPS = (1 << 14) - 1
# Chances below this are lost in the rounding of the transform.
LOST_CHANCE = 1e-12
_GAUSS_X, _GAUSS_W = special.roots_legendre(3)
_GAUSS_X, _GAUSS_W = (_GAUSS_X + 1) / 2, _GAUSS_W / 2


def chances_of_many(ages: FloatArray, *, reach: float, shape: float) -> tuple[FloatArray, float]:
    """Chance of n renewals or more within a time of many lives.

    Parameters
    ----------
    ages : ndarray of float
        Ages in scales [-], 0 or more.
    reach : float
        Time in scales [-], above 0.
    shape : float
        Shape [-], above 0.

    Returns
    -------
    tuple of ndarray of float and float
        One row per age, n = 0, 1, …; and the largest difference that the finer step still made.

    Raises
    ------
    ValueError
        Never.

    Source
    ------
    Convolution powers by discrete Fourier transform, Embrechts and Frei, Mathematical Methods of Operations Research 69,
    2009.

    Examples
    --------
    >>> table, error = chances_of_many(np.zeros(1), reach=60.0, shape=1.0)
    >>> round(float(table.sum()) - 1, 6), error < 1e-5
    (60.0, True)
    """
    coarse, fine = (_on_steps(ages, reach=reach, shape=shape, steps=steps) for steps in (STEPS, 2 * STEPS))
    most = max(coarse.shape[1], fine.shape[1])
    coarse, fine = (np.pad(table, ((0, 0), (0, most - table.shape[1]))) for table in (coarse, fine))
    change = (fine - coarse) / 3
    table = np.minimum.accumulate(np.clip(fine + change, 0.0, 1.0), axis=1)
    return table, float(np.abs(change).max())


def _on_steps(ages: FloatArray, *, reach: float, shape: float, steps: int) -> FloatArray:
    size = 2 * fft.next_fast_len(steps + 1, real=True)
    first = _masses(ages, reach=reach, shape=shape, steps=steps)
    fresh = fft.rfft(_masses(np.zeros(1), reach=reach, shape=shape, steps=steps)[0], size)
    columns = [np.ones(ages.size), -np.expm1(-hazard_run_through(ages, reach, shape=shape))]
    masses = np.zeros(steps + 1)
    masses[0] = 1.0
    while columns[-1].max() > LOST_CHANCE and len(columns) < MOST_RENEWALS:
        # What passes the end is dropped at each step, or it would come round again from the start.
        masses = fft.irfft(fft.rfft(masses, size) * fresh, size)[: steps + 1]
        # Half of the mass on the last step lies beyond the time.
        until = np.cumsum(masses) - masses / 2
        columns.append(first @ until[::-1])
    return np.array(columns).T


def _masses(ages: FloatArray, *, reach: float, shape: float, steps: int) -> FloatArray:
    """Mass at 0, h, 2h, … up to `reach`: the fall of the mean survival from step to step."""
    width = reach / steps
    points = (np.arange(steps + 1)[:, None] + _GAUSS_X).ravel() * width
    survival = np.exp(-hazard_run_through(ages[:, None], points[None, :], shape=shape))
    mean = survival.reshape(ages.size, steps + 1, _GAUSS_X.size) @ _GAUSS_W
    return np.asarray(-np.diff(mean, axis=1, prepend=1.0))
