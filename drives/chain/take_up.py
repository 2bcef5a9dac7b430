"""The chain length and the centre distance that another pair of teeth needs."""

from bisect import bisect_left
from dataclasses import dataclass
from functools import lru_cache
from math import inf

from drives.chain.length import centre_exact_pitches, centre_of_length, even_links, links_exact
from inventory.number_checks import LARGEST_QUANTITY, number, quantity, whole
from inventory.standards.tooth_counts import drive_teeth

SLACK_SHARE_OF_CENTRE = 0.002
"""A chain may be longer than taut by what shortens the centre 0.2 %; one that is too short has no such allowance.
Source: sag allowance of a textbook example (Bhandari, Design of Machine Elements, ch. 14, ex. 14.4)."""

ROUNDING_MM = 0.001
"""Rounding of the centre distance alone; a thousandth of a millimetre is below any setting on a drive."""

LENGTHS_EACH_SIDE = 6
"""Even lengths tried on either side of the one that suits the present centre."""

FIT_RANK = {True: 0, None: 1, False: 2}


@dataclass(frozen=True)
class TakeUp:
    """A chain length and the centre at which it is taut.

    `fits` is None where the adjustment of the drive is not known, and False where the tips of the two wheels touch;
    `centre_shift_mm` is above 0 where the shafts must go apart.
    """

    links: int
    centre_mm: float
    centre_shift_mm: float
    fits: bool | None
    keeps_chain: bool


def take_up_lengths(
    pitch_mm: float,
    *,
    z1: float,
    z2: float,
    links: int,
    new_z1: float,
    new_z2: float,
    centre_mm: float | None = None,
    adjustment_mm: tuple[float, float] | None = None,
    touching_mm: float = 0.0,
) -> tuple[TakeUp, ...]:
    """The lengths on which a drive could take up another pair of teeth, the best first: the present chain before a cut one.

    `centre_mm` is the present centre distance, that of the taut chain if left out. `adjustment_mm` is the movement left
    from it, the closest (0 or below) and the farthest (0 or above): (0, 0) is a fixed centre, None is not known. At
    `touching_mm` and closer the tips of the new wheels touch.

    >>> found = take_up_lengths(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(-10, 5))[0]
    >>> found.keeps_chain, found.links, round(found.centre_shift_mm, 2)
    (True, 80, -3.18)
    """
    drive = _drive(pitch_mm, z1, z2, links, new_z1, new_z2, centre_mm, adjustment_mm, touching_mm)
    options = [drive.option(length) for length in drive.lengths()]
    if not options:
        raise ValueError(
            f"`links` must go round {new_z1:g} and {new_z2:g} teeth; no length near {links} does."
        )
    return tuple(sorted(options, key=lambda option: _preference(option, drive.links)))


def is_taken_up(
    pitch_mm: float,
    *,
    z1: float,
    z2: float,
    links: int,
    new_z1: float,
    new_z2: float,
    centre_mm: float | None = None,
    adjustment_mm: tuple[float, float] | None = None,
    touching_mm: float = 0.0,
) -> bool:
    """Whether a length of `take_up_lengths` fits, or may fit as the adjustment is not known.

    The centre grows with the length: of those that are not too short only the shortest can be near enough.
    """
    drive = _drive(pitch_mm, z1, z2, links, new_z1, new_z2, centre_mm, adjustment_mm, touching_mm)
    lengths = drive.lengths()
    first = bisect_left(lengths, True, key=drive.is_far_enough)
    return any(drive.option(length).fits is not False for length in lengths[first : first + 1])


def _drive(
    pitch_mm: float,
    z1: float,
    z2: float,
    links: int,
    new_z1: float,
    new_z2: float,
    centre_mm: float | None,
    adjustment_mm: tuple[float, float] | None,
    touching_mm: float,
) -> "_Drive":
    pitch = quantity("pitch_mm", pitch_mm)
    present = whole("links", links, least=1, most=LARGEST_QUANTITY)
    small, large = sorted((drive_teeth("new_z1", new_z1), drive_teeth("new_z2", new_z2)))
    return _Drive(
        pitch_mm=pitch,
        links=present,
        small=small,
        large=large,
        taut_mm=_taut_mm(pitch, links, z1, z2),
        centre_mm=None if centre_mm is None else quantity("centre_mm", centre_mm),
        adjustment_mm=_limits(adjustment_mm),
        touching_mm=touching_mm,
    )


@lru_cache(maxsize=256)
def _taut_mm(pitch_mm: float, links: int, z1: float, z2: float) -> float:
    """Of the chain in place, which is the same for all teeth that could come."""
    return centre_exact_pitches(links, z1=z1, z2=z2) * pitch_mm


def _limits(adjustment_mm: tuple[float, float] | None) -> tuple[float, float] | None:
    if adjustment_mm is None:
        return None
    closest, farthest = (number("adjustment_mm", limit) for limit in adjustment_mm)
    if not closest <= 0 <= farthest:
        raise ValueError(f"`adjustment_mm` must run from 0 or below to 0 or above, not {adjustment_mm}.")
    return closest, farthest


def _preference(option: TakeUp, present: int) -> tuple[int, int, float]:
    return FIT_RANK[option.fits], abs(option.links - present), abs(option.centre_shift_mm)


@dataclass(frozen=True)
class _Drive:
    """A drive with its present chain, and the teeth that are to come; every number is checked."""

    pitch_mm: float
    links: int
    small: float
    large: float
    taut_mm: float
    centre_mm: float | None
    adjustment_mm: tuple[float, float] | None
    touching_mm: float

    def lengths(self) -> list[int]:
        """The present length, and the even ones near what suits the present centre on the new teeth."""
        apart = (self.large - self.small) / 6  # 2 pi rounded down, so that one circle never holds the other
        centre = max(self.taut_mm / self.pitch_mm, apart + 1)
        nearest = even_links(links_exact(centre, z1=self.small, z2=self.large))
        around = range(nearest - 2 * LENGTHS_EACH_SIDE, nearest + 2 * LENGTHS_EACH_SIDE + 1, 2)
        return sorted(length for length in {self.links, *around} if length > self.large)

    def is_far_enough(self, links: int) -> bool:
        """Whether the shafts need not come closer than they can, and the tips do not touch."""
        taut = self._taut_on(links)
        shift = taut - self.taut_mm
        closest = -inf if self.adjustment_mm is None else self.adjustment_mm[0] - ROUNDING_MM
        return taut > self.touching_mm and shift >= closest and self._centre_mm(shift) > 0

    def _taut_on(self, links: int) -> float:
        return centre_of_length(links, self.small, self.large) * self.pitch_mm

    def _centre_mm(self, shift_mm: float) -> float:
        """A recorded centre differs from the taut one by slack and wear; both stay when the teeth change."""
        return (self.taut_mm if self.centre_mm is None else self.centre_mm) + shift_mm

    def option(self, links: int) -> TakeUp:
        taut = self._taut_on(links)
        shift = taut - self.taut_mm
        centre = self._centre_mm(shift)
        fits = False if taut <= self.touching_mm else self._reaches(shift, centre)
        return TakeUp(links, taut, shift, fits, keeps_chain=links == self.links and fits is not False)

    def _reaches(self, shift: float, centre: float) -> bool | None:
        if centre <= 0:
            return False
        if self.adjustment_mm is None:
            return None
        closest, farthest = self.adjustment_mm
        return closest - ROUNDING_MM <= shift <= farthest + SLACK_SHARE_OF_CENTRE * centre
