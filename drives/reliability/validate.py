"""The door of this room: hours, counts, levels and arrays of them are looked at once, here."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import numpy.typing as npt

Floats = npt.NDArray[np.float64]
Integers = npt.NDArray[np.int64]
Booleans = npt.NDArray[np.bool_]

# Eleven centuries of running: nothing beyond it is a life, and every power of an accepted number stays in range.
LONGEST_HOURS = 1e7


def number(name: str, value: object, *, least: float = -math.inf, most: float = math.inf) -> float:
    """A finite number within limits, as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        Anything that float() takes, except text and booleans.
    least, most : float
        Limits, both allowed.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If it is no finite number or outside the limits.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> number("hours", 12, least=0)
    12.0
    """
    if isinstance(value, (bool, np.bool_, str, bytes)) or value is None:
        raise ValueError(f"`{name}` must be a number, not {value!r}.")
    try:
        result = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"`{name}` must be a number, not {value!r}.") from None
    if not math.isfinite(result):
        raise ValueError(f"`{name}` must be finite, not {result}.")
    if not least <= result <= most:
        raise ValueError(f"`{name}` must be {_span(least, most)}, not {result:g}.")
    return result


def positive(name: str, value: object, *, most: float = math.inf) -> float:
    """A finite number above zero, as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A number above 0.
    most : float
        Upper limit, allowed.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If it is no number, not finite, not above 0 or above the limit.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> positive("scale_hours", 800)
    800.0
    """
    result = number(name, value, most=most)
    if result <= 0:
        raise ValueError(f"`{name}` must be more than 0, not {result:g}.")
    return result


def level(name: str, value: object) -> float:
    """A share strictly between zero and one, as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A number above 0 and below 1.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If it is no number between 0 and 1.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> level("confidence", 0.95)
    0.95
    """
    result = number(name, value)
    if not 0 < result < 1:
        raise ValueError(f"`{name}` must be between 0 and 1, neither of them included, not {result:g}.")
    return result


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


def _span(least: float, most: float) -> str:
    if math.isinf(most):
        return f"{least:g} or more"
    if math.isinf(least):
        return f"{most:g} or less"
    return f"from {least:g} to {most:g}"
