"""The door of this room: rates, times, targets and demand records are looked at once, here."""

import math
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

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


def finite(name: str, value: object) -> float:
    """The value as a float, if it is a finite number and neither text nor a truth value.

    Examples
    --------
    >>> finite("mean", 2)
    2.0
    """
    if value is None or isinstance(value, (bool, np.bool_, str, bytes)):
        raise ValueError(f"`{name}` must be a number, got {value!r}")
    try:
        number = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"`{name}` must be a finite number, got {value!r}") from None
    if not math.isfinite(number):
        raise ValueError(f"`{name}` must be a finite number, got {value!r}")
    return number


def positive(name: str, value: object) -> float:
    """The value as a float, if it is finite and above zero.

    Examples
    --------
    >>> positive("lead_time_days", 45)
    45.0
    """
    number = finite(name, value)
    if number <= 0:
        raise ValueError(f"`{name}` must be above 0, got {value!r}")
    return number


def not_negative(name: str, value: object) -> float:
    """The value as a float, if it is finite and not below zero.

    Examples
    --------
    >>> not_negative("lead_time_sd_days", 0)
    0.0
    """
    number = finite(name, value)
    if number < 0:
        raise ValueError(f"`{name}` must not be below 0, got {value!r}")
    return number


def at_most(name: str, value: float, most: float) -> float:
    """The value, if it does not exceed the stated limit.

    Examples
    --------
    >>> at_most("lead_time_days", 45.0, 3650.0)
    45.0
    """
    if value > most:
        raise ValueError(f"`{name}` must not be above {most:,.0f}, got {value:g}")
    return value


def not_tiny(name: str, value: object) -> float:
    """The value as a float, if it is finite and not below one thousand-millionth.

    Examples
    --------
    >>> not_tiny("unit_cost", 12)
    12.0
    """
    number = positive(name, value)
    if number < SMALLEST_QUANTITY:
        raise ValueError(f"`{name}` must not be below {SMALLEST_QUANTITY:g}, got {value!r}")
    return number


def share(name: str, value: object) -> float:
    """The value as a float, if it lies strictly between 0 and 1.

    Examples
    --------
    >>> share("target", 0.95)
    0.95
    """
    number = finite(name, value)
    if not 0 < number < 1:
        raise ValueError(f"`{name}` must lie between 0 and 1, both excluded, got {value!r}")
    return number


def whole(name: str, value: object, least: int = 0) -> int:
    """The value as an int, if it is a whole number of at least `least`.

    Examples
    --------
    >>> whole("order_quantity", 5, least=1)
    5
    """
    number = finite(name, value)
    if number != math.floor(number) or number < least:
        raise ValueError(f"`{name}` must be a whole number from {least}, got {value!r}")
    return int(number)


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
