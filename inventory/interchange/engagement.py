"""Whether the chain runs on the rim. Directional: the chain that runs against the sprocket that is offered.

Source: screening rule of this project; seat diameters and tooth widths of ISO 606.
"""

from dataclasses import dataclass, replace
from math import cos, radians

from inventory.facts import Fact, fact
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.values import Engagement, Finding, Requirement, Sprocket, not_recorded
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.tooth_formulas import seating_radius_max_mm, seating_radius_min_mm, tooth_width_mm

SAME_RIM_MM = 0.05
"""Editions print rollers and widths of one chain up to this far apart (08A roller 7.92 and 7.95 mm)."""
RIM_FIELDS = frozenset({"roller_diameter_mm", "inner_width_mm"})


@dataclass(frozen=True)
class Meeting:
    """A chain on a rim, with the numbers that the screening rule compares."""

    chain: Engagement
    rim: Engagement
    rim_width_mm: float

    @property
    def clearance_mm(self) -> float:
        return self.chain.inner_width_mm - self.rim_width_mm

    @property
    def side_play_share(self) -> float:
        return self.clearance_mm / self.chain.inner_width_mm

    @property
    def undersize_share(self) -> float:
        """How much smaller the chain's roller is than the one the seat was cut for; negative when larger."""
        return 1 - self.chain.roller_diameter_mm / self.rim.roller_diameter_mm

    @property
    def seat_max_mm(self) -> float:
        return 2 * seating_radius_max_mm(self.rim.roller_diameter_mm)

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
    if _has_other_pitch(chain, rim, limits):
        return _other_pitch(chain, rim)
    meeting = Meeting(chain, rim, rim_width_mm or standard_tooth_width_mm(rim))
    return (
        _tooth_does_not_enter(meeting, limits)
        or _roller_does_not_fit(meeting, limits)
        or _tooth_too_narrow(meeting, limits)
        or _conditional(meeting, limits)
        or _same(meeting)
    )


def standard_tooth_width_mm(rim: Engagement, strands: int = 1) -> float:
    """ISO 606 width of one row of teeth; a double-pitch rim has the width of its base chain."""
    base_pitch_mm = rim.pitch_mm / 2 if rim.is_double_pitch else rim.pitch_mm
    return tooth_width_mm(base_pitch_mm, inner_width_mm=rim.inner_width_mm, strands=strands)


