"""Rows of teeth against strands of chain."""

from inventory.facts import fact
from inventory.interchange.findings import Finding, not_recorded
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, Outcome
from inventory.standards.tooth_formulas import width_over_strands_mm


def check_strands(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Number of rows against number of strands."""
    strands, rows = required.strands, offered.strands
    if strands is None or rows is None:
        reason = fact(
            "position_strands_not_recorded" if strands is None else "candidate_strands_not_recorded"
        )
        return (not_recorded(Aspect.STRANDS, reason, required=strands, offered=rows),)
    if rows < strands:
        return (_fewer_rows(strands, rows),)
    if rows > strands:
        return (_over_the_room(required, offered, strands, rows) or _more_rows(strands, rows),)
    return (
        Finding(
            aspect=Aspect.STRANDS,
            outcome=Outcome.OK,
            facts=(fact("rows_equal", strands=strands, rows=rows),),
            required=strands,
            offered=rows,
        ),
    )


def _fewer_rows(strands: int, rows: int) -> Finding:
    return Finding(
        aspect=Aspect.STRANDS,
        outcome=Outcome.NO,
        facts=(fact("rows_too_few", strands=strands, rows=rows),),
        required=strands,
        offered=rows,
        limit=strands,
        margin=rows - strands,
        sources=(fact("rows_in_phase"),),
    )


def _over_the_room(required: Requirement, offered: Sprocket, strands: int, rows: int) -> Finding | None:
    """More rows than strands, wider than the room for them; for review where that room was never measured."""
    room_mm, width_mm = required.envelope.length_through_bore_mm, _width_over_rows_mm(offered)
    if room_mm is None or width_mm is None or width_mm <= room_mm:
        return None
    is_measured = required.envelope.is_measured
    reason = fact("rows_too_wide", rows=rows, width_mm=round(width_mm, 4), room_mm=room_mm)
    return Finding(
        aspect=Aspect.STRANDS,
        outcome=Outcome.NO if is_measured else Outcome.REVIEW,
        facts=(reason,) if is_measured else (reason, fact("room_copied_from_old_part")),
        required=strands,
        offered=rows,
        limit=room_mm,
        margin=round(room_mm - width_mm, 3),
        sources=(fact("width_over_rows"),),
    )


def _more_rows(strands: int, rows: int) -> Finding:
    return Finding(
        aspect=Aspect.STRANDS,
        outcome=Outcome.REVIEW,
        facts=(fact("rows_more_than_strands", strands=strands, rows=rows),),
        required=strands,
        offered=rows,
        limit=strands,
        margin=rows - strands,
        sources=(fact("wider_body"),),
    )


def _width_over_rows_mm(offered: Sprocket) -> float | None:
    if offered.chain is None or offered.strands is None or offered.chain.transverse_pitch_mm is None:
        return None
    tooth_mm = offered.chain.standard_tooth_width_mm(offered.strands)
    return width_over_strands_mm(
        tooth_mm, transverse_pitch_mm=offered.chain.transverse_pitch_mm, strands=offered.strands
    )
