"""Checks at the door of the core: sizes and counts that make no sense are refused by name."""

from math import isfinite


def positive(name: str, value: float) -> float:
    """The value as a float, if it is a finite number above zero.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : float
        Size to check, any unit.

    Returns
    -------
    float
        The same size.

    Raises
    ------
    ValueError
        If the value is not a finite number above zero.

    Examples
    --------
    >>> positive("pitch_mm", 12.7)
    12.7
    """
    if isinstance(value, bool) or not isfinite(value) or value <= 0:
        raise ValueError(f"`{name}` must be a finite number above 0, got {value!r}")
    return float(value)


def count_within(name: str, value: int, least: int, most: int) -> int:
    """The count, if it is a whole number inside its range.

    Parameters
    ----------
    name : str
        Name of the parameter, used in the refusal.
    value : int
        Count to check.
    least, most : int
        Smallest and largest count allowed.

    Returns
    -------
    int
        The same count.

    Raises
    ------
    ValueError
        If the value is no whole number or lies outside the range.

    Examples
    --------
    >>> count_within("teeth", 19, 6, 400)
    19
    """
    if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
        raise ValueError(f"`{name}` must be a whole number from {least} to {most}, got {value!r}")
    return value
