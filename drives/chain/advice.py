"""What an experienced fitter would say about a drive, each sentence with where it comes from."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

from drives.chain.drive import DriveInput, DriveResult
from drives.chain.factors import strand_factor
from drives.chain.geometry import wrap_small_deg
from drives.chain.length import centre_exact_pitches
from drives.chain.lubrication import Lubrication, is_sufficient
from drives.chain.rating import MM_PER_IN, Rating, galling_speed_rpm

# Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5.
LARGEST_RATIO = 6.0
FEWEST_TEETH_AT_SPEED = 17
MOST_TEETH = 120
CENTRES_PITCHES = (30.0, 50.0)
# A trade page and a design handbook; guides or a tensioner above it.
LONGEST_CENTRE_PITCHES = 80.0
# Course texts on chain drives.
LEAST_WRAP_DEG = 120.0
# A centre is set with a ruler; smaller differences are not worth a sentence.
CENTRE_WORTH_SAYING_MM = 0.1

SHIGLEY = "Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5"
ACA = "ACA lubrication classes"


@dataclass(frozen=True)
class Facts:
    """A drive, its numbers, and what they were worked out from."""

    drive: DriveInput
    result: DriveResult
    rating: Rating | None
    lubrication: Lubrication | None
    minimum_centre_mm: float

    @property
    def centre_pitches(self) -> float:
        return self.result.centre_distance_mm / float(self.drive.chain.pitch_mm)

    @property
    def is_slow(self) -> bool:
        """Slow enough to be oiled by hand."""
        return self.lubrication is not None and self.lubrication.needed == "A"


def advise(facts: Facts) -> tuple[str, ...]:
    """Everything worth saying about a drive.

    Parameters
    ----------
    facts : Facts
        The drive and its numbers.

    Returns
    -------
    tuple of str
        Sentences, the most serious first; each names its source.

    Raises
    ------
    ValueError
        If the numbers of the drive contradict one another.

    Source
    ------
    Each sentence names its own.

    Examples
    --------
    >>> from drives.chain.calculate import calculate
    >>> from drives.chain.drive import DriveInput, PlainChain
    >>> chain = PlainChain(12.7, 7.92, "40", "A")
    >>> calculate(DriveInput(chain=chain, driver_teeth=17, driven_teeth=120, links=160)).advice[0]
    "The ratio of 7.06 is above 6: it costs chain life (Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5)."
    """
    said = [sentence for rule in RULES for sentence in _listed(rule(facts))]
    return tuple(dict.fromkeys(said))


def _listed(sentences: str | tuple[str, ...] | None) -> tuple[str, ...]:
    if sentences is None:
        return ()
    return (sentences,) if isinstance(sentences, str) else sentences


def _touching_tips(facts: Facts) -> str | None:
    centre = facts.drive.centre_distance_mm or facts.result.centre_distance_mm
    least = facts.minimum_centre_mm
    if min(centre, facts.result.centre_distance_mm) > least:
        return None
    return f"The tips of the teeth overlap: the centres must be more than {least:.1f} mm apart (ISO 606, largest tip diameters)."


def _overload(facts: Facts) -> str | None:
    used, rating, design = facts.result.utilisation, facts.rating, facts.result.design_power_kw
    if rating is not None and rating.rated_power_kw == 0 and design is not None:
        return f"No power can be carried at this speed, because the joints would gall ({rating.source})."
    if used is None or used <= 1 or rating is None:
        return None
    return f"The chain is overloaded: {design:.3g} kW are asked of {rating.rated_power_kw:.3g} kW ({rating.source})."


def _galling(facts: Facts) -> str | None:
    drive, result, speed = facts.drive, facts.result, facts.drive.small_speed_rpm
    carried = facts.rating is not None and facts.rating.rated_power_kw is not None
    if not carried or result.design_power_kw is None or result.chain_speed_m_s is None or speed is None:
        return None
    strands = strand_factor(drive.strands, method="ASME")
    pull = 1000 * result.design_power_kw / result.chain_speed_m_s / strands
    limit = galling_speed_rpm(
        drive.small_teeth, pitch_in=float(drive.chain.pitch_mm) / MM_PER_IN, tension_n=pull
    )
    if speed <= limit:
        return None
    return f"{speed:.0f} rev/min is beyond the galling limit of {limit:.0f} rev/min at this pull: ask the maker ({SHIGLEY})."


def _lubrication(facts: Facts) -> str | None:
    found, given = facts.lubrication, facts.drive.lubrication
    if found is None:
        return None
    if found.needed is None:
        return f"{found.reason} (not checked)."
    if found.ask_the_maker:
        return f"Lubrication class C prime: the chain runs in the galling region, ask the maker ({found.source})."
    words = f"class {found.needed}, {found.method}"
    if given is None:
        return f"The rating presumes lubrication of {words}; what the drive has was not given ({ACA}; {found.confidence})."
    if is_sufficient(given, found.needed):
        return None
    return f"Lubrication of class {given} is too little: {words}, is needed ({ACA}; {found.confidence})."


def _wrap(facts: Facts) -> str | None:
    drive, centre = facts.drive, facts.result.centre_distance_mm
    wrap = wrap_small_deg(drive.chain.pitch_mm, z1=drive.small_teeth, z2=drive.large_teeth, centre_mm=centre)
    if wrap >= LEAST_WRAP_DEG:
        return None
    return f"The chain wraps {wrap:.0f} degrees of the small sprocket; at least 120 are wanted (course texts on chain drives)."


def _ratio(facts: Facts) -> str | None:
    times = max(facts.result.ratio, 1 / facts.result.ratio)
    if times <= LARGEST_RATIO:
        return None
    return f"The ratio of {times:.2f} is above 6: it costs chain life ({SHIGLEY})."


def _few_teeth(facts: Facts) -> str | None:
    teeth = facts.drive.small_teeth
    if teeth >= FEWEST_TEETH_AT_SPEED or facts.is_slow or facts.drive.chain.is_double_pitch:
        return None
    return f"{teeth:g} teeth are few unless the drive is very slow: 17 at least, 19 or 21 run longer and quieter ({SHIGLEY})."


def _many_teeth(facts: Facts) -> str | None:
    if facts.drive.large_teeth <= MOST_TEETH:
        return None
    return f"{facts.drive.large_teeth:g} teeth are more than the 120 of standard sprockets ({SHIGLEY})."


def _odd_links(facts: Facts) -> str | None:
    drive, result = facts.drive, facts.result
    if drive.links is None or drive.links % 2 == 0:
        return None
    centre = centre_exact_pitches(drive.links, z1=drive.small_teeth, z2=drive.large_teeth)
    return (
        f"{drive.links} links need a cranked link, which carries less than the chain, at a centre of "
        f"{centre * float(drive.chain.pitch_mm):.1f} mm; {result.links} links were taken instead ({SHIGLEY})."
    )


def _new_centre(facts: Facts) -> str | None:
    wanted, found = facts.drive.centre_distance_mm, facts.result
    if wanted is None or abs(found.centre_distance_mm - wanted) < CENTRE_WORTH_SAYING_MM:
        return None
    return (
        f"{wanted:.1f} mm ask for {found.links_exact:.2f} links; {found.links} links are taut at "
        f"{found.centre_distance_mm:.1f} mm (exact tangent geometry, ISO 10823)."
    )


def _common_factor(facts: Facts) -> str | None:
    teeth, links = facts.drive.small_teeth, facts.result.links
    if not teeth.is_integer() or (shared := math.gcd(int(teeth), links)) == 1:
        return None
    return (
        f"{links} links and {teeth:g} teeth share the factor {shared}: the same links meet the same teeth; "
        "an odd count without a common factor spreads the wear (common practice)."
    )


def _centre_range(facts: Facts) -> str | None:
    centre, (low, high) = facts.centre_pitches, CENTRES_PITCHES
    if centre > LONGEST_CENTRE_PITCHES:
        return f"The centres are {centre:.0f} pitches apart, above 80: guides or a tensioner are needed (design handbook)."
    if low <= centre <= high:
        return None
    return f"The centres are {centre:.1f} pitches apart; 30 to 50 suit most drives ({SHIGLEY})."


def _missing(facts: Facts) -> tuple[str, ...]:
    drive = facts.drive
    said = []
    if drive.driver_speed_rpm is None:
        said.append("The speed is not given: speeds, rating, pull and lubrication were not checked.")
    if drive.power_kw is None:
        said.append("The power is not given: design power, utilisation and pull were not checked.")
    elif drive.service_factor is None:
        said.append(
            "No service factor is given: 1.0 was taken, which is a smooth load (The Complete Guide to Chain, table 4.2)."
        )
    return tuple(said)


def _rating_notes(facts: Facts) -> tuple[str, ...]:
    return () if facts.rating is None else facts.rating.notes


def _generation(facts: Facts) -> str | None:
    if facts.rating is None or facts.drive.chain.asme_designation != "25":
        return None
    return "Newer tables rate No. 25 higher than this older generation (table of No. 25 citing ASME B29.1); never compare the two."


def _double_pitch(facts: Facts) -> str | None:
    if not facts.drive.chain.is_double_pitch or facts.drive.double_cut:
        return None
    return "Double pitch: the teeth were taken as effective teeth, one for each link (ISO 1275); a double-cut rim has two for each."


RULES: tuple[Callable[[Facts], str | tuple[str, ...] | None], ...] = (
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
