"""Chain length, centre distance and sag along the tangents and arcs of two sprockets.

Lengths are in pitches unless the name says otherwise; `z1` and `z2` may come in either order.
"""

from __future__ import annotations

import math

from inventory.number_checks import quantity, quantity_or_zero
from inventory.standards.tooth_counts import drive_teeth

# Bisection halves an interval of at most 1e9 pitches; 100 halvings leave less than the last place.
BISECTIONS = 100


def links_handbook(centre_pitches: float, *, z1: float, z2: float) -> float:
    """Chain length by the handbook series, not rounded.

    Parameters
    ----------
    centre_pitches : float
        Centre distance [pitches], above 0.
    z1, z2 : float
        Teeth [-].

    Returns
    -------
    float
        Length [pitches], short of the exact one by about K**2 / (12 C**3) with K = ((z2 - z1) / 2 pi)**2.

    Raises
    ------
    ValueError
        If the centre is not positive or a count is out of range.

    Source
    ------
    Shigley's Mechanical Engineering Design, 9th ed., eq. 17-34:
    X = 2C/p + (z1 + z2)/2 + ((z2 - z1) / 2 pi)**2 p/C.

    Examples
    --------
    >>> round(links_handbook(40, z1=17, z2=34), 3)
    105.683
    """
    centre = quantity("centre_pitches", centre_pitches)
    small, large = drive_teeth("z1", z1), drive_teeth("z2", z2)
    return 2 * centre + (small + large) / 2 + ((large - small) / (2 * math.pi)) ** 2 / centre


def links_exact(centre_pitches: float, *, z1: float, z2: float) -> float:
    """Chain length along tangents and arcs, not rounded.

    Parameters
    ----------
    centre_pitches : float
        Centre distance [pitches], above |z2 - z1| / 2 pi.
    z1, z2 : float
        Teeth [-].

    Returns
    -------
    float
        Length [pitches].

    Raises
    ------
    ValueError
        If one sprocket would lie inside the other, or a count is out of range.

    Source
    ------
    Tangent lines and arcs of z pitches, as in ISO 10823:
    sin a = (z2 - z1) / (2 pi C), X = 2 C cos a + z1 (1/2 - a/pi) + z2 (1/2 + a/pi).

    Examples
    --------
    >>> round(links_exact(36, z1=20, z2=63), 3)
    114.805
    """
    centre = quantity("centre_pitches", centre_pitches)
    small, large = drive_teeth("z1", z1), drive_teeth("z2", z2)
    sine = (large - small) / (2 * math.pi * centre)
    if abs(sine) >= 1:
        least = abs(large - small) / (2 * math.pi)
        raise ValueError(f"`centre_pitches` must be more than {least:.3f} pitches here, not {centre:g}.")
    angle = math.asin(sine)
    return 2 * centre * math.cos(angle) + (small + large) / 2 + (large - small) * angle / math.pi


def centre_handbook_pitches(links: float, *, z1: float, z2: float) -> float:
    """Centre distance for a chain length, by the handbook root.

    Parameters
    ----------
    links : float
        Chain length [pitches].
    z1, z2 : float
        Teeth [-].

    Returns
    -------
    float
        Centre distance of the taut chain [pitches].

    Raises
    ------
    ValueError
        If the chain is too short to go round both sprockets, or a count is out of range.

    Source
    ------
    Shigley's Mechanical Engineering Design, 9th ed., eq. 17-35 and 17-36:
    C = [B + sqrt(B**2 - 8 ((z2 - z1) / 2 pi)**2)] / 4, B = X - (z1 + z2)/2.

    Examples
    --------
    >>> round(centre_handbook_pitches(76, z1=17, z2=34), 3)
    25.104
    """
    length = quantity("links", links)
    small, large = drive_teeth("z1", z1), drive_teeth("z2", z2)
    straight = length - (small + large) / 2
    root = straight**2 - 8 * ((large - small) / (2 * math.pi)) ** 2
    if straight <= 0 or root < 0:
        raise ValueError(f"`links` must go round {small:g} and {large:g} teeth; {length:g} are too few.")
    return (straight + math.sqrt(root)) / 4


