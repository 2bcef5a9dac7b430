"""A drive worked out from end to end."""

from __future__ import annotations

import math
from dataclasses import replace

from drives.chain.advice import Facts, advise
from drives.chain.basis import Basis, find_basis
from drives.chain.drive import ChainSize, DriveInput, DriveResult
from drives.chain.factors import design_power_kw
from drives.chain.forces import tension_n
from drives.chain.geometry import chain_speed_m_s, driven_speed_rpm, minimum_centre_mm, ratio, wrap_driver_deg
from drives.chain.length import centre_exact_pitches, even_links, links_exact
from drives.chain.lubrication import Lubrication, lubrication
from drives.chain.rating import MM_PER_IN, OLDER_GENERATION, Rating, rate
from drives.chain.wear import elongation_limit_percent


def calculate(drive: DriveInput) -> DriveResult:
    """Speeds, length, centre, wrap, rating, pull, wear limit and advice for a drive.

    Parameters
    ----------
    drive : DriveInput
        Chain, teeth and either links or centre distance; speed and power where they are known.

    Returns
    -------
    DriveResult
        Numbers with their units in the names; None where speed, power or a published rating is missing.

    Raises
    ------
    ValueError
        If the chain cannot go round the sprockets.

    Source
    ------
    ISO 10823 (geometry), Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5 (rating), and what the single
    functions name.

    Examples
    --------
    >>> from drives.chain.drive import PlainChain
    >>> drive = DriveInput(
    ...     chain=PlainChain(12.7, 7.92, "40", "A"), driver_teeth=17, driven_teeth=34, driver_speed_rpm=900,
    ...     power_kw=2.2, service_factor=1.3, centre_distance_mm=508, lubrication="bath")
    >>> result = calculate(drive)
    >>> result.links, round(result.centre_distance_mm, 1), round(result.utilisation, 2), result.limited_by
    (106, 510.0, 0.77, 'plate_fatigue')
    """
    exact, links = _length(drive)
    z1, z2 = drive.driver_effective_teeth, drive.driven_effective_teeth
    pitch = float(drive.chain.pitch_mm)
    centre = centre_exact_pitches(links, z1=z1, z2=z2) * pitch
    rating, oil, speed = _rating(drive), _lubrication(drive), drive.driver_speed_rpm
    result = DriveResult(
        ratio=ratio(z1, z2),
        driven_speed_rpm=None if speed is None else driven_speed_rpm(speed, driver_teeth=z1, driven_teeth=z2),
        chain_speed_m_s=None if speed is None else chain_speed_m_s(pitch, teeth=z1, speed_rpm=speed),
        links_exact=exact,
        links=links,
        centre_distance_mm=centre,
        wrap_driver_deg=wrap_driver_deg(pitch, driver_teeth=z1, driven_teeth=z2, centre_mm=centre),
        rated_power_kw=None if rating is None else rating.rated_power_kw,
        limited_by=None if rating is None else rating.limited_by,
        generation=OLDER_GENERATION if rating is None else rating.generation,
        rating_confidence="none" if rating is None else rating.confidence,
        design_power_kw=_design_power(drive),
        utilisation=None,
        tight_side_tension_n=None,
        lubrication_class=None if oil is None else oil.needed,
        wear_limit_percent=_wear_limit(drive),
    )
    result = _loaded(drive, result)
    return replace(result, advice=advise(Facts(drive, result, rating, oil, _least_centre(drive))))


def _length(drive: DriveInput) -> tuple[float, int]:
    if drive.links is not None:
        return float(drive.links), even_links(drive.links)
    assert drive.centre_distance_mm is not None
    pitches = drive.centre_distance_mm / float(drive.chain.pitch_mm)
    least = (drive.large_teeth - drive.small_teeth) / (2 * math.pi)
    if pitches <= least:
        raise ValueError(
            f"`centre_distance_mm` must be more than {least * float(drive.chain.pitch_mm):.1f} mm, where one "
            f"sprocket lies inside the other, not {drive.centre_distance_mm:g}."
        )
    exact = links_exact(pitches, z1=drive.small_teeth, z2=drive.large_teeth)
    return exact, _clear_of_touching(drive, even_links(exact))


def _clear_of_touching(drive: DriveInput, links: int) -> int:
    """Two links more where rounding down would make tips touch that were apart at the centre asked for."""
    least = _least_centre(drive)
    while links <= drive.large_teeth:
        links += 2
    assert drive.centre_distance_mm is not None
    centre = centre_exact_pitches(links, z1=drive.small_teeth, z2=drive.large_teeth) * float(
        drive.chain.pitch_mm
    )
    return links + 2 if centre <= least < drive.centre_distance_mm else links


def _least_centre(drive: DriveInput) -> float:
    chain = drive.chain
    return minimum_centre_mm(
        chain.pitch_mm,
        z1=drive.small_teeth,
        z2=drive.large_teeth,
        roller_diameter_mm=chain.roller_diameter_mm,
        is_double_pitch=chain.is_double_pitch,
    )


def _rating(drive: DriveInput) -> Rating | None:
    if drive.small_speed_rpm is None:
        return None
    return rate(
        _basis(drive.chain), teeth=drive.small_teeth, speed_rpm=drive.small_speed_rpm, strands=drive.strands
    )


def _lubrication(drive: DriveInput) -> Lubrication | None:
    if drive.small_speed_rpm is None:
        return None
    return lubrication(_basis(drive.chain), teeth=drive.small_teeth, speed_rpm=drive.small_speed_rpm)


def _basis(chain: ChainSize) -> Basis:
    return find_basis(
        float(chain.pitch_mm) / MM_PER_IN,
        asme_designation=chain.asme_designation,
        series=chain.series,
        is_double_pitch=chain.is_double_pitch,
    )


def _design_power(drive: DriveInput) -> float | None:
    if drive.power_kw is None:
        return None
    factor = 1.0 if drive.service_factor is None else drive.service_factor
    return design_power_kw(drive.power_kw, service_factor=factor)


def _wear_limit(drive: DriveInput) -> float:
    return elongation_limit_percent(
        drive.large_teeth,
        fixed_centres=drive.fixed_centres,
        double_pitch=drive.chain.is_double_pitch,
        parallel_chains=drive.parallel_chains,
    )


def _loaded(drive: DriveInput, result: DriveResult) -> DriveResult:
    """The same result with what needs the power as well as the speed."""
    if drive.power_kw is None or result.chain_speed_m_s is None or result.design_power_kw is None:
        return result
    return replace(
        result,
        tight_side_tension_n=tension_n(drive.power_kw, result.chain_speed_m_s),
        utilisation=result.design_power_kw / result.rated_power_kw if result.rated_power_kw else None,
    )
