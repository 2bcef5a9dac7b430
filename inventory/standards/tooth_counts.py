"""How many teeth and strands a sprocket may have. Teeth are counted on the part; effective teeth are those the chain uses.

A double-cut sprocket for double-pitch chain has a gap at every half pitch, so half the counted teeth are effective.
"""

from inventory.number_checks import InvalidNumber, count, number

COUNTED_TEETH = (6, 400)
"""What records and requests may hold."""

DRIVE_TEETH = (5, 400)
"""Effective teeth of a drive: ISO 1275 counts from 5, and no sprocket has more than is counted."""

STRANDS = (1, 10)


def counted_teeth(parameter: str, value: object) -> int:
    return count(parameter, value, *COUNTED_TEETH)


def drive_teeth(parameter: str, value: object) -> float:
    """Effective teeth of a sprocket of a drive, whole or a half."""
    least, most = DRIVE_TEETH
    teeth = number(parameter, value, least=least, most=most)
    if not (2 * teeth).is_integer():
        rule = "be a whole number of teeth (or a half, double-cut)"
        raise InvalidNumber(parameter, "not_whole_or_half", rule, {"value": teeth})
    return teeth


def strand_count(parameter: str, value: object) -> int:
    return count(parameter, value, *STRANDS)
