"""The checks of numbers at the door of every core, in one voice: what must be, and what came, by the parameter's name."""

import math
from numbers import Number


def number(name: str, value: object, *, least: float = -math.inf, most: float = math.inf) -> float:
    """The value as a float, if it is a finite number within limits.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        Any real number; text and truth values are none.
    least, most : float
        Limits, both allowed.

    Returns
    -------
    float
        The same number.

    Raises
    ------
    ValueError
        If it is no finite number or outside the limits.

    Examples
    --------
    >>> number("sag_percent", 2, least=0)
    2.0
    """
    if isinstance(value, bool) or not isinstance(value, Number):
        raise ValueError(f"`{name}` must be a number, not {value!r}.")
    try:
        result = float(value)  # type: ignore[arg-type]
    except OverflowError:
        result = math.inf
    except TypeError:
        raise ValueError(f"`{name}` must be a number, not {value!r}.") from None
    if not math.isfinite(result):
        raise ValueError(f"`{name}` must be finite, not {result}.")
    if not least <= result <= most:
        raise ValueError(f"`{name}` must be {_span(least, most)}, not {result:g}.")
    return result


def positive(name: str, value: object, *, most: float = math.inf) -> float:
    """The value as a float, if it is a finite number above zero.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        A number above 0, any unit.
    most : float
        Upper limit, allowed.

    Returns
    -------
    float
        The same number.

    Raises
    ------
    ValueError
        If it is no finite number above zero, or above the limit.

    Examples
    --------
    >>> positive("pitch_mm", 12.7)
    12.7
    """
    result = number(name, value, most=most)
    if result <= 0:
        raise ValueError(f"`{name}` must be more than 0, not {result:g}.")
    return result


def not_negative(name: str, value: object, *, most: float = math.inf) -> float:
    """The value as a float, if it is a finite number, zero or more.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        A number from 0, any unit.
    most : float
        Upper limit, allowed.

    Returns
    -------
    float
        The same number.

    Raises
    ------
    ValueError
        If it is no finite number, negative, or above the limit.

    Examples
    --------
    >>> not_negative("elongation_percent", 0)
    0.0
    """
    return number(name, value, least=0.0, most=most)


def share(name: str, value: object) -> float:
    """The value as a float, if it lies strictly between zero and one.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        A number above 0 and below 1.

    Returns
    -------
    float
        The same number.

    Raises
    ------
    ValueError
        If it is no number between 0 and 1.

    Examples
    --------
    >>> share("confidence", 0.95)
    0.95
    """
    result = number(name, value)
    if not 0 < result < 1:
        raise ValueError(f"`{name}` must be between 0 and 1, neither of them included, not {result:g}.")
    return result


def whole(name: str, value: object, least: float = 0, most: float = math.inf) -> int:
    """The value as an int, if it is a whole number within limits.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        A whole number; 5.0 is one.
    least, most : float
        Limits, both allowed.

    Returns
    -------
    int
        The same number.

    Raises
    ------
    ValueError
        If it is no whole number or outside the limits.

    Examples
    --------
    >>> whole("order_quantity", 5.0, least=1)
    5
    """
    result = number(name, value)
    if not result.is_integer() or not least <= result <= most:
        upper = "" if math.isinf(most) else f" to {_said(most)}"
        raise ValueError(f"`{name}` must be a whole number from {_said(least)}{upper}, not {result:g}.")
    return int(result)


def count_within(name: str, value: object, least: int, most: int) -> int:
    """The count, if it is an int inside its range.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : object
        Count to check; 19.0 is none.
    least, most : int
        Smallest and largest count allowed.

    Returns
    -------
    int
        The same count.

    Raises
    ------
    ValueError
        If the value is no int or lies outside the range.

    Examples
    --------
    >>> count_within("teeth", 19, 6, 400)
    19
    """
    if not isinstance(value, int) or isinstance(value, bool):
        raise ValueError(f"`{name}` must be a whole number from {least} to {most}, not {value!r}.")
    return whole(name, value, least, most)


def _span(least: float, most: float) -> str:
    if math.isinf(most):
        return f"{_said(least)} or more"
    if math.isinf(least):
        return f"{_said(most)} or less"
    return f"from {_said(least)} to {_said(most)}"


def _said(limit: float) -> str:
    """Whole limits are written out: 10,000,000 and not 1e+07."""
    return f"{limit:,.0f}" if float(limit).is_integer() and abs(limit) < 1e15 else f"{limit:g}"
