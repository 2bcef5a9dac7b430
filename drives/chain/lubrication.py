"""The class of lubrication that a rating presumes, by chain and speed.

Source: ACA class limits by chain speed, as in the table of rated chains.
"""

from dataclasses import dataclass
from typing import Literal

from drives.chain.geometry import chain_speed_m_s
from drives.chain.rating_basis import BY_PITCH, RatedChain, RatingBasis, find_basis, strength_limits_kw
from drives.chain.rating_formulas import galling_speed_rpm
from inventory.facts import Fact
from inventory.number_checks import quantity
from inventory.standards.chains import Chain
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_counts import drive_teeth

LubricationClass = Literal["A", "B", "C", "C prime"]

FT_MIN_PER_M_S = 60 / 0.3048
"""The international foot."""

GALLING_REGION_SHARE = 0.95
"""Shigley, 9th ed., table 17-20 prints C prime for No. 200, 17 teeth, 300 rpm, where the galling equation gives 313 rpm at
the rated pull: the region begins a little below the speed of the equation."""

ORDER: tuple[LubricationClass, ...] = ("A", "B", "C", "C prime")

CLASS_BY_WORD: dict[str, LubricationClass] = {
    "A": "A",
    "MANUAL": "A",
    "DRIP": "A",
    "B": "B",
    "BATH": "B",
    "DISC": "B",
    "C": "C",
    "STREAM": "C",
}
"""ACA: A by hand or drip, B bath or slinger disc, C oil stream."""


@dataclass(frozen=True)
class RequiredLubrication:
    """The class a drive needs, and how far that is confirmed. C prime is for the maker to decide: no class on site is enough."""

    needed: LubricationClass
    source: str
    confidence: str

    @property
    def needs_maker_advice(self) -> bool:
        return self.needed == "C prime"

    def is_met_by(self, given: LubricationClass) -> bool:
        return not self.needs_maker_advice and ORDER.index(given) >= ORDER.index(self.needed)


def required_lubrication(chain: Chain, *, teeth: float, speed_rpm: float) -> RequiredLubrication | Fact:
    """The class that the chain needs at the teeth and speed of its small sprocket, or why no limits cover it.

    >>> from inventory.standards.chains import find_chain
    >>> required_lubrication(find_chain("40"), teeth=17, speed_rpm=900).needed
    'B'
    """
    basis = find_basis(chain)
    if isinstance(basis, Fact):
        return basis
    z, speed = drive_teeth("teeth", teeth), quantity("speed_rpm", speed_rpm)
    needed = _class_by_speed(basis.row, _chain_speed_m_s(basis, z, speed))
    return RequiredLubrication(
        needed="C prime" if is_in_galling_region(basis, z, speed) else needed,
        source=basis.row.lubrication_source,
        confidence=BY_PITCH if basis.confidence == BY_PITCH else basis.row.lubrication_confidence,
    )


def is_in_galling_region(basis: RatingBasis, teeth: float, speed_rpm: float) -> bool:
    """Whether a chain at its rated pull runs where printed tables send the design to the maker.

    Source: Shigley, 9th ed., sec. 17-5 (galling limit) and table 17-20 (letters C prime of No. 200 and 240 at 300 rpm).
    """
    limit = galling_speed_rpm(
        teeth, pitch_in=basis.pitch_in, tension_n=_rated_tension_n(basis, teeth, speed_rpm)
    )
    return speed_rpm >= GALLING_REGION_SHARE * limit


def _rated_tension_n(basis: RatingBasis, teeth: float, speed_rpm: float) -> float:
    """Pull of one strand at the rating of plates and rollers, the galling limit left out."""
    limits_kw = strength_limits_kw(basis, teeth, speed_rpm)
    return 1000 * min(limits_kw) / _chain_speed_m_s(basis, teeth, speed_rpm)


def _chain_speed_m_s(basis: RatingBasis, teeth: float, speed_rpm: float) -> float:
    return chain_speed_m_s(basis.pitch_in * MM_PER_INCH, teeth=teeth, speed_rpm=speed_rpm)


def _class_by_speed(row: RatedChain, speed_m_s: float) -> LubricationClass:
    speed_ft_min = speed_m_s * FT_MIN_PER_M_S
    if speed_ft_min <= row.manual_up_to_ft_min:
        return "A"
    return "B" if speed_ft_min <= row.bath_up_to_ft_min else "C"


def class_of(word: str) -> LubricationClass:
    """The class of a letter or of a word for a way of lubricating, in upper or lower case."""
    found = CLASS_BY_WORD.get(word.strip().upper()) if isinstance(word, str) else None
    if found is None:
        names = ", ".join(name if len(name) == 1 else name.lower() for name in CLASS_BY_WORD)
        raise ValueError(f"`lubrication` must be one of {names}, not {word!r}.")
    return found
