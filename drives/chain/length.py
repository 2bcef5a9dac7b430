"""Chain length and centre distance along the tangents and arcs of two sprockets.

Lengths are in pitches, teeth effective ones; `z1` and `z2` may come in either order.

Source: tangent lines and arcs of z pitches, as in ISO 10823:
sin a = (z2 - z1) / (2 pi C), X = 2 C cos a + z1 (1/2 - a/pi) + z2 (1/2 + a/pi).
"""

import math

from inventory.number_checks import quantity
from inventory.standards.tooth_counts import drive_teeth


def links_exact(centre_pitches: float, *, z1: float, z2: float) -> float:
    """Chain length, not rounded.

    >>> round(links_exact(36, z1=20, z2=63), 3)
    114.805
    """
    centre = quantity("centre_pitches", centre_pitches)
    small, large = sorted((drive_teeth("z1", z1), drive_teeth("z2", z2)))
    if (large - small) / (2 * math.pi * centre) >= 1:
        least = least_centre_pitches(small, large)
        raise ValueError(f"`centre_pitches` must be more than {least:.3f} pitches here, not {centre:g}.")
    return _length(centre, small, large)


def centre_exact_pitches(links: float, *, z1: float, z2: float) -> float:
    """Centre distance of the taut chain; ISO 10823 tabulates it as C = f4 p (2X - z1 - z2).

    >>> round(centre_exact_pitches(114, z1=20, z2=63), 3)
    35.59
    """
    length = quantity("links", links)
    small, large = sorted((drive_teeth("z1", z1), drive_teeth("z2", z2)))
    if length <= large:
        raise ValueError(f"`links` must go round {small:g} and {large:g} teeth; {length:g} are too few.")
    return centre_of_length(length, small, large)


def least_centre_pitches(small: float, large: float) -> float:
    """Where one pitch circle would lie inside the other."""
    return (large - small) / (2 * math.pi)


def centre_of_length(length: float, small: float, large: float) -> float:
    """`centre_exact_pitches` of checked numbers, by Newton's steps.

    The length rises with the centre by 2 cos a, which rises with it too. So steps from above, where half the length
    lies, come down to the root without passing it; they end where rounding lets them come no nearer.
    """
    least, centre = least_centre_pitches(small, large), length / 2
    while True:
        angle = math.asin(least / centre)
        on_the_arcs = (small + large) / 2 + (large - small) * angle / math.pi
        nearer = max(least, (length - on_the_arcs) / (2 * math.cos(angle)))
        if nearer >= centre:
            return centre
        centre = nearer


def _length(centre: float, small: float, large: float) -> float:
    angle = math.asin((large - small) / (2 * math.pi * centre))
    return 2 * centre * math.cos(angle) + (small + large) / 2 + (large - small) * angle / math.pi


def even_links(links: float) -> int:
    """The even number nearest to a length above 0; half way goes up.

    An even count needs no cranked link, and moves the centre by about half a pitch at most.
    Source: Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5.
    """
    return max(2, 2 * math.floor(links / 2 + 0.5))
