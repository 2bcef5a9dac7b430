"""Whether the recorded width of a tooth is that of the rim it is named for, or of a look-alike. Lengths in mm."""

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared
from inventory.interchange.look_alikes import (
    LookAlike,
    MeasuredTooth,
    is_one_rim,
    measured_tooth,
)
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.interchange.screening import screen
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.chains import RIM_FIELDS
from inventory.standards.sizes import STORED_DECIMALS, apart_mm
from inventory.standards.tooth_formulas import across_gaps_mm, pitch_diameter_mm, width_over_strands_mm

CLEAR_OVER_ROWS_MM = 0.5
"""Widths over the rows that differ by this are told apart with a caliper. Judgement."""

CLEAR_IN_GAPS_MM = 0.3
"""So are the diameters in the gaps: their own tolerance is up to 0.3 mm (printed transmission catalogue)."""


def check_tooth_width(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """A tooth nearer to a look-alike is judged as one; between two names it is to be measured again."""
    limits = practice.thresholds
    if required.interface is not None and _is_equal_rim(required.interface, offered, limits):
        return ()
    return (*_of_candidate(required.chain, offered, limits), *_of_replaced(required.interface, limits))


def _is_equal_rim(one: Sprocket, other: Sprocket, limits: Thresholds) -> bool:
    """Of one name and one measure: what the name hides is the same on both."""
    if one.chain is None or other.chain is None or not is_one_rim(one.chain, other.chain):
        return False
    if one.tooth_width_mm is None or other.tooth_width_mm is None:
        return one.tooth_width_mm is other.tooth_width_mm
    return apart_mm(one.tooth_width_mm, other.tooth_width_mm) <= limits.measuring_uncertainty_mm


def _of_replaced(replaced: Sprocket | None, limits: Thresholds) -> tuple[Finding, ...]:
    """A part that measures as a look-alike is no sure measure for its own replacement."""
    if replaced is None or replaced.chain is None or replaced.tooth_width_mm is None:
        return ()
    tooth = measured_tooth(
        replaced.chain,
        replaced.tooth_width_mm,
        strands=replaced.strands,
        uncertainty_mm=limits.measuring_uncertainty_mm,
    )
    other = tooth.nearest(limits.measuring_uncertainty_mm)
    if other is None or screen(replaced.chain, other.rim, limits=limits).outcome is Outcome.OK:
        return ()
    measure = _what_to_measure(replaced, tooth.own.rim, other.rim)
    return (_finding(Outcome.REVIEW, "replaced_tooth_nearer_look_alike", tooth, other, measure),)


def _of_candidate(chain: Engagement | None, offered: Sprocket, limits: Thresholds) -> tuple[Finding, ...]:
    rim, width_mm = offered.chain, offered.tooth_width_mm
    if chain is None or rim is None or width_mm is None:
        return ()
    tooth = measured_tooth(
        rim, width_mm, strands=offered.strands, uncertainty_mm=limits.measuring_uncertainty_mm
    )
    other = tooth.nearest(limits.measuring_uncertainty_mm)
    found = _as_look_alike(chain, offered, tooth, other, limits) if other is not None else ()
    if any(finding.outcome is Outcome.NO for finding in found):
        return found
    play_mm = round(chain.inner_width_mm - width_mm, STORED_DECIMALS)
    if is_one_rim(chain, rim) and play_mm <= limits.width_clearance_mm:
        return (_without_play(chain, width_mm, limits),)
    if other is None and not tooth.is_lawful:
        return (_between(offered, tooth),)
    return found


def _as_look_alike(
    chain: Engagement, offered: Sprocket, tooth: MeasuredTooth, other: LookAlike, limits: Thresholds
) -> tuple[Finding, ...]:
    """What the chain does on the rim that was measured. A width that both names allow refuses nothing."""
    screened = screen(chain, other.rim, limits=limits)
    lines_up = (offered.strands or 1) == 1 or _rows_line_up(chain, other.rim, limits)
    if screened.outcome is Outcome.OK and lines_up:
        as_named = screen(chain, tooth.own.rim, limits=limits)
        if as_named.outcome is Outcome.OK:
            return ()
    is_refused = screened.outcome is Outcome.NO or not lines_up
    is_certain = not tooth.is_lawful and not (chain.unseen_fields | tooth.own.rim.unseen_fields) & RIM_FIELDS
    outcome, code = Outcome.REVIEW, "tooth_width_nearer_look_alike"
    if is_refused and is_certain:
        outcome, code = Outcome.NO, "tooth_width_of_look_alike"
    why = () if screened.outcome is Outcome.OK else screened.facts
    measure = _what_to_measure(offered, tooth.own.rim, other.rim)
    return (_finding(outcome, code, tooth, other, (*why, *measure)),)


def _rows_line_up(chain: Engagement, rim: Engagement, limits: Thresholds) -> bool:
    if chain.transverse_pitch_mm is None or rim.transverse_pitch_mm is None:
        return True
    return (
        apart_mm(chain.transverse_pitch_mm, rim.transverse_pitch_mm) <= limits.transverse_pitch_tolerance_mm
    )


def _without_play(chain: Engagement, width_mm: float, limits: Thresholds) -> Finding:
    """The name says that it enters, the tooth that it hardly does."""
    most_mm = chain.inner_width_mm - limits.width_clearance_mm
    reason = fact(
        "tooth_leaves_no_play",
        chain=chain.name,
        tooth_width_mm=width_mm,
        inner_width_mm=chain.inner_width_mm,
        clearance_mm=limits.width_clearance_mm,
    )
    figures = compared(
        chain.inner_width_mm, width_mm, limit=round(most_mm, 4), margin=round(most_mm - width_mm, 4)
    )
    facts = (reason, fact("measure_tooth_width_again"))
    return Finding(Aspect.CHAIN, Outcome.REVIEW, facts, **figures, sources=(fact("iso_606_tooth_width"),))


def _between(offered: Sprocket, tooth: MeasuredTooth) -> Finding:
    other = tooth.neighbour
    if other is not None:
        measure = _what_to_measure(offered, tooth.own.rim, other.rim)
        return _finding(Outcome.REVIEW, "tooth_width_between", tooth, other, measure)
    shown_mm = round(tooth.own.width_mm, 2)
    reason = fact(
        "tooth_width_doubtful",
        rim=tooth.own.rim.name,
        tooth_width_mm=tooth.width_mm,
        standard_width_mm=shown_mm,
    )
    figures = compared(shown_mm, tooth.width_mm, limit=shown_mm, margin=-tooth.own.apart_mm)
    sources = (fact("iso_606_tooth_width"),)
    return Finding(Aspect.CHAIN, Outcome.REVIEW, (reason,), **figures, sources=sources)


def _finding(
    outcome: Outcome, code: str, tooth: MeasuredTooth, other: LookAlike, further: tuple[Fact, ...]
) -> Finding:
    own_mm, other_mm = round(tooth.own.width_mm, 2), round(other.width_mm, 2)
    reason = fact(
        code,
        tooth_width_mm=tooth.width_mm,
        rim=tooth.own.rim.name,
        standard_width_mm=own_mm,
        look_alike=other.rim.name,
        look_alike_width_mm=other_mm,
    )
    margin_mm = round(other.apart_mm - tooth.own.apart_mm, 4)
    figures = compared(own_mm, tooth.width_mm, limit=other_mm, margin=margin_mm)
    sources = (fact("iso_606_tooth_width"), fact("nearest_look_alike"))
    return Finding(Aspect.CHAIN, outcome, (reason, *further), **figures, sources=sources)


def _what_to_measure(offered: Sprocket, own: Engagement, other: Engagement) -> tuple[Fact, ...]:
    """What tells the two apart better than the width of one tooth."""
    names = {"rim": own.name, "look_alike": other.name}
    if (offered.strands or 1) > 1:
        own_mm, other_mm = (_over_rows_mm(one, offered.strands or 1) for one in (own, other))
        if own_mm is not None and other_mm is not None and abs(own_mm - other_mm) >= CLEAR_OVER_ROWS_MM:
            return (fact("measure_width_over_rows", **names, own_mm=own_mm, look_alike_mm=other_mm),)
    rollers_apart_mm = apart_mm(own.roller_diameter_mm, other.roller_diameter_mm)
    if offered.teeth is not None and rollers_apart_mm >= CLEAR_IN_GAPS_MM:
        own_mm, other_mm = (_in_gaps_mm(one, offered.teeth) for one in (own, other))
        return (fact("measure_diameter_in_gaps", **names, own_mm=own_mm, look_alike_mm=other_mm),)
    return (fact("measure_tooth_width_again"),)


def _over_rows_mm(rim: Engagement, strands: int) -> float | None:
    if rim.transverse_pitch_mm is None:
        return None
    width_mm = rim.standard_tooth_width_mm(strands)
    return round(
        width_over_strands_mm(width_mm, transverse_pitch_mm=rim.transverse_pitch_mm, strands=strands), 1
    )


def _in_gaps_mm(rim: Engagement, teeth: int) -> float:
    """Over the bottoms of opposite gaps, as a caliper reads it."""
    return round(across_gaps_mm(pitch_diameter_mm(rim.pitch_mm, teeth), teeth) - rim.roller_diameter_mm, 1)
