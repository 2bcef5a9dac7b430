"""A drive calculated from end to end.

Source: ISO 10823 (geometry), Shigley's Mechanical Engineering Design, 9th ed., sec. 17-5 (rating), and what the single
functions name.
"""

from dataclasses import replace

from drives.chain.advice import CalculatedDrive, advise
from drives.chain.drive_input import DriveInput, DriveResult
from drives.chain.forces import design_power_kw, tension_n
from drives.chain.geometry import chain_speed_m_s, driven_speed_rpm, minimum_centre_mm, ratio, wrap_driver_deg
from drives.chain.length import centre_exact_pitches, even_links, least_centre_pitches, links_exact
from drives.chain.lubrication import RequiredLubrication, required_lubrication
from drives.chain.rating import OLDER_GENERATION, Rating, rate
from drives.chain.wear import elongation_limit_percent
from inventory.facts import Fact


def calculate(drive: DriveInput) -> DriveResult:
    """Speeds, length, centre, wrap, rating, pull, wear limit and advice for a drive.

    >>> from inventory.standards.chains import find_chain
    >>> drive = DriveInput(
    ...     chain=find_chain("40"), driver_teeth=17, driven_teeth=34, driver_speed_rpm=900,
    ...     power_kw=2.2, service_factor=1.3, centre_distance_mm=508, lubrication="bath")
    >>> result = calculate(drive)
    >>> result.links, round(result.centre_distance_mm, 1), round(result.utilisation, 2), result.limited_by
    (106, 510.0, 0.77, 'plate_fatigue')
    """
    exact, links = _length(drive)
    z1, z2 = drive.driver_effective_teeth, drive.driven_effective_teeth
    pitch, speed, power = drive.chain.pitch_mm, drive.driver_speed_rpm, drive.power_kw
    centre = centre_exact_pitches(links, z1=z1, z2=z2) * pitch
    rating, oil = _rating(drive)
    rated = rating if isinstance(rating, Rating) else None
    rated_kw = rated.rated_power_kw if rated else None
    design_kw = None if power is None else design_power_kw(power, service_factor=drive.service_factor)
    chain_speed = None if speed is None else chain_speed_m_s(pitch, teeth=z1, speed_rpm=speed)
    result = DriveResult(
        ratio=ratio(z1, z2),
        driven_speed_rpm=None if speed is None else driven_speed_rpm(speed, driver_teeth=z1, driven_teeth=z2),
        chain_speed_m_s=chain_speed,
        links_exact=exact,
        links=links,
        centre_distance_mm=centre,
        wrap_driver_deg=wrap_driver_deg(pitch, driver_teeth=z1, driven_teeth=z2, centre_mm=centre),
        rated_power_kw=rated_kw,
        limited_by=rated.limited_by if rated else None,
        generation=OLDER_GENERATION,
        rating_confidence=rated.confidence if rated else "none",
        design_power_kw=design_kw,
        utilisation=design_kw / rated_kw if design_kw is not None and rated_kw else None,
        tight_side_tension_n=None if power is None or chain_speed is None else tension_n(power, chain_speed),
        lubrication_class=oil.needed if isinstance(oil, RequiredLubrication) else None,
        wear_limit_percent=_wear_limit_percent(drive),
    )
    return replace(
        result, advice=advise(CalculatedDrive(drive, result, rating, oil, _minimum_centre_mm(drive)))
    )


def _length(drive: DriveInput) -> tuple[float, int]:
    if drive.links is not None:
        return float(drive.links), even_links(drive.links)
    assert drive.centre_distance_mm is not None
    given_mm, pitch_mm = drive.centre_distance_mm, drive.chain.pitch_mm
    least = least_centre_pitches(drive.small_teeth, drive.large_teeth)
    if given_mm / pitch_mm <= least:
        raise ValueError(
            f"`centre_distance_mm` must be more than {least * pitch_mm:.1f} mm, where one "
            f"sprocket lies inside the other, not {given_mm:g}."
        )
    exact = links_exact(given_mm / pitch_mm, z1=drive.small_teeth, z2=drive.large_teeth)
    return exact, _clear_of_touching(drive, even_links(exact), given_mm)


def _clear_of_touching(drive: DriveInput, links: int, given_mm: float) -> int:
    """Two links more where rounding down would make tips touch that were apart at the centre given."""
    least = _minimum_centre_mm(drive)
    while links <= drive.large_teeth:
        links += 2
    pitches = centre_exact_pitches(links, z1=drive.small_teeth, z2=drive.large_teeth)
    return links + 2 if pitches * drive.chain.pitch_mm <= least < given_mm else links


def _minimum_centre_mm(drive: DriveInput) -> float:
    return minimum_centre_mm(drive.chain, drive.small_teeth, drive.large_teeth)


def _rating(drive: DriveInput) -> tuple[Rating | Fact | None, RequiredLubrication | Fact | None]:
    """Rating and lubrication at the speed of the small sprocket, where it is known."""
    teeth, speed = drive.small_teeth, drive.small_speed_rpm
    if speed is None:
        return None, None
    rating = rate(drive.chain, teeth=teeth, speed_rpm=speed, strands=drive.strands)
    return rating, required_lubrication(drive.chain, teeth=teeth, speed_rpm=speed)


def _wear_limit_percent(drive: DriveInput) -> float:
    return elongation_limit_percent(
        drive.large_teeth,
        fixed_centres=drive.fixed_centres,
        double_pitch=drive.chain.is_double_pitch,
        parallel_chains=drive.parallel_chains,
    )
