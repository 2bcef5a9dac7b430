"""Rows of teeth against strands of chain."""

from inventory.facts import fact
from inventory.interchange.findings import Finding, compared, not_recorded
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.tooth_formulas import width_over_strands_mm


def check_strands(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Number of rows against number of strands."""
    strands, rows = required.strands, offered.strands
    if strands is None or rows is None:
        code = "position_strands_not_recorded" if strands is None else "candidate_strands_not_recorded"
        return (not_recorded(Aspect.STRANDS, fact(code), required=strands, offered=rows),)
    counts = {"strands": strands, "rows": rows}
    if rows == strands:
        facts = (fact("rows_equal", **counts),)
        return (Finding(Aspect.STRANDS, Outcome.OK, facts, required=strands, offered=rows),)
    outcome, reason, source = Outcome.NO, fact("rows_too_few", **counts), fact("rows_in_phase")
    if rows > strands:
        too_wide = _over_the_room(required, offered, practice)
        if too_wide is not None:
            return (too_wide,)
        outcome, reason = Outcome.REVIEW, fact("rows_more_than_strands", **counts)
        source = fact("wider_body")
    figures = compared(strands, rows, limit=strands, margin=rows - strands)
    return (Finding(Aspect.STRANDS, outcome, (reason,), **figures, sources=(source,)),)


def _over_the_room(required: Requirement, offered: Sprocket, practice: Practice) -> Finding | None:
    """More rows than strands, wider than the room for them; for review where that room was never measured."""
    room_mm, width_mm = required.envelope.length_through_bore_mm, _width_over_rows_mm(offered)
    if room_mm is None or width_mm is None or practice.thresholds.is_within_room(width_mm, room_mm):
        return None
    outcome = Outcome.NO
    facts = [fact("rows_too_wide", rows=offered.strands, width_mm=round(width_mm, 4), room_mm=room_mm)]
    if not required.envelope.is_measured:
        outcome = Outcome.REVIEW
        facts.append(fact("room_copied_from_old_part"))
    margin_mm = round(room_mm - width_mm, 3)
    figures = compared(required.strands, offered.strands, limit=room_mm, margin=margin_mm)
    return Finding(Aspect.STRANDS, outcome, tuple(facts), **figures, sources=(fact("width_over_rows"),))


def _width_over_rows_mm(offered: Sprocket) -> float | None:
    if offered.chain is None or offered.strands is None or offered.chain.transverse_pitch_mm is None:
        return None
    tooth_mm = offered.chain.standard_tooth_width_mm(offered.strands)
    return width_over_strands_mm(
        tooth_mm, transverse_pitch_mm=offered.chain.transverse_pitch_mm, strands=offered.strands
    )
