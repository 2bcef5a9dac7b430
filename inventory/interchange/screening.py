"""The screening rule: whether a chain runs on a rim that was cut for another.

Source: rule of this project over the seat diameters and tooth widths of ISO 606.
"""

from dataclasses import dataclass

from inventory.facts import Fact, fact
from inventory.interchange.requirement import Engagement
from inventory.interchange.thresholds import Thresholds
from inventory.interchange.vocabulary import Outcome
from inventory.standards.confidence import Estimate, SourceKind, turns_on
from inventory.standards.sizes import STORED_DECIMALS, apart_mm
from inventory.standards.tooth_formulas import (
    HIGHER_ROOT,
    LOWER_ROOT,
    ROOT_OF_SEAT,
    seating_radius_max_mm,
    seating_radius_min_mm,
)


@dataclass(frozen=True)
class Meeting:
    """A chain on a rim, with the numbers that the screening rule compares."""

    chain: Engagement
    rim: Engagement
    rim_width_mm: float

    @property
    def names(self) -> dict[str, str]:
        return {"chain": self.chain.name, "rim": self.rim.name}

    @property
    def widths(self) -> dict[str, float]:
        return {"tooth_width_mm": round(self.rim_width_mm, 4), "inner_width_mm": self.chain.inner_width_mm}

    @property
    def clearance_mm(self) -> float:
        return round(self.chain.inner_width_mm - self.rim_width_mm, STORED_DECIMALS)

    @property
    def side_play_share(self) -> float:
        return self.clearance_mm / self.chain.inner_width_mm

    @property
    def undersize_share(self) -> float:
        """How much smaller the chain's roller is than the one the seat was cut for; negative when larger."""
        return 1 - self.chain.roller_diameter_mm / self.rim.roller_diameter_mm

    @property
    def seat_max(self) -> Estimate:
        """The largest seat diameter; the formula for it was not read as a whole."""
        roots = (ROOT_OF_SEAT, HIGHER_ROOT, LOWER_ROOT)
        value, low, high = (2 * seating_radius_max_mm(self.rim.roller_diameter_mm, root) for root in roots)
        return Estimate("seat_diameter_max_mm", value, low, high, SourceKind.MEMORY, of=self.rim.name)

    @property
    def seat_min_mm(self) -> float:
        return 2 * seating_radius_min_mm(self.rim.roller_diameter_mm)


@dataclass(frozen=True)
class Screened:
    """What the screening rule found: ok (same), review (conditional) or no (poor, or it does not engage)."""

    outcome: Outcome
    facts: tuple[Fact, ...]
    limit: float
    margin: float


def screen(
    chain: Engagement, rim: Engagement, *, rim_width_mm: float | None = None, limits: Thresholds | None = None
) -> Screened:
    """Whether `chain` runs on one row of a rim cut for `rim`, with a tooth of the ISO 606 width unless it was measured.

    >>> from inventory.standards.chains import find_chain
    >>> screen(Engagement.of(find_chain("08B")), Engagement.of(find_chain("08A"))).facts[0].code
    'roller_too_large'
    """
    limits = limits or Thresholds()
    if has_other_pitch(chain, rim, limits):
        return _other_pitch(chain, rim)
    meeting = Meeting(chain, rim, rim_width_mm or rim.standard_tooth_width_mm())
    return (
        _tooth_does_not_enter(meeting, limits)
        or _roller_does_not_fit(meeting, limits)
        or _tooth_too_narrow(meeting, limits)
        or _conditional(meeting, limits)
        or _same(meeting)
    )


