"""Checks of numbers for every core: a public function checks what it is given once, its private helpers rely on it.

Every check returns what it was given as a plain `float` or `int`, or raises `InvalidNumber`. Arrays are in `array_checks`.
"""

import math
import reprlib
from collections.abc import Mapping
from numbers import Number
from typing import Any

SMALLEST_QUANTITY, LARGEST_QUANTITY = 1e-9, 1e9
"""No size, power, price or time of a plant lies outside; within, every power and quotient of a number stays finite."""


class InvalidNumber(ValueError):  # noqa: N818 - reads as the refusal it is
    """`parameter` is the name of the wrong number, `code` the rule that it breaks; `values` hold the number and the limits."""

    def __init__(self, parameter: str, code: str, rule: str, values: Mapping[str, Any]) -> None:
        super().__init__(parameter, code, rule, values)
        self.parameter, self.code, self.rule, self.values = parameter, code, rule, dict(values)

    def __str__(self) -> str:
        came = self.values["value"]
        return f"`{self.parameter}` must {self.rule}, not {came if isinstance(came, str) else f'{came:g}'}."


def number(parameter: str, value: object, *, least: float = -math.inf, most: float = math.inf) -> float:
    """Any finite real number within limits; text and truth values are no numbers."""
    result = value if type(value) is float else _as_float(parameter, value)
    if not math.isfinite(result):
        raise InvalidNumber(parameter, "not_finite", "be finite", {"value": f"{result}"})
    if not least <= result <= most:
        raise _outside(parameter, result, least, most)
    return result


def positive(parameter: str, value: object, *, least: float = -math.inf, most: float = math.inf) -> float:
    result = number(parameter, value, most=most)
    if result <= 0:
        raise InvalidNumber(parameter, "not_positive", "be more than 0", {"value": result})
    return number(parameter, result, least=least)


def not_negative(parameter: str, value: object, *, most: float = math.inf) -> float:
    return number(parameter, value, least=0.0, most=most)


def quantity(parameter: str, value: object) -> float:
    """A positive number that a plant can have; see `SMALLEST_QUANTITY`."""
    return positive(parameter, value, least=SMALLEST_QUANTITY, most=LARGEST_QUANTITY)


def fraction(parameter: str, value: object) -> float:
    """A number between 0 and 1, both excluded."""
    result = number(parameter, value)
    if not 0 < result < 1:
        rule = "be between 0 and 1, neither of them included"
        raise InvalidNumber(parameter, "not_between_0_and_1", rule, {"value": result})
    return result


def whole(parameter: str, value: object, least: float = 0, most: float = math.inf) -> int:
    """A whole number within limits; 5.0 is one."""
    result = number(parameter, value)
    if not result.is_integer() or not least <= result <= most:
        raise _not_whole(parameter, result, least, most)
    return int(result)


def count(parameter: str, value: object, least: int, most: int) -> int:
    """An `int` within limits; 5.0 is none."""
    if not isinstance(value, int) or isinstance(value, bool):
        raise _not_whole(parameter, reprlib.repr(value), least, most)
    return whole(parameter, value, least, most)


def _as_float(parameter: str, value: object) -> float:
    try:
        if isinstance(value, Number) and not isinstance(value, bool):
            return float(value)  # type: ignore[arg-type]
    except OverflowError:
        return math.inf
    except TypeError:
        pass
    raise InvalidNumber(parameter, "not_a_number", "be a number", {"value": reprlib.repr(value)})


def _outside(parameter: str, value: float, least: float, most: float) -> InvalidNumber:
    code = "below_least" if value < least else "above_most"
    if math.isinf(most):
        rule = f"be {_written(least)} or more"
    elif math.isinf(least):
        rule = f"be {_written(most)} or less"
    else:
        rule = f"be from {_written(least)} to {_written(most)}"
    return InvalidNumber(parameter, code, rule, {"value": value, **_limits(least, most)})


def _not_whole(parameter: str, value: float | str, least: float, most: float) -> InvalidNumber:
    upper = "" if math.isinf(most) else f" to {_written(most)}"
    rule = f"be a whole number from {_written(least)}{upper}"
    return InvalidNumber(parameter, "not_whole", rule, {"value": value, **_limits(least, most)})


def _limits(least: float, most: float) -> dict[str, float]:
    return {name: limit for name, limit in (("least", least), ("most", most)) if math.isfinite(limit)}


def _written(limit: float) -> str:
    """Whole limits are written out: 10,000,000 and not 1e+07."""
    return f"{limit:,.0f}" if float(limit).is_integer() and abs(limit) < 1e15 else f"{limit:g}"
