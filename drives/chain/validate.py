"""The door of this room: what is particular to drives; the checks of plain numbers are those of every core."""

from __future__ import annotations

from inventory.standards.limits import not_negative as plain_not_negative
from inventory.standards.limits import number
from inventory.standards.limits import positive as plain_positive
from inventory.standards.limits import whole as plain_whole

__all__ = ["not_negative", "number", "positive", "tooth_count", "whole"]

# No roller-chain drive comes near these; they keep every power of an accepted number finite.
LARGEST_QUANTITY = 1e9
SMALLEST_QUANTITY = 1e-9
# ISO 606 covers 9 to 150 teeth, ISO 1275 effective counts from 5; catalogues list a little more.
FEWEST_TEETH = 5
MOST_TEETH = 1000


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
    return number(name, plain_positive(name, value), least=SMALLEST_QUANTITY, most=LARGEST_QUANTITY)


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
    return number(name, plain_not_negative(name, value), most=LARGEST_QUANTITY)


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


def whole(name: str, value: object) -> int:
    """A whole number of things, one or more.

    Parameters
    ----------
    name : str
        The parameter's name, for the message.
    value : object
        A whole number from 1 to 1e9.

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
    return plain_whole(name, positive(name, value), least=1)
