"""The constants by which a chain is rated, and how far they are confirmed for it.

Source: Shigley's Mechanical Engineering Design, 9th ed., eq. 17-32 and 17-33 cover ASME 25 to 240; the roller form of
ISO 10823 covers both series of ISO 606 with one constant.
"""

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from drives.chain.rating_formulas import plate_fatigue_kw, roller_bushing_kw
from inventory.facts import Fact, fact
from inventory.standards.chains import Chain
from inventory.standards.confidence import Estimate, SourceKind
from inventory.standards.sizes import MM_PER_INCH

TABLE = Path(__file__).parent / "tables" / "rated_chains.csv"

PITCH_TOLERANCE_IN = 0.001
"""Pitches come from millimetre tables with six decimals; a thousandth of an inch parts no two chains."""

BY_PITCH = "by pitch, not the standard for this series"
HEAVY = "base chain of standard plates, heavy plates carry no less"
SPANS = {BY_PITCH: (0.75, 1.3), HEAVY: (1.0, 1.3)}
"""How far a rating taken over from another chain may be off, as a multiple. Least tensile strengths of ISO 606:1994 put the B
series at three quarters (20B) to 1.29 times (08B) the A series of their pitch. The span is a judgement."""

ROLLER_CONSTANT_ISO = 17.0
"""Rollers of a B-series chain: ISO 10823 has one roller form for both series, and its constant is 17 in inch units."""

PLATE_CONSTANT = 0.004


@dataclass(frozen=True)
class RatedChain:
    """Constants of the rating equations and limits of the lubrication classes of one ASME chain."""

    asme_designation: str
    pitch_in: float
    plate_constant: float
    roller_constant: float
    manual_up_to_ft_min: float
    bath_up_to_ft_min: float
    rating_source: str
    lubrication_source: str
    lubrication_confidence: str


@dataclass(frozen=True)
class RatingBasis:
    """The row and the constants of a rating, and how far they are confirmed for this chain."""

    row: RatedChain
    pitch_in: float
    plate_constant: float
    roller_constant: float
    confidence: str
    notes: tuple[Fact, ...] = ()

    def estimate_for(self, chain: Chain) -> Estimate | None:
        """The rating as a multiple of the one taken over; None where the equations were published for this chain."""
        span = SPANS.get(self.confidence)
        return span and Estimate("rated_power_times", 1.0, *span, SourceKind.ANALOGY, of=chain.designation)


@cache
def rated_chains() -> tuple[RatedChain, ...]:
    """The chains that the rating equations were published for, by rising pitch; each row names its source."""
    with TABLE.open(newline="", encoding="utf-8") as file:
        return tuple(_read(row) for row in csv.DictReader(file))


def _read(row: dict[str, str]) -> RatedChain:
    return RatedChain(
        asme_designation=row["asme_designation"],
        pitch_in=float(row["pitch_in"]),
        plate_constant=float(row["plate_constant"]),
        roller_constant=float(row["roller_constant"]),
        manual_up_to_ft_min=float(row["manual_up_to_ft_min"]),
        bath_up_to_ft_min=float(row["bath_up_to_ft_min"]),
        rating_source=row["rating_source"],
        lubrication_source=row["lubrication_source"],
        lubrication_confidence=row["lubrication_confidence"],
    )


def find_basis(chain: Chain) -> RatingBasis | Fact:
    """The constants that rate a chain, or why no published equation covers it."""
    if chain.is_double_pitch:
        return fact("no_rating_for_double_pitch", chain=chain.designation)
    number = (chain.asme_designation or "").upper()
    for row in rated_chains():
        if number in (row.asme_designation, f"{row.asme_designation}H"):
            return _by_number(row, is_heavy=number.endswith("H"))
    basis = _by_pitch(chain.pitch_mm / MM_PER_INCH) if chain.series == "B" else None
    return basis or fact("no_rating_for_chain", chain=chain.designation)


def strength_limits_kw(basis: RatingBasis, teeth: float, speed_rpm: float) -> tuple[float, float]:
    """Power at the limits of the plates and of the rollers, for one strand."""
    common = {"speed_rpm": speed_rpm, "pitch_in": basis.pitch_in}
    plates = plate_fatigue_kw(teeth, **common, plate_constant=basis.plate_constant)
    return plates, roller_bushing_kw(teeth, **common, roller_constant=basis.roller_constant)


def _by_number(row: RatedChain, *, is_heavy: bool) -> RatingBasis:
    constants = (row.pitch_in, row.plate_constant, row.roller_constant)
    if is_heavy:
        return RatingBasis(row, *constants, HEAVY, (fact("rated_as_standard_plates"),))
    return RatingBasis(row, *constants, "found")


def _by_pitch(pitch_in: float) -> RatingBasis | None:
    """The row of the same pitch, or the next larger one: its speed limits are the lower ones."""
    rows = [row for row in rated_chains() if row.asme_designation != "41"]
    if not rows[0].pitch_in - PITCH_TOLERANCE_IN <= pitch_in <= rows[-1].pitch_in + PITCH_TOLERANCE_IN:
        return None
    row = next(row for row in rows if row.pitch_in >= pitch_in - PITCH_TOLERANCE_IN)
    return RatingBasis(
        row, pitch_in, PLATE_CONSTANT, ROLLER_CONSTANT_ISO, BY_PITCH, (fact("rated_by_pitch"),)
    )
