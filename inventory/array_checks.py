"""Checks of arrays of numbers, as `number_checks` does for single ones; apart from these because the standards need no numpy."""

import reprlib
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from inventory.number_checks import InvalidNumber, number

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]
BoolArray = NDArray[np.bool_]


def number_list(parameter: str, values: Any, *, least: float = 0.0, most: float) -> FloatArray:
    """A copy as an array of one dimension; the refusal names the place of the first wrong number."""
    result = _flat_array(parameter, values)
    wrong = ~(np.isfinite(result) & (result >= least) & (result <= most))
    if wrong.any():
        place = int(np.argmax(wrong))
        number(f"{parameter}[{place}]", result[place], least=least, most=most)
    return result


def flags(parameter: str, values: Any, *, size: int) -> BoolArray:
    """A copy as an array of `size` truth values; zeros and ones are taken."""
    given = np.asarray(values)
    result = (
        given.astype(bool) if given.shape == (size,) and (given.dtype.kind in "biuf" or not size) else None
    )
    if result is None or not np.array_equal(result, given):
        rule = f"be {size} true or false values"
        raise InvalidNumber(
            parameter, "not_true_or_false", rule, {"value": reprlib.repr(values), "size": size}
        )
    return result


def not_negative_array(parameter: str, values: ArrayLike) -> FloatArray:
    """An array of any shape of finite numbers from 0."""
    array = _array(parameter, values)
    if not np.isfinite(array).all():
        wrong = float(array[~np.isfinite(array)][0])
        raise InvalidNumber(parameter, "not_finite", "hold finite numbers", {"value": wrong})
    if (array < 0).any():
        came = {"value": float(array[array < 0][0]), "least": 0}
        raise InvalidNumber(parameter, "below_least", "hold numbers of 0 or more", came)
    return array


def demand_series(parameter: str, values: ArrayLike) -> FloatArray:
    """One record of demand: a number from 0 for each period, at least one."""
    return _demand(parameter, values, 1, "be one record")


def demand_matrix(parameter: str, values: ArrayLike) -> FloatArray:
    """Records of demand: one row per item, one column per period, at least one."""
    return _demand(parameter, values, 2, "be one row per item")


def _demand(parameter: str, values: ArrayLike, dimensions: int, rule: str) -> FloatArray:
    array = not_negative_array(parameter, values)
    if array.ndim != dimensions or array.shape[-1] == 0:
        rule = f"{rule} with at least one period"
        raise InvalidNumber(parameter, "wrong_shape", rule, {"value": f"an array of shape {array.shape}"})
    return array


def _array(parameter: str, values: Any) -> FloatArray:
    try:
        return np.asarray(values, dtype=np.float64)
    except (TypeError, ValueError, OverflowError):
        rule = "hold numbers only, in rows of one length"
        raise InvalidNumber(parameter, "not_a_number", rule, {"value": reprlib.repr(values)}) from None


def _flat_array(parameter: str, values: Any) -> FloatArray:
    rule = "be one flat list of numbers"
    try:
        given = np.asarray(values)
    except ValueError:
        raise InvalidNumber(parameter, "wrong_shape", rule, {"value": "rows of different length"}) from None
    if given.ndim != 1:
        raise InvalidNumber(parameter, "wrong_shape", rule, {"value": f"an array of shape {given.shape}"})
    if given.size == 0:
        return np.zeros(0)
    if given.dtype.kind in "iuf":
        return np.array(given, dtype=np.float64)
    return np.array([number(f"{parameter}[{place}]", value) for place, value in enumerate(values)])
