"""The class of lubrication that a rating presumes, by chain and speed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from drives.chain.basis import BY_PITCH, Basis, RatedChain
from drives.chain.geometry import chain_speed_m_s
from drives.chain.rating import MM_PER_IN, galling_speed_rpm, plate_fatigue_kw, roller_bushing_kw
from inventory.number_checks import quantity

LubricationClass = Literal["A", "B", "C", "C prime"]

# 1 m/s = 60 / 0.3048 ft/min, the international foot.
FT_MIN_PER_M_S = 60 / 0.3048
# Shigley, 9th ed., table 17-20 prints C prime for No. 200, 17 teeth, 300 rpm, where the galling equation gives
# 313 rpm at the rated pull: the region begins a little before the equation says so.
GALLING_REGION_SHARE = 0.95
ORDER: tuple[LubricationClass, ...] = ("A", "B", "C", "C prime")
METHODS: dict[LubricationClass, str] = {
    "A": "by hand or drip",
    "B": "oil bath or slinger disc",
    "C": "oil stream from a pump",
    "C prime": "oil stream, and the maker is asked: the drive is in the galling region",
}
# What people call the classes; ACA: A manual or drip, B bath or slinger disc, C oil stream.
WORDS: dict[str, LubricationClass] = {
    "A": "A",
    "MANUAL": "A",
    "DRIP": "A",
    "B": "B",
    "BATH": "B",
    "DISC": "B",
    "C": "C",
    "STREAM": "C",
}


@dataclass(frozen=True)
class Lubrication:
    """The class a drive needs, how surely, and whether the maker must be asked.

    `needed` is None where no limits cover the chain; that is unchecked, never fine.
    """

    needed: LubricationClass | None
    ask_the_maker: bool
    method: str
    source: str
    confidence: str
    reason: str


def rated_tension_n(basis: Basis, *, teeth: float, speed_rpm: float) -> float:
    """Pull of one strand at the rating of plates and rollers, the galling limit left out.

    Parameters
    ----------
    basis : Basis
        What stands for the chain, with a row.
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.

    Returns
    -------
    float
        Pull [N].

    Raises
    ------
    ValueError
        If nothing rates the chain or a value is out of range.

    Source
    ------
    Shigley's Mechanical Engineering Design, 9th ed., eq. 17-32 and 17-33, with F = P / v.

    Examples
    --------
    >>> from drives.chain.basis import find_basis
    >>> round(rated_tension_n(find_basis(0.5, asme_designation="40"), teeth=17, speed_rpm=900))
    1147
    """
    if basis.row is None:
        raise ValueError(f"`basis` must rate the chain: {basis.reason}.")
    common = {"speed_rpm": speed_rpm, "pitch_in": basis.pitch_in}
    plates = plate_fatigue_kw(teeth, **common, plate_constant=basis.plate_constant)
    rollers = roller_bushing_kw(teeth, **common, roller_constant=basis.roller_constant)
    speed = chain_speed_m_s(basis.pitch_in * MM_PER_IN, teeth=teeth, speed_rpm=speed_rpm)
    return 1000 * min(plates, rollers) / speed


def is_in_galling_region(basis: Basis, *, teeth: float, speed_rpm: float) -> bool:
    """Whether a chain at its rated pull runs where printed tables send the design to the maker.

    Parameters
    ----------
    basis : Basis
        What stands for the chain, with a row.
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.

    Returns
    -------
    bool
        True from 95 % of the galling speed at the rated pull.

    Raises
    ------
    ValueError
        If nothing rates the chain or a value is out of range.

    Source
    ------
    Shigley, 9th ed., sec. 17-5 (galling limit) and table 17-20 (letters C prime of No. 200 and 240 at 300 rpm).

    Examples
    --------
    >>> from drives.chain.basis import find_basis
    >>> is_in_galling_region(find_basis(3.0, asme_designation="240"), teeth=17, speed_rpm=300)
    True
    """
    pull = rated_tension_n(basis, teeth=teeth, speed_rpm=speed_rpm)
    limit = galling_speed_rpm(teeth, pitch_in=basis.pitch_in, tension_n=pull)
    return speed_rpm >= GALLING_REGION_SHARE * limit


def lubrication(basis: Basis, *, teeth: float, speed_rpm: float) -> Lubrication:
    """The class of lubrication that the chain needs at a speed.

    Parameters
    ----------
    basis : Basis
        What stands for the chain, from `find_basis`.
    teeth : float
        Teeth of the small sprocket [-].
    speed_rpm : float
        Its speed [rev/min], above 0.

    Returns
    -------
    Lubrication
        Class A, B, C or C prime; None where no limits cover the chain.

    Raises
    ------
    ValueError
        If a value is out of range.

    Source
    ------
    ACA class limits by chain speed, as in the table of rated chains; C prime by `is_in_galling_region`.

    Examples
    --------
    >>> from drives.chain.basis import find_basis
    >>> lubrication(find_basis(0.5, asme_designation="40"), teeth=17, speed_rpm=900).needed
    'B'
    """
    if basis.row is None:
        return Lubrication(None, False, "unknown", "none", "none", f"Class not known: {basis.reason}.")
    speed_m_s = chain_speed_m_s(basis.pitch_in * MM_PER_IN, teeth=teeth, speed_rpm=speed_rpm)
    needed = class_by_speed(basis.row, speed_m_s)
    if is_in_galling_region(basis, teeth=teeth, speed_rpm=speed_rpm):
        needed = "C prime"
    confidence = BY_PITCH if basis.confidence == BY_PITCH else basis.row.lubrication_confidence
    return Lubrication(
        needed=needed,
        ask_the_maker=needed == "C prime",
        method=METHODS[needed],
        source=basis.row.lubrication_source,
        confidence=confidence,
        reason=f"{speed_m_s:.2f} m/s on the limits of No. {basis.row.asme_designation}",
    )


def class_by_speed(row: RatedChain, chain_speed_m_s: float) -> LubricationClass:
    """The class by chain speed alone.

    Parameters
    ----------
    row : RatedChain
        Limits of the chain.
    chain_speed_m_s : float
        Chain speed [m/s], above 0.

    Returns
    -------
    {"A", "B", "C"}
        Class.

    Raises
    ------
    ValueError
        If the speed is not positive.

    Source
    ------
    ACA class limits by chain speed, as in the table of rated chains.

    Examples
    --------
    >>> from drives.chain.basis import rated_chains
    >>> class_by_speed(rated_chains()[2], 12)
    'C'
    """
    speed_ft_min = quantity("chain_speed_m_s", chain_speed_m_s) * FT_MIN_PER_M_S
    if speed_ft_min <= row.manual_up_to_ft_min:
        return "A"
    return "B" if speed_ft_min <= row.bath_up_to_ft_min else "C"


def is_sufficient(given: str, needed: LubricationClass) -> bool:
    """Whether the lubrication a drive has is at least the class it needs; C prime never passes.

    Parameters
    ----------
    given : {"A", "B", "C", "C prime"}
        Class the drive has.
    needed : {"A", "B", "C", "C prime"}
        Class it needs.

    Returns
    -------
    bool
        True where the given class is the needed one or better.

    Raises
    ------
    ValueError
        If the given class is none of the four.

    Source
    ------
    Own rule on the ACA classes: C prime asks for the maker, so that no class on site answers it.

    Examples
    --------
    >>> is_sufficient("B", "A"), is_sufficient("A", "B"), is_sufficient("C", "C prime")
    (True, False, False)
    """
    if given not in ORDER:
        raise ValueError(f"`given` must be one of {list(ORDER)}, not {given!r}.")
    return needed != "C prime" and ORDER.index(given) >= ORDER.index(needed)


def class_of(word: str) -> LubricationClass:
    """The class that a letter or a word for a way of lubricating stands for.

    Parameters
    ----------
    word : str
        A, B or C, or "manual", "drip", "bath", "disc", "stream", in any case.

    Returns
    -------
    {"A", "B", "C"}
        Class.

    Raises
    ------
    ValueError
        If the word stands for none.

    Source
    ------
    ACA classes: A manual or drip, B bath or slinger disc, C oil stream.

    Examples
    --------
    >>> class_of("drip"), class_of("b")
    ('A', 'B')
    """
    found = WORDS.get(word.strip().upper()) if isinstance(word, str) else None
    if found is None:
        names = ", ".join(name if len(name) == 1 else name.lower() for name in WORDS)
        raise ValueError(f"`lubrication` must be one of {names}, not {word!r}.")
    return found