def has_other_pitch(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    differs = apart_mm(chain.pitch_mm, rim.pitch_mm) > limits.pitch_tolerance_mm
    return differs and not lies_in_every_second_gap(chain, rim, limits)


def lies_in_every_second_gap(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    return (
        chain.is_double_pitch
        and not chain.has_large_rollers
        and not rim.is_double_pitch
        and apart_mm(chain.pitch_mm, 2 * rim.pitch_mm) <= 2 * limits.pitch_tolerance_mm
    )


def _other_pitch(chain: Engagement, rim: Engagement) -> Screened:
    facts = [fact("pitch_differs", chain_pitch_mm=chain.pitch_mm, rim_pitch_mm=rim.pitch_mm)]
    if chain.has_large_rollers and abs(chain.pitch_mm - 2 * rim.pitch_mm) < 1:
        facts.append(fact("large_rollers_on_single_pitch"))
    return Screened(Outcome.NO, tuple(facts), chain.pitch_mm, -abs(rim.pitch_mm - chain.pitch_mm))


def _tooth_does_not_enter(m: Meeting, limits: Thresholds) -> Screened | None:
    if m.clearance_mm > limits.width_clearance_mm:
        return None
    found = fact("tooth_too_wide", **m.names, **m.widths)
    return Screened(Outcome.NO, (found,), m.chain.inner_width_mm, m.clearance_mm)


def _roller_does_not_fit(m: Meeting, limits: Thresholds) -> Screened | None:
    roller_mm, rim_roller_mm = m.chain.roller_diameter_mm, m.rim.roller_diameter_mm
    if roller_mm > m.seat_max.high:
        seat_mm = m.seat_max.value
        found = fact("roller_too_large", **m.names, roller_mm=roller_mm, seat_max_mm=round(seat_mm, 4))
        return Screened(Outcome.NO, (found,), seat_mm, seat_mm - roller_mm)
    if m.undersize_share > limits.roller_undersize_poor_share:
        gap_mm = rim_roller_mm - roller_mm
        found = fact("roller_too_small", **m.names, roller_mm=roller_mm, difference_mm=round(gap_mm, 4))
        limit_mm = rim_roller_mm * (1 - limits.roller_undersize_poor_share)
        return Screened(Outcome.NO, (found,), limit_mm, -gap_mm)
    return None


def _tooth_too_narrow(m: Meeting, limits: Thresholds) -> Screened | None:
    """It engages and wears the chain out."""
    play_share, most_share = m.side_play_share, limits.side_play_poor_share
    if play_share <= most_share:
        return None
    found = fact("tooth_too_narrow", **m.names, **m.widths, side_play_share=round(play_share, 4))
    return Screened(Outcome.NO, (found,), m.chain.inner_width_mm * (1 - most_share), most_share - play_share)


def _conditional(m: Meeting, limits: Thresholds) -> Screened | None:
    """Runs, but nearer to a limit than the proper pair does."""
    reasons = (*_side_play_reason(m, limits), *_roller_reason(m, limits))
    if not reasons:
        return None
    found = fact("engages_for_a_short_time", **m.names, reasons=reasons)
    return Screened(Outcome.REVIEW, (found, *_unseen_seat(m)), m.chain.inner_width_mm, m.clearance_mm)


def _unseen_seat(m: Meeting) -> tuple[Fact, ...]:
    """Named where the roller enters the seat by one reading of the formula and not by another."""
    roller_mm = m.chain.roller_diameter_mm
    return turns_on(lambda seat_mm: roller_mm > seat_mm, m.seat_max) if roller_mm > m.seat_min_mm else ()


def _side_play_reason(m: Meeting, limits: Thresholds) -> tuple[Fact, ...]:
    if m.side_play_share < limits.side_play_thin_share:
        return (fact("side_play_small", side_play_mm=round(m.clearance_mm, 4)),)
    if m.side_play_share > limits.side_play_normal_share:
        return (fact("side_play_large", side_play_share=round(m.side_play_share, 4)),)
    return ()


def _roller_reason(m: Meeting, limits: Thresholds) -> tuple[Fact, ...]:
    roller_mm = m.chain.roller_diameter_mm
    difference_mm = round(roller_mm - m.rim.roller_diameter_mm, 4)
    if roller_mm > m.seat_min_mm:
        return (fact("roller_tight_in_seat", roller_mm=roller_mm, seat_min_mm=round(m.seat_min_mm, 4)),)
    if abs(m.undersize_share) <= limits.roller_same_share:
        return ()
    if difference_mm > 0:
        return (fact("roller_larger_than_rim", difference_mm=difference_mm),)
    return (fact("roller_smaller_than_rim", difference_mm=-difference_mm),)


def _same(m: Meeting) -> Screened:
    found = fact("same_chain", chain=m.chain.name)
    if m.chain != m.rim:
        rollers = {"roller_mm": m.chain.roller_diameter_mm, "rim_roller_mm": m.rim.roller_diameter_mm}
        found = fact("equal_chain", **m.names, **rollers, side_play_mm=round(m.clearance_mm, 4))
    return Screened(Outcome.OK, (found,), m.chain.inner_width_mm, m.clearance_mm)