def centre_exact_pitches(links: float, *, z1: float, z2: float) -> float:
    """Centre distance for a chain length, along tangents and arcs.

    Parameters
    ----------
    links : float
        Chain length [pitches], more than the larger tooth count.
    z1, z2 : float
        Teeth [-].

    Returns
    -------
    float
        Centre distance of the taut chain [pitches].

    Raises
    ------
    ValueError
        If the chain is too short to go round both sprockets, or a count is out of range.

    Source
    ------
    Root of `links_exact`, which rises with the centre distance (its slope is 2 cos a). ISO 10823
    tabulates the same root as C = f4 p (2X - z1 - z2).

    Examples
    --------
    >>> round(centre_exact_pitches(114, z1=20, z2=63), 3)
    35.59
    """
    length = quantity("links", links)
    small, large = sorted((drive_teeth("z1", z1), drive_teeth("z2", z2)))
    if length <= large:
        raise ValueError(f"`links` must go round {small:g} and {large:g} teeth; {length:g} are too few.")
    if small == large:
        return (length - large) / 2
    low, high = (large - small) / (2 * math.pi), length / 2
    for _ in range(BISECTIONS):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        if links_exact(middle, z1=small, z2=large) < length:
            low = middle
        else:
            high = middle
    return high


def even_links(links: float) -> int:
    """The even number of links nearest to a length; half way goes up.

    Parameters
    ----------
    links : float
        Chain length [pitches], above 0.

    Returns
    -------
    int
        Links [-], even, at least 2.

    Raises
    ------
    ValueError
        If the length is not positive.

    Source
    ------
    An even count needs no cranked link: Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5.
    The nearest even count keeps the centre within about half a pitch of the wanted one.

    Examples
    --------
    >>> even_links(105.683)
    106
    """
    return max(2, 2 * math.floor(quantity("links", links) / 2 + 0.5))


def span_pitches(centre_pitches: float, *, z1: float, z2: float) -> float:
    """Free length of one strand between its points of tangency.

    Parameters
    ----------
    centre_pitches : float
        Centre distance [pitches], above |z2 - z1| / 2 pi.
    z1, z2 : float
        Teeth [-].

    Returns
    -------
    float
        Span [pitches].

    Raises
    ------
    ValueError
        If one sprocket would lie inside the other.

    Source
    ------
    C cos a with sin a = (z2 - z1) / (2 pi C), tangent geometry.

    Examples
    --------
    >>> span_pitches(40, z1=19, z2=19)
    40.0
    """
    centre = quantity("centre_pitches", centre_pitches)
    sine = (drive_teeth("z2", z2) - drive_teeth("z1", z1)) / (2 * math.pi * centre)
    if abs(sine) >= 1:
        raise ValueError(f"`centre_pitches` must keep the sprockets apart; {centre:g} does not.")
    return centre * math.sqrt(1 - sine**2)


def sag_from_excess_mm(span_mm: float, excess_mm: float) -> float:
    """Sag in the middle of a slack span that is longer than its chord.

    Parameters
    ----------
    span_mm : float
        Chord between the points of tangency [mm], above 0.
    excess_mm : float
        Chain length beyond the chord [mm], zero or more, well below the span.

    Returns
    -------
    float
        Sag [mm].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shallow parabola: length = span (1 + 8/3 (s/span)**2), so s = sqrt(3/8 span excess).

    Examples
    --------
    >>> sag_from_excess_mm(600, 1)
    15.0
    """
    excess = quantity_or_zero("excess_mm", excess_mm)
    return math.sqrt(0.375 * quantity("span_mm", span_mm) * excess)


def excess_from_sag_mm(span_mm: float, sag_mm: float) -> float:
    """Chain length beyond the chord that gives a sag in the middle of the span.

    Parameters
    ----------
    span_mm : float
        Chord between the points of tangency [mm], above 0.
    sag_mm : float
        Sag [mm], zero or more, well below the span.

    Returns
    -------
    float
        Excess length [mm].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shallow parabola, the inverse of `sag_from_excess_mm`.

    Examples
    --------
    >>> round(excess_from_sag_mm(600, 15), 9)
    1.0
    """
    sag = quantity_or_zero("sag_mm", sag_mm)
    return 8 * sag**2 / (3 * quantity("span_mm", span_mm))
