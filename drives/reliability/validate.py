"""The door of this room: arrays of hours and of truth values; the checks of single numbers are those of every core."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from inventory.standards.limits import number, positive
from inventory.standards.limits import share as level

__all__ = ["amounts", "flags", "level", "number", "positive"]

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Booleans = npt.NDArray[np.bool_]

# Eleven centuries of running: nothing beyond it is a life, and every power of an accepted number stays in range.
LONGEST_HOURS = 1e7


def amounts(name: str, values: Any, *, least: float = 0.0, most: float = LONGEST_HOURS) -> Floats:
    """A one-dimensional array of finite numbers within limits.

    Parameters
    ----------
    name : str
        The parameter's name; the message adds the place of the first wrong value.
    values : array_like
        Numbers; text and booleans are refused.
    least, most : float
        Limits, both allowed.

    Returns
    -------
    ndarray of float
        A copy.

    Raises
    ------
    ValueError
        If a value is no finite number or outside the limits, or the array has not one dimension.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> amounts("hours", [3, 4.5])
    array([3. , 4.5])
    """
    result = _array(name, values)
    wrong = ~(np.isfinite(result) & (result >= least) & (result <= most))
    if wrong.any():
        place = int(np.argmax(wrong))
        number(f"{name}[{place}]", result[place], least=least, most=most)
    return result


def _array(name: str, values: Any) -> Floats:
    try:
        given = np.asarray(values)
    except ValueError:
        raise ValueError(f"`{name}` must be one flat list of numbers.") from None
    if given.ndim != 1:
        raise ValueError(f"`{name}` must be one flat list of numbers, not of {given.ndim} dimensions.")
    if given.size == 0:
        return np.zeros(0)
    if given.dtype.kind in "iuf":
        return np.array(given, dtype=np.float64)
    return np.array([number(f"{name}[{place}]", value) for place, value in enumerate(values)])


def flags(name: str, values: Any, *, size: int) -> Booleans:
    """A one-dimensional array of booleans of a given size.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    values : array_like
        Booleans, or zeros and ones.
    size : int
        How many there must be.

    Returns
    -------
    ndarray of bool
        A copy.

    Raises
    ------
    ValueError
        If they are not `size` booleans.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> flags("observed", [1, 0], size=2)
    array([ True, False])
    """
    given = np.asarray(values)
    if given.shape != (size,):
        raise ValueError(f"`{name}` must be {size} true or false values, one for each life.")
    if given.dtype.kind not in "biuf" and size:
        raise ValueError(f"`{name}` must be true or false values.")
    result = given.astype(bool)
    if not np.array_equal(result, given):
        raise ValueError(f"`{name}` must be true or false values.")
    return result
