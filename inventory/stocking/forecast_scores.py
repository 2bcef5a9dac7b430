"""How good predicted chances were: ranked probability score and calibration.

`within` has a row per item, P(demand <= x) for x = 0, 1, … up to where it is 1 for practical purposes; `observed` is the demand of
each item. Source: Czado, Gneiting & Held 2009, Biometrics 65.
"""

import numpy as np

from inventory.array_checks import FloatArray, IntArray


def ranked_probability_score(within: FloatArray, observed: IntArray) -> FloatArray:
    """The CRPS of each count, sum over x of (P(demand <= x) - 1{x >= observed})^2; smaller is better.

    Beyond the last x each further piece adds 1. Source: Epstein 1969, J. Applied Meteorology 8.
    """
    pieces = np.arange(within.shape[1])
    inside = ((within - (pieces >= observed[:, None])) ** 2).sum(axis=1)
    return np.asarray(inside + np.maximum(observed - within.shape[1], 0))


def mean_pit_histogram(within: FloatArray, observed: IntArray, bins: int = 10) -> FloatArray:
    """Non-randomised PIT histogram: the share of observations per bin, 1/bins in each where the chances came true."""
    padded = np.hstack([np.zeros((len(within), 1)), within])
    rows, last = np.arange(len(observed)), within.shape[1]
    low = np.where(observed < last, padded[rows, np.minimum(observed, last)], 1.0)
    high = np.where(observed < last, padded[rows, np.minimum(observed + 1, last)], 1.0)
    edges = np.linspace(0, 1, bins + 1)
    width = np.maximum(high - low, np.finfo(np.float64).tiny)
    reached = np.clip((edges[:, None] - low) / width, 0.0, 1.0).mean(axis=1)
    reached[0], reached[-1] = 0.0, 1.0
    return np.asarray(np.diff(reached))
