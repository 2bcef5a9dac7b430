"""Power rating of a roller chain, always with the generation of tables that it belongs to."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from drives.chain.basis import Basis
from drives.chain.factors import STRAND_FACTORS, strand_factor
from drives.chain.geometry import chain_speed_m_s
from inventory.number_checks import LARGEST_QUANTITY, quantity, whole
from inventory.standards.tooth_counts import drive_teeth

Limit = Literal["plate_fatigue", "roller_bushing", "galling"]

OLDER_GENERATION = "ACA/ASME equations (older generation)"
NEWER_GENERATION_25 = "ASME B29.1 table of No. 25 (newer generation), our fit"
# Definitions: 1 hp = 550 ft.lbf/s, with the international foot and pound.
KW_PER_HP = 0.745699871582
N_PER_LBF = 4.4482216152605
MM_PER_IN = 25.4
# Base conditions of the ratings, Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5.
BASE_LINKS = 100.0
BASE_HOURS = 15_000.0
# Own fit through the printed cells of the newer No. 25 table before the extreme, 0.5 % rms; not a quoted rule.
FIT_25_FACTOR, FIT_25_TEETH, FIT_25_SPEED = 7.17e-5, 0.998, 0.958
FIT_25_SPEEDS_RPM = (50.0, 5000.0)


@dataclass(frozen=True)
class Rating:
    """What a chain carries at one speed and small sprocket, or why nothing can be said.

    `rated_power_kw` and `limited_by` are None together; a rating of 0 means that the speed alone is beyond galling.
    """

    rated_power_kw: float | None
    limited_by: Limit | None
    generation: str
    source: str
    confidence: str
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.generation:
            raise ValueError("`generation` must name the rating generation.")
        if (self.rated_power_kw is None) != (self.limited_by is None):
            raise ValueError("`limited_by` must be given where `rated_power_kw` is, and nowhere else.")


def plate_fatigue_kw(
    teeth: float, *, speed_rpm: float, pitch_in: float, plate_constant: float = 0.004
) -> float:
    """Power of one strand at which the link plates tire.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.
    pitch_in : float
        Chain pitch [in], above 0.
    plate_constant : float
        0.004, or 0.0022 for the light No. 41.

    Returns
    -------
    float
        Power [kW].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shigley, 9th ed., eq. 17-32: H1 = 0.004 N**1.08 n**0.9 p**(3 - 0.07 p) hp.

    Examples
    --------
    >>> round(plate_fatigue_kw(17, speed_rpm=900, pitch_in=0.5) / KW_PER_HP, 2)
    4.98
    """
    pitch, constant = quantity("pitch_in", pitch_in), quantity("plate_constant", plate_constant)
    speed = quantity("speed_rpm", speed_rpm)
    exponent = 3 - 0.07 * pitch
    hp = constant * drive_teeth("teeth", teeth) ** 1.08 * speed**0.9 * math.exp(exponent * math.log(pitch))
    return float(hp * KW_PER_HP)


def roller_bushing_kw(
    teeth: float,
    *,
    speed_rpm: float,
    pitch_in: float,
    roller_constant: float,
    links: float = BASE_LINKS,
    hours: float = BASE_HOURS,
) -> float:
    """Power of one strand at which rollers and bushings break under impact.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.
    pitch_in : float
        Chain pitch [in], above 0.
    roller_constant : float
        17 for No. 40 to 240, 29 for No. 25 and 35, 3.4 for No. 41.
    links : float
        Chain length [pitches], above 0; 100 is the base.
    hours : float
        Life wanted [h], above 0; 15 000 is the base.

    Returns
    -------
    float
        Power [kW].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shigley, 9th ed., eq. 17-33 and 17-39:
    H2 = 1000 Kr (N/n)**1.5 p**0.8 (Lp/100)**0.4 (15000/h)**0.4 hp.

    Examples
    --------
    >>> round(roller_bushing_kw(17, speed_rpm=1800, pitch_in=0.5, roller_constant=17) / KW_PER_HP, 2)
    8.96
    """
    spin = drive_teeth("teeth", teeth) / quantity("speed_rpm", speed_rpm)
    hp = (
        1000
        * quantity("roller_constant", roller_constant)
        * spin**1.5
        * quantity("pitch_in", pitch_in) ** 0.8
    )
    return life_adjusted_kw(float(hp * KW_PER_HP), links=links, hours=hours)


def life_adjusted_kw(
    rated_power_kw: float,
    *,
    links: float,
    hours: float,
    rated_links: float = BASE_LINKS,
    rated_hours: float = BASE_HOURS,
) -> float:
    """Roller and bushing rating for another life and chain length.

    Parameters
    ----------
    rated_power_kw : float
        Rating after the extreme power [kW], above 0.
    links, hours : float
        Chain length [pitches] and life [h] wanted, above 0.
    rated_links, rated_hours : float
        Those of the rating, above 0.

    Returns
    -------
    float
        Power [kW].

    Raises
    ------
    ValueError
        If a value is not positive.

    Source
    ------
    Shigley, 9th ed., eq. 17-40: H**2.5 h / Lp = constant; it holds after the extreme power only.

    Examples
    --------
    >>> round(life_adjusted_kw(7.72, links=135, rated_links=135, hours=20_000), 2)
    6.88
    """
    longer = quantity("links", links) / quantity("rated_links", rated_links)
    shorter_life = quantity("rated_hours", rated_hours) / quantity("hours", hours)
    return float(quantity("rated_power_kw", rated_power_kw) * (longer * shorter_life) ** 0.4)


def galling_speed_rpm(teeth: float, *, pitch_in: float, tension_n: float) -> float:
    """Speed of the small sprocket above which the joints of a strand gall.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    pitch_in : float
        Chain pitch [in], from 0.1.
    tension_n : float
        Pull of one strand [N], above 0.

    Returns
    -------
    float
        Speed [rev/min].

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shigley, 9th ed., sec. 17-5, F in lbf:
    n = 1000 [82.5 / (7.95**p 1.0278**N 1.323**(F/1000))]**(1 / (1.59 log10 p + 1.873)).

    Examples
    --------
    >>> round(galling_speed_rpm(17, pitch_in=0.5, tension_n=500 * N_PER_LBF))
    7291
    """
    pull = quantity("tension_n", tension_n) / N_PER_LBF / 1000 * math.log(1.323)
    return 1000 * math.exp((_galling_margin(teeth, pitch_in) - pull) / _galling_exponent(pitch_in))


def galling_tension_n(teeth: float, *, pitch_in: float, speed_rpm: float) -> float:
    """Pull of one strand above which its joints gall at a speed.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    pitch_in : float
        Chain pitch [in], from 0.1.
    speed_rpm : float
        Its speed [rev/min], above 0.

    Returns
    -------
    float
        Pull [N]; 0 where the speed alone is beyond the limit.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shigley, 9th ed., sec. 17-5: the equation of `galling_speed_rpm` solved for F.

    Examples
    --------
    >>> round(galling_tension_n(17, pitch_in=1.0, speed_rpm=2342) / N_PER_LBF, -1)
    1000.0
    """
    speed = math.log(quantity("speed_rpm", speed_rpm) / 1000) * _galling_exponent(pitch_in)
    kips = (_galling_margin(teeth, pitch_in) - speed) / math.log(1.323)
    return max(0.0, kips * 1000 * N_PER_LBF)


def _galling_margin(teeth: float, pitch_in: float) -> float:
    pitch = quantity("pitch_in", pitch_in)
    return math.log(82.5) - pitch * math.log(7.95) - drive_teeth("teeth", teeth) * math.log(1.0278)


def _galling_exponent(pitch_in: float) -> float:
    exponent = 1.59 * math.log10(quantity("pitch_in", pitch_in)) + 1.873
    if pitch_in < 0.1:
        raise ValueError(f"`pitch_in` must be 0.1 or more for the galling limit, not {pitch_in:g}.")
    return exponent


def rate(
    basis: Basis,
    *,
    teeth: float,
    speed_rpm: float,
    strands: int = 1,
    links: float = BASE_LINKS,
    hours: float = BASE_HOURS,
) -> Rating:
    """Rating of a chain by the equations of the older generation.

    Parameters
    ----------
    basis : Basis
        What stands for the chain, from `find_basis`.
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.
    strands : int
        Strands [-].
    links, hours : float
        Chain length [pitches] and life [h]; they move the roller and bushing limit only.

    Returns
    -------
    Rating
        The least of the three limits, or None with the reason in the notes.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5, eq. 17-32, 17-33, 17-39 and the galling limit;
    strands by table 17-23.

    Examples
    --------
    >>> from drives.chain.basis import find_basis
    >>> rating = rate(find_basis(0.5, asme_designation="40"), teeth=17, speed_rpm=900)
    >>> round(rating.rated_power_kw, 2), rating.limited_by
    (3.71, 'plate_fatigue')
    """
    if basis.row is None:
        return _unrated(f"No rating: {basis.reason}.")
    if whole("strands", strands, least=1, most=LARGEST_QUANTITY) not in STRAND_FACTORS["ASME"]:
        return _unrated(f"No rating: no ASME strand factor is printed for {strands} strands.")
    limits = _limits_kw(basis, teeth=teeth, speed_rpm=speed_rpm, links=links, hours=hours)
    limited_by = min(limits, key=lambda name: limits[name])
    return Rating(
        rated_power_kw=limits[limited_by] * strand_factor(strands, method="ASME"),
        limited_by=limited_by,
        generation=OLDER_GENERATION,
        source=basis.row.rating_source,
        confidence=basis.confidence,
        notes=(*basis.notes, *_galling_notes(limits, strands)),
    )


def _limits_kw(
    basis: Basis, *, teeth: float, speed_rpm: float, links: float, hours: float
) -> dict[Limit, float]:
    pitch = basis.pitch_in
    pull = galling_tension_n(teeth, pitch_in=pitch, speed_rpm=speed_rpm)
    plates = plate_fatigue_kw(teeth, speed_rpm=speed_rpm, pitch_in=pitch, plate_constant=basis.plate_constant)
    rollers = roller_bushing_kw(
        teeth,
        speed_rpm=speed_rpm,
        pitch_in=pitch,
        roller_constant=basis.roller_constant,
        links=links,
        hours=hours,
    )
    galling = pull * chain_speed_m_s(pitch * MM_PER_IN, teeth=teeth, speed_rpm=speed_rpm) / 1000
    return {"plate_fatigue": plates, "roller_bushing": rollers, "galling": galling}


def _galling_notes(limits: dict[Limit, float], strands: int) -> tuple[str, ...]:
    free = min(limits["plate_fatigue"], limits["roller_bushing"])
    if limits["galling"] >= free:
        return ()
    total = free * strand_factor(strands, method="ASME")
    return (f"Plates and rollers alone would carry {total:.3g} kW; in the galling region the maker decides.",)


def _unrated(reason: str) -> Rating:
    source = "Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5"
    return Rating(None, None, OLDER_GENERATION, source, "none", (reason,))


def rate_no25_newer(teeth: float, *, speed_rpm: float, strands: int = 1) -> Rating:
    """Rating of No. 25 chain as newer tables print it.

    Parameters
    ----------
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min]; 50 to 5000 was seen in print.
    strands : int
        Strands [-].

    Returns
    -------
    Rating
        The lesser of the fit and the roller limit, or None outside the printed speeds.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    Own fit through the cells of the No. 25 table that cites ASME B29.1 (the same figures stand in a chain maker's
    printed catalogue of 2008); after the extreme, Shigley eq. 17-33 with Kr = 29 holds.

    Examples
    --------
    >>> round(rate_no25_newer(17, speed_rpm=900).rated_power_kw / KW_PER_HP, 2)
    0.82
    """
    speed, z = quantity("speed_rpm", speed_rpm), drive_teeth("teeth", teeth)
    source = "printed table of No. 25 citing ASME B29.1, own fit"
    if not FIT_25_SPEEDS_RPM[0] <= speed <= FIT_25_SPEEDS_RPM[1]:
        reason = f"No rating: the newer No. 25 table was seen from 50 to 5000 rpm, not at {speed:g}."
        return Rating(None, None, NEWER_GENERATION_25, source, "none", (reason,))
    plates = float(FIT_25_FACTOR * z**FIT_25_TEETH * speed**FIT_25_SPEED * KW_PER_HP)
    rollers = roller_bushing_kw(z, speed_rpm=speed, pitch_in=0.25, roller_constant=29)
    return Rating(
        rated_power_kw=min(plates, rollers) * strand_factor(strands, method="ASME"),
        limited_by="plate_fatigue" if plates <= rollers else "roller_bushing",
        generation=NEWER_GENERATION_25,
        source=source,
        confidence="our fit: printed cells within 1 % or half their last digit",
        notes=("The galling limit belongs to the older equations and was not applied.",),
    )


def compare_ratings(old: Rating, new: Rating) -> float:
    """New rating over old rating, of one generation.

    Parameters
    ----------
    old, new : Rating
        Ratings with a value; the old one above 0.

    Returns
    -------
    float
        Ratio [-]; below 1 the new one carries less.

    Raises
    ------
    ValueError
        If the generations differ, or a rating has no value to compare.

    Source
    ------
    Own rule: newer tables rate higher than the older equations (Mott, Machine Elements in Mechanical Design, 4th ed.,
    ex. 7-3, takes 6.36 hp where the equations give 4.98), so that a ratio across them says nothing.

    Examples
    --------
    >>> from drives.chain.basis import find_basis
    >>> basis = find_basis(0.5, asme_designation="40")
    >>> old, new = (rate(basis, teeth=z, speed_rpm=300) for z in (17, 34))
    >>> round(compare_ratings(old, new), 3) == round(2**1.08, 3)
    True
    """
    if old.generation != new.generation:
        raise ValueError(
            f"`new` must be of the same rating generation as `old`: {new.generation!r} is not {old.generation!r}."
        )
    if not old.rated_power_kw:
        raise ValueError("`old` must have a rating above 0.")
    if new.rated_power_kw is None:
        raise ValueError("`new` must have a rating.")
    return new.rated_power_kw / old.rated_power_kw
