"""The door of this room: sizes, speeds and tooth counts are looked at once, here."""

from __future__ import annotations

import math

# No roller-chain drive comes near these; they keep every power of an accepted number finite.
LARGEST_QUANTITY = 1e9
SMALLEST_QUANTITY = 1e-9
# ISO 606 covers 9 to 150 teeth, ISO 1275 effective counts from 5; catalogues list a little more.
FEWEST_TEETH = 5
MOST_TEETH = 1000


def number(name: str, value: object) -> float:
    """A finite number as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        Anything that float() takes, except text and booleans.

    Returns
    -------
    float
        The value, finite.

    Raises
    ------
    ValueError
        If it is not a finite number.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> number("pitch_mm", 12)
    12.0
    """
    if isinstance(value, (bool, str, bytes)):
        raise ValueError(f"`{name}` must be a number, not {value!r}.")
    try:
        result = float(value)  # type: ignore[arg-type]
    except (TypeError, ValueError, OverflowError):
        raise ValueError(f"`{name}` must be a number, not {value!r}.") from None
    if not math.isfinite(result):
        raise ValueError(f"`{name}` must be finite, not {result}.")
    return result


def positive(name: str, value: object) -> float:
    """A positive, finite number as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A number above 0 and not above 1e9.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If it is no number, not finite, not positive or beyond any drive.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> positive("power_kw", 5.5)
    5.5
    """
    result = number(name, value)
    if result <= 0:
        raise ValueError(f"`{name}` must be more than 0, not {result:g}.")
    if not SMALLEST_QUANTITY <= result <= LARGEST_QUANTITY:
        raise ValueError(f"`{name}` must lie between 1e-9 and 1e9, not {result:g}.")
    return result


def not_negative(name: str, value: object) -> float:
    """A finite number, zero or more, as a float.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A number from 0 to 1e9.

    Returns
    -------
    float
        The value.

    Raises
    ------
    ValueError
        If it is no number, not finite, negative or beyond any drive.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> not_negative("elongation_percent", 0)
    0.0
    """
    result = number(name, value)
    if not 0 <= result <= LARGEST_QUANTITY:
        raise ValueError(f"`{name}` must be 0 or more, not {result:g}.")
    return result


def tooth_count(name: str, value: object) -> float:
    """A number of teeth: whole, or a half where a double-cut sprocket has an odd actual count.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        From 5 to 1000, in steps of one half.

    Returns
    -------
    float
        The count.

    Raises
    ------
    ValueError
        If it is no number, out of range or no multiple of one half.

    Source
    ------
    ISO 1275 (effective counts in halves); the range is our own.

    Examples
    --------
    >>> tooth_count("driver_teeth", 17)
    17.0
    """
    result = positive(name, value)
    if not FEWEST_TEETH <= result <= MOST_TEETH:
        raise ValueError(f"`{name}` must be from {FEWEST_TEETH} to {MOST_TEETH} teeth, not {result:g}.")
    if not (2 * result).is_integer():
        raise ValueError(f"`{name}` must be a whole number of teeth (or a half, double-cut), not {result:g}.")
    return result


def whole(name: str, value: object, *, at_least: int = 1) -> int:
    """A whole number.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A whole number.
    at_least : int
        The smallest allowed value.

    Returns
    -------
    int
        The value.

    Raises
    ------
    ValueError
        If it is not whole or too small.

    Source
    ------
    Own rule.

    Examples
    --------
    >>> whole("strands", 2)
    2
    """
    result = positive(name, value)
    if not result.is_integer() or result < at_least:
        raise ValueError(f"`{name}` must be a whole number from {at_least}, not {result:g}.")
    return int(result)
