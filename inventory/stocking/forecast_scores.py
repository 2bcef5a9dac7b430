"""How good a predicted law was: ranked probability score and calibration."""

import numpy as np
from numpy.typing import ArrayLike

from inventory.array_checks import FloatArray, not_negative_array
from inventory.number_checks import whole


def ranked_probability_score(within: ArrayLike, observed: ArrayLike) -> FloatArray:
    """Ranked probability score of count predictions, the CRPS of a count.

    Parameters
    ----------
    within : array_like, shape (items, pieces) or (pieces,)
        P(demand <= x) for x = 0, 1, … up to where it is 1 for practical purposes.
    observed : array_like of int, shape (items,)
        What was asked for; beyond the last x each further piece adds 1.

    Returns
    -------
    ndarray, shape (items,)
        Sum over x of (P(demand <= x) - 1{x >= observed})^2; smaller is better.

    Raises
    ------
    ValueError
        If an entry is out of range or the shapes do not match.

    Source
    ------
    Epstein 1969, J. Applied Meteorology 8; Czado, Gneiting & Held 2009, Biometrics 65.

    Examples
    --------
    >>> ranked_probability_score([0.5, 1.0], [0, 1, 3]).tolist()
    [0.25, 0.25, 2.25]
    """
    chances, seen = _matched(within, observed)
    pieces = np.arange(chances.shape[1])
    inside = ((chances - (pieces >= seen[:, None])) ** 2).sum(axis=1)
    return np.asarray(inside + np.maximum(seen - chances.shape[1], 0))


def mean_pit_histogram(within: ArrayLike, observed: ArrayLike, bins: int = 10) -> FloatArray:
    """Non-randomised PIT histogram: flat where the promised chances came true.

    Parameters
    ----------
    within : array_like, shape (items, pieces) or (pieces,)
        P(demand <= x) for x = 0, 1, …
    observed : array_like of int, shape (items,)
        What was asked for.
    bins : int
        Number of bins, 1 or more.

    Returns
    -------
    ndarray, shape (bins,)
        Share of the observations per bin, adding up to 1; a perfect prediction has 1/bins in each.

    Raises
    ------
    ValueError
        If an entry is out of range or the shapes do not match.

    Source
    ------
    Czado, Gneiting & Held 2009, Biometrics 65, section 2.

    Examples
    --------
    >>> mean_pit_histogram([0.5, 1.0], [0, 1], bins=2).tolist()
    [0.5, 0.5]
    """
    chances, seen = _matched(within, observed)
    padded = np.hstack([np.zeros((len(chances), 1)), chances])
    rows, last = np.arange(len(seen)), chances.shape[1]
    low = np.where(seen < last, padded[rows, np.minimum(seen, last)], 1.0)
    high = np.where(seen < last, padded[rows, np.minimum(seen + 1, last)], 1.0)
    edges = np.linspace(0, 1, whole("bins", bins, least=1) + 1)
    width = np.maximum(high - low, np.finfo(np.float64).tiny)
    reached = np.clip((edges[:, None] - low) / width, 0.0, 1.0).mean(axis=1)
    reached[0], reached[-1] = 0.0, 1.0
    return np.asarray(np.diff(reached))


def _matched(within: ArrayLike, observed: ArrayLike) -> tuple[FloatArray, np.ndarray]:
    seen = not_negative_array("observed", observed)
    if seen.ndim != 1 or (seen != np.floor(seen)).any():
        raise ValueError("`observed` must be a list of whole numbers")
    chances = not_negative_array("within", within)
    if chances.ndim == 1:
        chances = np.broadcast_to(chances, (len(seen), len(chances)))
    if chances.ndim != 2 or len(chances) != len(seen) or (chances > 1 + 1e-9).any():
        raise ValueError("`within` must hold chances up to 1, one row per observation")
    return chances, seen.astype(np.int64)
