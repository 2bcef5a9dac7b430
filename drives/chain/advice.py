"""Advice of an experienced fitter on a calculated drive.

Source: Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5, where a limit names no other.
"""

import math
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass

from drives.chain.drive_input import DriveInput, DriveResult
from drives.chain.geometry import wrap_driver_deg
from drives.chain.length import centre_exact_pitches
from drives.chain.lubrication import RequiredLubrication, class_of
from drives.chain.rating import STRAND_FACTORS, Rating
from drives.chain.rating_formulas import galling_speed_rpm
from inventory.facts import Fact, fact
from inventory.standards.sizes import MM_PER_INCH

LARGEST_RATIO = 6.0
FEWEST_TEETH_AT_SPEED = 17
MOST_TEETH = 120
CENTRES_PITCHES = (30.0, 50.0)

LONGEST_CENTRE_PITCHES = 80.0
"""A trade page and a design handbook; guides or a tensioner above it."""

LEAST_WRAP_DEG = 120.0
"""Course texts on chain drives."""

SMALLEST_CENTRE_CHANGE_MM = 0.1
"""A centre is set with a ruler; smaller differences do not matter."""


@dataclass(frozen=True)
class CalculatedDrive:
    """A drive, its numbers, and what they were calculated from."""

    drive: DriveInput
    result: DriveResult
    rating: Rating | Fact | None
    lubrication: RequiredLubrication | Fact | None
    minimum_centre_mm: float

    @property
    def rated(self) -> Rating | None:
        return self.rating if isinstance(self.rating, Rating) else None

    @property
    def is_slow(self) -> bool:
        """Slow enough to be oiled by hand."""
        return isinstance(self.lubrication, RequiredLubrication) and self.lubrication.needed == "A"


def advise(found: CalculatedDrive) -> tuple[Fact, ...]:
    """Each fact once, the most serious first."""
    return tuple(dict.fromkeys(advice for rule in RULES for advice in rule(found)))


def _touching_tips(found: CalculatedDrive) -> Iterator[Fact]:
    centre, least = found.result.centre_distance_mm, found.minimum_centre_mm
    if min(found.drive.centre_distance_mm or centre, centre) <= least:
        yield fact("tips_overlap", minimum_centre_mm=least)


def _overload(found: CalculatedDrive) -> Iterator[Fact]:
    rating, design_kw = found.rated, found.result.design_power_kw
    if rating is None or design_kw is None:
        return
    if rating.rated_power_kw == 0:
        yield fact("no_power_at_this_speed", source=rating.source)
    elif found.result.utilisation is not None and found.result.utilisation > 1:
        powers = {"design_power_kw": design_kw, "rated_power_kw": rating.rated_power_kw}
        yield fact("chain_overloaded", **powers, source=rating.source)


def _galling(found: CalculatedDrive) -> Iterator[Fact]:
    drive, result, speed = found.drive, found.result, found.drive.small_speed_rpm
    if found.rated is None or result.design_power_kw is None or not result.chain_speed_m_s or speed is None:
        return
    pull = 1000 * result.design_power_kw / result.chain_speed_m_s / STRAND_FACTORS[drive.strands]
    pitch_in = drive.chain.pitch_mm / MM_PER_INCH
    limit = galling_speed_rpm(drive.small_teeth, pitch_in=pitch_in, tension_n=pull)
    if speed > limit:
        yield fact("speed_beyond_galling", speed_rpm=speed, limit_rpm=limit)


def _lubrication(found: CalculatedDrive) -> Iterator[Fact]:
    oil, given = found.lubrication, found.drive.lubrication
    if isinstance(oil, Fact):
        yield fact("lubrication_not_checked", chain=found.drive.chain.designation)
    elif oil is None:
        return
    elif oil.needs_maker_advice:
        yield fact("lubrication_ask_maker", source=oil.source)
    elif given is None:
        yield fact("lubrication_not_given", needed=oil.needed, confidence=oil.confidence)
    elif not oil.is_met_by(class_of(given)):
        yield fact("lubrication_not_enough", given=given, needed=oil.needed, confidence=oil.confidence)


