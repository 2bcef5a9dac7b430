"""Tooth count, part for part: equal, or free on an idler. A drive may accept another count; see `drives.place`."""

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_recorded
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, Outcome


def check_teeth(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """Equal passes; an idler's count is free above its least; anything else is a no for part against part."""
    unknown = _unknown(required, offered)
    if unknown is not None:
        return (not_recorded(Aspect.TEETH, unknown, required=required.teeth, offered=offered.teeth),)
    teeth = offered.teeth or 0
    if required.is_idler:
        return (_too_few_on_idler(required, teeth) or _on_idler(required, teeth, practice),)
    effective, wanted = offered.effective_teeth_under(required.chain), required.effective_teeth
    if wanted == effective:
        return (_equal(required.teeth or 0, teeth, effective),)
    reason = fact("teeth_differ", teeth=teeth, required_teeth=required.teeth)
    if effective != teeth or wanted != required.teeth:
        effects = {"effective_teeth": effective, "required_effective_teeth": wanted}
        reason = fact("teeth_differ_by_cut", teeth=teeth, **effects)
    return (_different(required.teeth or 0, teeth, reason),)


def _unknown(required: Requirement, offered: Sprocket) -> Fact | None:
    if offered.teeth is None:
        return fact("candidate_teeth_not_recorded")
    if required.is_idler:
        return None
    if required.teeth is None:
        return fact("position_teeth_not_recorded")
    if not _cut_matters(required, offered):
        return None
    if offered.single_cut is None:
        return fact("candidate_cut_not_recorded")
    return fact("position_cut_not_recorded") if required.single_cut is None else None


def _cut_matters(required: Requirement, offered: Sprocket) -> bool:
    """Double pitch, standard rollers: single or double cut decides what the count means."""
    chain, rim = required.chain, offered.chain
    if chain is None or rim is None:
        return False
    return chain.is_double_pitch and not chain.has_large_rollers and rim.is_double_pitch


def _equal(required: int, teeth: int, effective: float | None) -> Finding:
    reason = fact("teeth_equal", teeth=teeth)
    if teeth != required:
        reason = fact("teeth_equal_in_every_second_gap", teeth=teeth, effective_teeth=effective)
    figures = compared(required, teeth, limit=required, margin=0.0)
    return Finding(Aspect.TEETH, Outcome.OK, (reason,), **figures)


def _different(required: int, teeth: int, reason: Fact) -> Finding:
    figures = compared(required, teeth, limit=required, margin=float(-abs(teeth - required)))
    return Finding(Aspect.TEETH, Outcome.NO, (reason,), **figures, sources=(fact("ratio_of_teeth"),))


def _too_few_on_idler(required: Requirement, teeth: int) -> Finding | None:
    least = required.minimum_teeth
    if least is None or teeth >= least:
        return None
    facts = (fact("idler_teeth_too_few", teeth=teeth, least_teeth=least),)
    figures = compared(least, teeth, limit=least, margin=float(teeth - least))
    return Finding(Aspect.TEETH, Outcome.NO, facts, **figures, sources=(fact("least_teeth_of_position"),))


def _on_idler(required: Requirement, teeth: int, practice: Practice) -> Finding:
    """Free above the recorded least count; where none is recorded, above the usual one or what the idler has now."""

    def fewest(usual: int) -> int:
        return required.minimum_teeth or min(usual, required.teeth or usual)

    least = fewest(practice.thresholds.idler_least_teeth)
    named = practice.turns_on(lambda usual: teeth < fewest(usual), "idler_least_teeth")
    counts = {"teeth": teeth, "least_teeth": least}
    outcome, source = Outcome.OK, fact("idler_outside_ratio")
    if teeth < least:
        outcome, source = Outcome.REVIEW, fact("idler_teeth_from_memory")
        reason = fact("idler_teeth_few", **counts)
    elif required.teeth in (None, teeth):
        reason = fact("idler_teeth_free", **counts)
    else:
        reason = fact("idler_teeth_changed", **counts, required_teeth=required.teeth)
    figures = compared(required.teeth, teeth, limit=least, margin=float(teeth - least))
    finding = Finding(Aspect.TEETH, outcome, (reason,), **figures, sources=(source,))
    return finding.for_review(*named) if named else finding
