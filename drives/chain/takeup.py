"""What another pair of teeth asks of the chain and of the take-up."""

from __future__ import annotations

from dataclasses import dataclass

from drives.chain.length import centre_exact_pitches, even_links, links_exact
from inventory.number_checks import LARGEST_QUANTITY, number, quantity, quantity_or_zero, whole
from inventory.standards.tooth_counts import drive_teeth

# Sag allowance of a textbook example (Bhandari, Design of Machine Elements, ch. 14, ex. 14.4): a chain may be
# longer than taut by what shortens the centre 0.2 %. A chain that is too short has no such allowance.
SLACK_SHARE_OF_CENTRE = 0.002
# Rounding of the centre distance alone; a thousandth of a millimetre is below any setting on a drive.
ROUNDING_MM = 0.001
# Even lengths looked at on either side of the one that suits the present centre.
LENGTHS_EACH_SIDE = 6


@dataclass(frozen=True)
class TakeUpOption:
    """One chain length on the new teeth: the centre it needs and whether the take-up reaches it."""

    links: int
    links_change: int
    centre_mm: float
    centre_shift_mm: float
    fits: bool | None
    reason: str


@dataclass(frozen=True)
class TakeUp:
    """The chosen length, and the others that were looked at.

    `fits` is None where the adjustment of the drive is not known; `centre_shift_mm` is above 0 where
    the shafts must go apart.
    """

    links: int
    centre_mm: float
    centre_shift_mm: float
    fits: bool | None
    keeps_chain: bool
    reason: str
    alternatives: tuple[TakeUpOption, ...]


def centre_shift_mm(
    pitch_mm: float,
    *,
    links: float,
    z1: float,
    z2: float,
    new_z1: float,
    new_z2: float,
    new_links: float | None = None,
) -> float:
    """Movement of the taut centre when the teeth change, on the same chain unless another length is given.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    links : float
        Present chain length [pitches].
    z1, z2, new_z1, new_z2 : float
        Teeth before and after [-].
    new_links : float, optional
        Chain length after [pitches]; the present one if left out.

    Returns
    -------
    float
        Shift [mm]: above 0 apart, below 0 closer.

    Raises
    ------
    ValueError
        If a chain is too short for its teeth or a value is out of range.

    Source
    ------
    Difference of two exact centre distances, tangent lines and arcs as in ISO 10823.

    Examples
    --------
    >>> round(centre_shift_mm(12.7, links=100, z1=17, z2=34, new_z1=18, new_z2=34), 2)
    -3.04
    """
    pitch = quantity("pitch_mm", pitch_mm)
    old = centre_exact_pitches(links, z1=z1, z2=z2)
    new = centre_exact_pitches(links if new_links is None else new_links, z1=new_z1, z2=new_z2)
    return (new - old) * pitch


def elongation_centre_shift_mm(pitch_mm: float, *, links: float, elongation_percent: float) -> float:
    """How far apart the shafts of a worn chain must go to have it taut again.

    Parameters
    ----------
    pitch_mm : float
        Nominal chain pitch [mm].
    links : float
        Chain length [pitches].
    elongation_percent : float
        Wear elongation [%], zero or more.

    Returns
    -------
    float
        Shift [mm].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Half the growth of the chain, which two strands share: e X p / 2.

    Examples
    --------
    >>> round(elongation_centre_shift_mm(12.7, links=100, elongation_percent=3), 2)
    19.05
    """
    growth = quantity_or_zero("elongation_percent", elongation_percent) / 100
    return growth * quantity("links", links) * quantity("pitch_mm", pitch_mm) / 2


