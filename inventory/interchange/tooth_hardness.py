"""Hardened teeth where they are required. Rules T1 to T4 of common practice."""

from inventory.facts import Fact, fact
from inventory.interchange.findings import JUDGEMENT, Finding, compared, not_recorded, not_required
from inventory.interchange.material import RULE_FROM_MEMORY
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, Environment, Material, Outcome

FROM_MEMORY, TRADE_PAGES = fact("abrasive_rule_from_memory"), fact("hardened_teeth_trade_pages")


def check_tooth_hardness(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    if required.hardened_teeth:
        return (_required(required, offered),)
    if required.hardened_teeth is not None:
        return (_not_required(offered),)
    if Environment.ABRASIVE in required.environment:
        return (_in_abrasive_place(offered),)
    return (not_required(Aspect.TOOTH_HARDNESS, fact("position_hardness_not_recorded")),)


def _required(required: Requirement, offered: Sprocket) -> Finding:
    """Teeth that are too soft are for review: for a short time they may do."""
    hardened, material = offered.hardened_teeth, offered.material
    never_hard = material in {Material.STAINLESS_STEEL, Material.PLASTIC}
    if never_hard and not (hardened and material is required.material):
        reason = fact("teeth_cannot_be_hardened", material=str(material))
        return _finding(Outcome.REVIEW, reason, required=True, offered=hardened, source=TRADE_PAGES)
    if hardened is None:
        return not_recorded(Aspect.TOOTH_HARDNESS, fact("candidate_hardness_not_recorded"), required=True)
    if not hardened:
        reason = fact("teeth_not_hardened")
        return _finding(Outcome.REVIEW, reason, required=True, offered=False, source=TRADE_PAGES)
    return _finding(Outcome.OK, fact("teeth_hardened"), required=True, offered=True)


def _not_required(offered: Sprocket) -> Finding:
    reason = fact("hardening_beyond_requirement" if offered.hardened_teeth else "hardening_not_required")
    return _finding(Outcome.OK, reason, required=False, offered=offered.hardened_teeth)


def _in_abrasive_place(offered: Sprocket) -> Finding:
    """Nothing says what the teeth must be, but the place is abrasive: soft teeth are for review, never refused."""
    hardened, place = offered.hardened_teeth, Environment.ABRASIVE.value
    if hardened is None:
        return not_recorded(Aspect.TOOTH_HARDNESS, fact("abrasive_hardness_not_recorded"), required=place)
    if hardened:
        reason = fact("abrasive_teeth_hardened")
        return _finding(Outcome.OK, reason, required=place, offered=True, source=FROM_MEMORY)
    reason = fact("abrasive_teeth_not_hardened")
    soft = _finding(Outcome.REVIEW, reason, required=place, offered=False, source=FROM_MEMORY)
    return soft.for_review(RULE_FROM_MEMORY)


def _finding(
    outcome: Outcome,
    reason: Fact,
    *,
    required: bool | str,
    offered: bool | None,
    source: Fact = JUDGEMENT,
) -> Finding:
    figures = compared(required, offered)
    return Finding(Aspect.TOOTH_HARDNESS, outcome, (reason,), **figures, sources=(source,))
