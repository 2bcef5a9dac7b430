"""Whether the chain runs on the rim. Directional: the chain of the position against the sprocket that is offered."""

from math import cos, radians

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_recorded
from inventory.interchange.look_alikes import is_one_rim
from inventory.interchange.measured_chain import screened_by_name
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.interchange.screening import Screened, lies_in_every_second_gap, screen
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.tooth_width import check_tooth_width
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.sizes import apart_mm


def check_chain(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Chain engagement: pitch, roller, width; for several strands the distance between the rows."""
    chain, rim = required.chain, offered.chain
    if chain is None or rim is None:
        reason = fact("position_chain_not_recorded" if chain is None else "candidate_chain_not_recorded")
        names = {"required": chain.name if chain else None, "offered": rim.name if rim else None}
        return (not_recorded(Aspect.CHAIN, reason, **names),)
    limits = practice.thresholds
    screened = screen(chain, rim, rim_width_mm=_rim_width_mm(chain, offered), limits=limits)
    screened = screened_by_name(screened, chain, rim, limits)
    source = fact("iso_606_screening", chain_source=chain.source, rim_source=rim.source)
    found = [_finding(screened, source, chain, rim), *check_tooth_width(required, offered, practice)]
    if screened.outcome is not Outcome.NO:
        found += _double_pitch(chain, rim, offered, practice, source)
        found += _row_distance(required, offered, limits, source)
    return tuple(found)


def _rim_width_mm(chain: Engagement, offered: Sprocket) -> float | None:
    """A recorded tooth width counts only where the rim is another; on one rim makers' widths vary lawfully."""
    rim = offered.chain
    if rim is None or is_one_rim(chain, rim):
        return None
    return offered.tooth_width_mm


def _finding(screened: Screened, source: Fact, chain: Engagement, rim: Engagement) -> Finding:
    figures = compared(chain.name, rim.name, limit=screened.limit, margin=round(screened.margin, 3))
    return Finding(Aspect.CHAIN, screened.outcome, screened.facts, **figures, sources=(source,))


def _double_pitch(
    chain: Engagement, rim: Engagement, offered: Sprocket, practice: Practice, source: Fact
) -> list[Finding]:
    if not lies_in_every_second_gap(chain, rim, practice.thresholds):
        return []
    teeth, least = offered.teeth, practice.thresholds.double_pitch_no_below_teeth
    if teeth is None:
        return [not_recorded(Aspect.CHAIN, fact("every_second_gap_teeth_not_recorded"))]
    short = round(1 - cos(radians(180 / teeth)), 6)
    outcome, reason = Outcome.REVIEW, fact("every_second_gap", teeth=teeth, short_share=short)
    if teeth < least:
        outcome = Outcome.NO
        reason = fact("every_second_gap_too_few_teeth", teeth=teeth, least_teeth=least, short_share=short)
    figures = compared(chain.name, rim.name, limit=least, margin=teeth - least)
    sources = (fact("chord_over_two_teeth"), source)
    finding = Finding(Aspect.CHAIN, outcome, (reason,), **figures, sources=sources)
    named = practice.turns_on(lambda fewest: teeth < fewest, "double_pitch_no_below_teeth")
    return [finding.for_review(*named) if named else finding]


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
    difference_mm, limit_mm = apart_mm(chain_mm, rim_mm), limits.transverse_pitch_tolerance_mm
    if difference_mm <= limit_mm:
        return []
    reason = fact(
        "rows_do_not_line_up",
        chain=chain.name,
        rim=rim.name,
        chain_row_distance_mm=chain_mm,
        rim_row_distance_mm=rim_mm,
        difference_mm=round(difference_mm, 4),
    )
    figures = compared(chain_mm, rim_mm, limit=limit_mm, margin=round(limit_mm - difference_mm, 3))
    return [
        Finding(aspect, Outcome.NO, (reason,), **figures, sources=(source,))
        for aspect in (Aspect.CHAIN, Aspect.STRANDS)
    ]
