"""Power rating of a roller chain, always with the generation of tables that it belongs to.

Newer tables rate higher than these equations (Mott, Machine Elements in Mechanical Design, 4th ed., ex. 7-3, takes 6.36 hp
where the equations give 4.98), so ratings of two generations are never compared.
"""

from dataclasses import dataclass
from typing import Literal

from drives.chain.geometry import chain_speed_m_s
from drives.chain.rating_basis import RatingBasis, find_basis, strength_limits_kw
from drives.chain.rating_formulas import galling_tension_n
from inventory.facts import Fact, fact
from inventory.number_checks import LARGEST_QUANTITY, quantity, whole
from inventory.standards.chains import Chain
from inventory.standards.confidence import Estimate
from inventory.standards.sizes import MM_PER_INCH
from inventory.standards.tooth_counts import drive_teeth

RatingLimit = Literal["plate_fatigue", "roller_bushing", "galling"]

OLDER_GENERATION = "ACA/ASME equations (older generation)"

STRAND_FACTORS = {1: 1.0, 2: 1.7, 3: 2.5, 4: 3.3, 5: 3.9, 6: 4.6, 8: 6.0}
"""Shigley's Mechanical Engineering Design, 9th ed., table 17-23; 7 is not printed."""


@dataclass(frozen=True)
class Rating:
    """What a chain carries at one speed and small sprocket; 0 means that the speed alone is beyond galling."""

    rated_power_kw: float
    limited_by: RatingLimit
    source: str
    confidence: str
    generation: str = OLDER_GENERATION
    notes: tuple[Fact, ...] = ()
    estimate: Estimate | None = None


def rate(chain: Chain, *, teeth: float, speed_rpm: float, strands: int = 1) -> Rating | Fact:
    """Rating of a chain at the teeth and speed of its small sprocket, or why there is none.

    >>> from inventory.standards.chains import find_chain
    >>> rating = rate(find_chain("40"), teeth=17, speed_rpm=900)
    >>> round(rating.rated_power_kw, 2), rating.limited_by
    (3.71, 'plate_fatigue')
    """
    basis = find_basis(chain)
    if isinstance(basis, Fact):
        return basis
    factor = STRAND_FACTORS.get(whole("strands", strands, least=1, most=LARGEST_QUANTITY))
    if factor is None:
        return fact("no_rating_for_strands", strands=strands)
    limits = _limits_kw(basis, drive_teeth("teeth", teeth), quantity("speed_rpm", speed_rpm))
    limited_by = min(limits, key=lambda name: limits[name])
    return Rating(
        rated_power_kw=limits[limited_by] * factor,
        limited_by=limited_by,
        source=basis.row.rating_source,
        confidence=basis.confidence,
        notes=(*basis.notes, *_galling_notes(limits, factor)),
        estimate=basis.estimate_for(chain),
    )


def _limits_kw(basis: RatingBasis, teeth: float, speed_rpm: float) -> dict[RatingLimit, float]:
    plates, rollers = strength_limits_kw(basis, teeth, speed_rpm)
    pull = galling_tension_n(teeth, pitch_in=basis.pitch_in, speed_rpm=speed_rpm)
    speed = chain_speed_m_s(basis.pitch_in * MM_PER_INCH, teeth=teeth, speed_rpm=speed_rpm)
    return {"plate_fatigue": plates, "roller_bushing": rollers, "galling": pull * speed / 1000}


def _galling_notes(limits: dict[RatingLimit, float], strand_factor: float) -> tuple[Fact, ...]:
    free = min(limits["plate_fatigue"], limits["roller_bushing"])
    if limits["galling"] >= free:
        return ()
    return (fact("galling_limits_rating", power_without_galling_kw=free * strand_factor),)