def _wrap(found: CalculatedDrive) -> Iterator[Fact]:
    drive = found.drive
    wrap = wrap_driver_deg(
        drive.chain.pitch_mm,
        driver_teeth=drive.small_teeth,
        driven_teeth=drive.large_teeth,
        centre_mm=found.result.centre_distance_mm,
    )
    if wrap < LEAST_WRAP_DEG:
        yield fact("wrap_too_small", wrap_deg=wrap, least_deg=LEAST_WRAP_DEG)


def _ratio(found: CalculatedDrive) -> Iterator[Fact]:
    times = max(found.result.ratio, 1 / found.result.ratio)
    if times > LARGEST_RATIO:
        yield fact("ratio_too_large", ratio=times, largest_ratio=LARGEST_RATIO)


def _few_teeth(found: CalculatedDrive) -> Iterator[Fact]:
    teeth = found.drive.small_teeth
    if teeth < FEWEST_TEETH_AT_SPEED and not found.is_slow and not found.drive.chain.is_double_pitch:
        yield fact("few_teeth", teeth=teeth, least_teeth=FEWEST_TEETH_AT_SPEED)


def _many_teeth(found: CalculatedDrive) -> Iterator[Fact]:
    teeth = found.drive.large_teeth
    if teeth > MOST_TEETH:
        yield fact("many_teeth", teeth=teeth, most_teeth=MOST_TEETH)


def _odd_links(found: CalculatedDrive) -> Iterator[Fact]:
    drive = found.drive
    if drive.links is None or drive.links % 2 == 0:
        return
    centre = centre_exact_pitches(drive.links, z1=drive.small_teeth, z2=drive.large_teeth)
    centre_mm = centre * drive.chain.pitch_mm
    yield fact("odd_links", links=drive.links, centre_mm=centre_mm, even_links=found.result.links)


def _new_centre(found: CalculatedDrive) -> Iterator[Fact]:
    given, result = found.drive.centre_distance_mm, found.result
    if given is not None and abs(result.centre_distance_mm - given) >= SMALLEST_CENTRE_CHANGE_MM:
        length = {"links_exact": result.links_exact, "links": result.links}
        centre_mm = result.centre_distance_mm
        yield fact("centre_of_even_links", given_centre_mm=given, **length, centre_mm=centre_mm)


def _common_factor(found: CalculatedDrive) -> Iterator[Fact]:
    teeth, links = found.drive.small_teeth, found.result.links
    if teeth.is_integer() and (factor := math.gcd(int(teeth), links)) > 1:
        yield fact("links_and_teeth_share_factor", links=links, teeth=teeth, factor=factor)


def _centre_range(found: CalculatedDrive) -> Iterator[Fact]:
    centre, (low, high) = found.result.centre_distance_mm / found.drive.chain.pitch_mm, CENTRES_PITCHES
    if centre > LONGEST_CENTRE_PITCHES:
        yield fact("centres_too_far_apart", centre_pitches=centre, most_pitches=LONGEST_CENTRE_PITCHES)
    elif not low <= centre <= high:
        yield fact("centres_outside_usual", centre_pitches=centre, least_pitches=low, most_pitches=high)


def _missing(found: CalculatedDrive) -> Iterator[Fact]:
    drive = found.drive
    if drive.driver_speed_rpm is None:
        yield fact("speed_not_given")
    if drive.power_kw is None:
        yield fact("power_not_given")
    elif drive.service_factor is None:
        yield fact("service_factor_not_given")


def _rating_notes(found: CalculatedDrive) -> Iterator[Fact]:
    if isinstance(found.rating, Fact):
        yield found.rating
    elif found.rating is not None:
        yield from found.rating.notes


def _generation(found: CalculatedDrive) -> Iterator[Fact]:
    if found.rating is not None and found.drive.chain.asme_designation == "25":
        yield fact("newer_tables_rate_higher")


def _double_pitch(found: CalculatedDrive) -> Iterator[Fact]:
    if found.drive.chain.is_double_pitch:
        yield fact("double_pitch_wear_limit_unseen", limit_percent=found.result.wear_limit_percent)
        if not found.drive.double_cut:
            yield fact("effective_teeth_used")


RULES: tuple[Callable[[CalculatedDrive], Iterable[Fact]], ...] = (
    _touching_tips,
    _overload,
    _galling,
    _lubrication,
    _wrap,
    _ratio,
    _few_teeth,
    _many_teeth,
    _odd_links,
    _new_centre,
    _common_factor,
    _centre_range,
    _missing,
    _rating_notes,
    _generation,
    _double_pitch,
)
