"""The door of this room: demand records and the limits of the service; the checks of single numbers are those of every core."""

from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.standards.limits import not_negative, number, positive, share, whole

__all__ = [
    "at_most",
    "demand_matrix",
    "demand_series",
    "not_negative",
    "not_negative_array",
    "not_tiny",
    "number",
    "positive",
    "share",
    "share_array",
    "whole",
]

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

DAYS_PER_YEAR = 365.0
"""A year of this service. Source: the API contract."""

LARGEST_RATE_PER_YEAR = 1e6
"""Rates above it are refused. Source: the API contract."""

LONGEST_LEAD_TIME_DAYS = 3650.0
"""Lead times above ten years are refused. Source: the API contract."""


SMALLEST_QUANTITY = 1e-9
"""Prices and priors below it are refused: they are no price and no prior, and their quotients overflow."""

SHORTEST_LEAD_TIME_DAYS = 1e-9
"""A shorter lead time, a tenth of a millisecond, is taken as this: no answer shows the difference."""


def at_most(name: str, value: float, most: float) -> float:
    """The value, if it does not exceed the stated limit.

    Examples
    --------
    >>> at_most("lead_time_days", 45.0, 3650.0)
    45.0
    """
    return number(name, value, most=most)


def not_tiny(name: str, value: object) -> float:
    """The value as a float, if it is finite and not below one thousand-millionth.

    Examples
    --------
    >>> not_tiny("unit_cost", 12)
    12.0
    """
    return number(name, positive(name, value), least=SMALLEST_QUANTITY)


def demand_series(name: str, values: ArrayLike) -> FloatArray:
    """One record of demand per period: finite, not negative, at least one period.

    Examples
    --------
    >>> demand_series("series", [0, 2, 0]).tolist()
    [0.0, 2.0, 0.0]
    """
    return _demand(name, values, 1)


def demand_matrix(name: str, values: ArrayLike) -> FloatArray:
    """Records of demand, one row per item and one column per period.

    Examples
    --------
    >>> demand_matrix("demand", [[0, 2, 0], [1, 0, 0]]).shape
    (2, 3)
    """
    return _demand(name, values, 2)


def not_negative_array(name: str, values: ArrayLike) -> FloatArray:
    """An array of finite numbers that are not below zero.

    Examples
    --------
    >>> not_negative_array("pipeline", [0.5, 2.0]).tolist()
    [0.5, 2.0]
    """
    array = _numbers(name, values)
    if not np.isfinite(array).all() or (array < 0).any():
        raise ValueError(f"`{name}` must hold finite numbers that are not below 0")
    return array


def share_array(name: str, values: ArrayLike) -> FloatArray:
    """An array of numbers strictly between 0 and 1.

    Examples
    --------
    >>> share_array("target", 0.95).item()
    0.95
    """
    array = _numbers(name, values)
    if not ((array > 0) & (array < 1)).all():
        raise ValueError(f"`{name}` must lie between 0 and 1, both excluded")
    return array


def _numbers(name: str, values: Any) -> FloatArray:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"`{name}` must hold numbers only, in rows of one length") from None


def _demand(name: str, values: Any, dimensions: int) -> FloatArray:
    array = not_negative_array(name, values)
    if array.ndim != dimensions or array.shape[-1] == 0:
        kind = "one record" if dimensions == 1 else "one row per item"
        raise ValueError(f"`{name}` must be {kind} with a period at least, got shape {array.shape}")
    return array