def _has_other_pitch(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    differs = abs(chain.pitch_mm - rim.pitch_mm) > limits.pitch_tolerance_mm
    return differs and not _lies_in_every_second_gap(chain, rim, limits)


def _lies_in_every_second_gap(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    return (
        chain.is_double_pitch
        and not chain.has_large_rollers
        and not rim.is_double_pitch
        and abs(chain.pitch_mm - 2 * rim.pitch_mm) <= 2 * limits.pitch_tolerance_mm
    )


def _other_pitch(chain: Engagement, rim: Engagement) -> Screened:
    facts = [fact("pitch_differs", chain_pitch_mm=chain.pitch_mm, rim_pitch_mm=rim.pitch_mm)]
    if chain.has_large_rollers and abs(chain.pitch_mm - 2 * rim.pitch_mm) < 1:
        facts.append(fact("large_rollers_on_single_pitch"))
    return Screened(Outcome.NO, tuple(facts), chain.pitch_mm, -abs(rim.pitch_mm - chain.pitch_mm))


def _tooth_does_not_enter(m: Meeting, limits: Thresholds) -> Screened | None:
    if m.clearance_mm > limits.width_clearance_mm:
        return None
    found = fact(
        "tooth_too_wide",
        chain=m.chain.name,
        rim=m.rim.name,
        tooth_width_mm=round(m.rim_width_mm, 4),
        inner_width_mm=m.chain.inner_width_mm,
    )
    return Screened(Outcome.NO, (found,), m.chain.inner_width_mm, m.clearance_mm)


def _roller_does_not_fit(m: Meeting, limits: Thresholds) -> Screened | None:
    roller_mm = m.chain.roller_diameter_mm
    names = {"chain": m.chain.name, "rim": m.rim.name}
    if roller_mm > m.seat_max_mm:
        found = fact("roller_too_large", **names, roller_mm=roller_mm, seat_max_mm=round(m.seat_max_mm, 4))
        return Screened(Outcome.NO, (found,), m.seat_max_mm, m.seat_max_mm - roller_mm)
    if m.undersize_share > limits.roller_undersize_poor_share:
        rim_roller_mm = m.rim.roller_diameter_mm
        gap_mm = rim_roller_mm - roller_mm
        found = fact("roller_too_small", **names, roller_mm=roller_mm, difference_mm=round(gap_mm, 4))
        limit_mm = rim_roller_mm * (1 - limits.roller_undersize_poor_share)
        return Screened(Outcome.NO, (found,), limit_mm, -gap_mm)
    return None


def _tooth_too_narrow(m: Meeting, limits: Thresholds) -> Screened | None:
    """It engages and wears the chain out."""
    if m.side_play_share <= limits.side_play_poor_share:
        return None
    found = fact(
        "tooth_too_narrow",
        chain=m.chain.name,
        rim=m.rim.name,
        tooth_width_mm=round(m.rim_width_mm, 4),
        inner_width_mm=m.chain.inner_width_mm,
        side_play_share=round(m.side_play_share, 4),
    )
    limit_mm = m.chain.inner_width_mm * (1 - limits.side_play_poor_share)
    return Screened(Outcome.NO, (found,), limit_mm, limits.side_play_poor_share - m.side_play_share)


def _conditional(m: Meeting, limits: Thresholds) -> Screened | None:
    """Runs, but nearer to a limit than the proper pair does."""
    reasons = (*_side_play_reason(m, limits), *_roller_reason(m, limits))
    if not reasons:
        return None
    found = fact("engages_for_a_short_time", chain=m.chain.name, rim=m.rim.name, reasons=reasons)
    return Screened(Outcome.REVIEW, (found,), m.chain.inner_width_mm, m.clearance_mm)


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
        found = fact(
            "equal_chain",
            chain=m.chain.name,
            rim=m.rim.name,
            roller_mm=m.chain.roller_diameter_mm,
            rim_roller_mm=m.rim.roller_diameter_mm,
            side_play_mm=round(m.clearance_mm, 4),
        )
    return Screened(Outcome.OK, (found,), m.chain.inner_width_mm, m.clearance_mm)


def check_chain(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Chain engagement: pitch, roller, width; for several strands the distance between the rows."""
    chain, rim = required.chain, offered.chain
    if chain is None or rim is None:
        reason = fact("position_chain_not_recorded" if chain is None else "candidate_chain_not_recorded")
        names = {"required": chain.name if chain else None, "offered": rim.name if rim else None}
        return (not_recorded(Aspect.CHAIN, reason, **names),)
    limits = practice.thresholds
    screened = screen(chain, rim, rim_width_mm=_rim_width_mm(chain, offered), limits=limits)
    screened = _undecided_by_unseen(screened, chain, rim, limits)
    source = fact("iso_606_screening", chain_source=chain.source, rim_source=rim.source)
    found = [_finding(screened, source, chain, rim), *_doubted_width(required, offered, limits)]
    if screened.outcome is not Outcome.NO:
        found += _double_pitch(chain, rim, offered, limits, source)
        found += _row_distance(required, offered, limits, source)
    return tuple(found)


def _rim_width_mm(chain: Engagement, offered: Sprocket) -> float | None:
    """A recorded tooth width counts only where the rim is another; on one rim makers' widths vary lawfully."""
    rim = offered.chain
    if rim is None or _is_one_rim(chain, rim):
        return None
    return offered.tooth_width_mm


def _is_one_rim(chain: Engagement, rim: Engagement) -> bool:
    """Chains of one name, or of equal pitch, roller and width: standard and heavy plates run on one rim."""
    if chain.designation is not None and chain.designation == rim.designation:
        return True
    return all(
        abs(getattr(chain, name) - getattr(rim, name)) < SAME_RIM_MM
        for name in ("pitch_mm", "roller_diameter_mm", "inner_width_mm")
    )


def _undecided_by_unseen(
    screened: Screened, chain: Engagement, rim: Engagement, limits: Thresholds
) -> Screened:
    """A roller or width that was never seen in a source refuses nothing by itself: then it is for review."""
    unseen = (chain.unseen_fields | rim.unseen_fields) & RIM_FIELDS
    if not unseen or _has_other_pitch(chain, rim, limits) or screened.outcome is not Outcome.NO:
        return screened
    dimensions = tuple(sorted(name.removesuffix("_mm") for name in unseen))
    doubt = fact("dimensions_from_memory", dimensions=dimensions)
    return replace(screened, outcome=Outcome.REVIEW, facts=(*screened.facts, doubt))


def _doubted_width(required: Requirement, offered: Sprocket, limits: Thresholds) -> list[Finding]:
    """A recorded tooth width that no rim for this chain has: the part may be cut for a look-alike."""
    rim, width_mm = offered.chain, offered.tooth_width_mm
    if rim is None or width_mm is None or offered == required.interface:
        return []
    standard_mm = standard_tooth_width_mm(rim)
    least_mm = limits.tooth_width_least_share * standard_mm
    if least_mm <= width_mm < rim.inner_width_mm:
        return []
    reason = fact(
        "tooth_width_doubtful", rim=rim.name, tooth_width_mm=width_mm, standard_width_mm=round(standard_mm, 2)
    )
    return [
        Finding(
            aspect=Aspect.CHAIN,
            outcome=Outcome.REVIEW,
            facts=(reason,),
            required=round(standard_mm, 2),
            offered=width_mm,
            limit=round(least_mm, 2),
            margin=round(width_mm - least_mm, 2),
            sources=(fact("iso_606_tooth_width"),),
        )
    ]


def _finding(screened: Screened, source: Fact, chain: Engagement, rim: Engagement) -> Finding:
    return Finding(
        aspect=Aspect.CHAIN,
        outcome=screened.outcome,
        facts=screened.facts,
        required=chain.name,
        offered=rim.name,
        limit=screened.limit,
        margin=round(screened.margin, 3),
        sources=(source,),
    )


def _double_pitch(
    chain: Engagement, rim: Engagement, offered: Sprocket, limits: Thresholds, source: Fact
) -> list[Finding]:
    if not _lies_in_every_second_gap(chain, rim, limits):
        return []
    teeth, least = offered.teeth, limits.double_pitch_no_below_teeth
    if teeth is None:
        return [not_recorded(Aspect.CHAIN, fact("every_second_gap_teeth_not_recorded"))]
    short = round(1 - cos(radians(180 / teeth)), 6)
    few = teeth < least
    reason = (
        fact("every_second_gap_too_few_teeth", teeth=teeth, least_teeth=least, short_share=short)
        if few
        else fact("every_second_gap", teeth=teeth, short_share=short)
    )
    return [
        Finding(
            aspect=Aspect.CHAIN,
            outcome=Outcome.NO if few else Outcome.REVIEW,
            facts=(reason,),
            required=chain.name,
            offered=rim.name,
            limit=least,
            margin=teeth - least,
            sources=(fact("chord_over_two_teeth"), source),
        )
    ]


def _row_distance(
    required: Requirement, offered: Sprocket, limits: Thresholds, source: Fact
) -> list[Finding]:
    """Several strands: the rows must stand as far apart as the strands."""
    chain, rim, strands = required.chain, offered.chain, required.strands
    if strands is None or chain is None or rim is None or min(strands, offered.strands or strands) < 2:
        return []
    chain_mm, rim_mm = chain.transverse_pitch_mm, rim.transverse_pitch_mm
    if chain_mm is None or rim_mm is None:
        is_one_chain = bool(chain.designation) and chain.designation == rim.designation
        return [] if is_one_chain else [not_recorded(Aspect.CHAIN, fact("row_distance_not_recorded"))]
    apart_mm = abs(chain_mm - rim_mm)
    if apart_mm <= limits.transverse_pitch_tolerance_mm:
        return []
    reason = fact(
        "rows_do_not_line_up",
        chain=chain.name,
        rim=rim.name,
        chain_row_distance_mm=chain_mm,
        rim_row_distance_mm=rim_mm,
        difference_mm=round(apart_mm, 4),
    )
    is_unseen = "transverse_pitch_mm" in chain.unseen_fields | rim.unseen_fields
    return [
        Finding(
            aspect=aspect,
            outcome=Outcome.REVIEW if is_unseen else Outcome.NO,
            facts=(reason, fact("row_distance_from_memory")) if is_unseen else (reason,),
            required=chain_mm,
            offered=rim_mm,
            limit=limits.transverse_pitch_tolerance_mm,
            margin=round(limits.transverse_pitch_tolerance_mm - apart_mm, 3),
            sources=(source,),
        )
        for aspect in (Aspect.CHAIN, Aspect.STRANDS)
    ]
