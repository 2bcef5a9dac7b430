"""Chain length and centre by the handbook series, a second way beside the exact one.

Source: Shigley's Mechanical Engineering Design, 9th ed., eq. 17-34 to 17-36.
"""

import math


def handbook_links(centre_pitches: float, *, z1: float, z2: float) -> float:
    """X = 2C/p + (z1 + z2)/2 + ((z2 - z1) / 2 pi)**2 p/C."""
    return 2 * centre_pitches + (z1 + z2) / 2 + ((z2 - z1) / (2 * math.pi)) ** 2 / centre_pitches


def handbook_centre_pitches(links: float, *, z1: float, z2: float) -> float:
    """C = [B + sqrt(B**2 - 8 ((z2 - z1) / 2 pi)**2)] / 4, B = X - (z1 + z2)/2."""
    straight = links - (z1 + z2) / 2
    return (straight + math.sqrt(straight**2 - 8 * ((z2 - z1) / (2 * math.pi)) ** 2)) / 4