def take_up(
    pitch_mm: float,
    *,
    z1: float,
    z2: float,
    links: int,
    new_z1: float,
    new_z2: float,
    centre_mm: float | None = None,
    adjustment_mm: tuple[float, float] | None = None,
    minimum_centre_mm: float = 0.0,
) -> TakeUp:
    """Whether a drive can take another pair of teeth: on the same chain, or else on an even length.

    Parameters
    ----------
    pitch_mm : float
        Chain pitch [mm].
    z1, z2, new_z1, new_z2 : float
        Teeth before and after [-].
    links : int
        Present chain length [pitches].
    centre_mm : float, optional
        Present centre distance [mm]; that of the taut chain if left out.
    adjustment_mm : (float, float), optional
        Movement left from the present centre [mm]: the closest (0 or below) and the farthest (0 or
        above). (0, 0) is a fixed centre; None is not known, and then `fits` is None.
    minimum_centre_mm : float
        Centre at which the new tips touch [mm]; 0 leaves it unchecked.

    Returns
    -------
    TakeUp
        Chosen length, new centre, shift, whether it fits, and what else was looked at.

    Raises
    ------
    ValueError
        If a value is out of range, the limits are in the wrong order, or the present chain is too short
        for its teeth.

    Source
    ------
    Exact centre distances, tangent lines and arcs as in ISO 10823; sag allowance 0.2 % of the centre
    from Bhandari, Design of Machine Elements, ch. 14, ex. 14.4.

    Examples
    --------
    >>> found = take_up(12.7, z1=19, z2=19, links=80, new_z1=20, new_z2=19, adjustment_mm=(-10, 5))
    >>> found.keeps_chain, found.links, round(found.centre_shift_mm, 2)
    (True, 80, -3.18)
    """
    place = _Place(
        pitch_mm=quantity("pitch_mm", pitch_mm),
        links=whole("links", links, least=1, most=LARGEST_QUANTITY),
        teeth=(drive_teeth("new_z1", new_z1), drive_teeth("new_z2", new_z2)),
        taut_mm=centre_exact_pitches(links, z1=z1, z2=z2) * quantity("pitch_mm", pitch_mm),
        centre_mm=None if centre_mm is None else quantity("centre_mm", centre_mm),
        adjustment_mm=_limits(adjustment_mm),
        minimum_centre_mm=quantity_or_zero("minimum_centre_mm", minimum_centre_mm),
    )
    options = [option for option in map(place.option, place.lengths()) if option is not None]
    if not options:
        raise ValueError(
            f"`links` must go round {new_z1:g} and {new_z2:g} teeth; no length near {links} does."
        )
    chosen = min(options, key=_preference)
    return TakeUp(
        links=chosen.links,
        centre_mm=chosen.centre_mm,
        centre_shift_mm=chosen.centre_shift_mm,
        fits=chosen.fits,
        keeps_chain=chosen.links_change == 0 and chosen.fits is not False,
        reason=f"Cannot be taken up: {chosen.reason}" if chosen.fits is False else _sentence(chosen.reason),
        alternatives=tuple(option for option in sorted(options, key=_preference) if option is not chosen),
    )


def _limits(adjustment_mm: tuple[float, float] | None) -> tuple[float, float] | None:
    if adjustment_mm is None:
        return None
    closest, farthest = (number("adjustment_mm", limit) for limit in adjustment_mm)
    if not closest <= 0 <= farthest:
        raise ValueError(f"`adjustment_mm` must run from 0 or below to 0 or above, not {adjustment_mm}.")
    return closest, farthest


def _sentence(words: str) -> str:
    return words[0].upper() + words[1:]


def _preference(option: TakeUpOption) -> tuple[int, int, float]:
    fit = {True: 0, None: 1, False: 2}[option.fits]
    return fit, abs(option.links_change), abs(option.centre_shift_mm)


@dataclass(frozen=True)
class _Place:
    """A drive with its present chain, and the teeth that are to come."""

    pitch_mm: float
    links: int
    teeth: tuple[float, float]
    taut_mm: float
    centre_mm: float | None
    adjustment_mm: tuple[float, float] | None
    minimum_centre_mm: float

    @property
    def present_mm(self) -> float:
        return self.taut_mm if self.centre_mm is None else self.centre_mm

    def lengths(self) -> list[int]:
        """The present length, and the even ones near what suits the present centre on the new teeth."""
        apart = (
            abs(self.teeth[1] - self.teeth[0]) / 6
        )  # 2 pi rounded down, so that one circle never holds the other
        centre = max(self.taut_mm / self.pitch_mm, apart + 1)
        nearest = even_links(links_exact(centre, z1=self.teeth[0], z2=self.teeth[1]))
        around = range(nearest - 2 * LENGTHS_EACH_SIDE, nearest + 2 * LENGTHS_EACH_SIDE + 1, 2)
        return sorted({self.links, *(length for length in around if length > 0)})

    def option(self, links: int) -> TakeUpOption | None:
        if links <= max(self.teeth):
            return None
        taut = centre_exact_pitches(links, z1=self.teeth[0], z2=self.teeth[1]) * self.pitch_mm
        # A recorded centre differs from the taut one by slack and wear; both stay when the teeth change.
        shift = taut - self.taut_mm
        fits, reason = self._judge(self._words(links, shift), shift)
        return TakeUpOption(links, links - self.links, self.present_mm + shift, shift, fits, reason)

    def _words(self, links: int, shift: float) -> str:
        chain = "the same chain" if links == self.links else f"a chain of {links} links"
        if abs(shift) <= ROUNDING_MM:
            return f"{chain} keeps the centre where it is"
        return f"{chain} needs the shafts {abs(shift):.1f} mm {'farther apart' if shift > 0 else 'closer'}"

    def _judge(self, words: str, shift: float) -> tuple[bool | None, str]:
        centre = self.present_mm + shift
        if centre <= self.minimum_centre_mm:
            return False, f"{words}, and the tips touch at {self.minimum_centre_mm:.1f} mm."
        if self.adjustment_mm is None:
            return None, f"{words}; the adjustment of this drive is not recorded."
        closest, farthest = self.adjustment_mm
        if shift < closest - ROUNDING_MM:
            return False, f"{words}, and the take-up has {abs(closest):.1f} mm that way."
        slack = SLACK_SHARE_OF_CENTRE * centre
        if shift > farthest + slack:
            return False, f"{words}, and the take-up has {farthest:.1f} mm that way."
        if shift > farthest + ROUNDING_MM:
            return True, f"{words}; {shift - farthest:.1f} mm of it stays as slack."
        return True, f"{words}, within the take-up."
