"""The wheel with its chain, and its hub, against the room that guard and neighbours leave. Lengths in mm."""

from dataclasses import replace

from inventory.facts import fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.hub import STYLE_RULES, copied_room
from inventory.interchange.key import least_wall_mm, wall_over_keyseat_mm, wall_turns_on
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.tip_diameter import tip_range_mm
from inventory.interchange.vocabulary import Aspect, HubStyle, Operation, Outcome
from inventory.standards.tooth_formulas import chain_on_wheel_mm

TALLEST_PLATE_SHARE = 0.951
"""Of the pitch: no plate in the chain tables is taller."""

NEVER_TURNED = {HubStyle.SPLIT, HubStyle.D, HubStyle.FLANGED}


def check_envelope(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    envelope = required.envelope
    if envelope.outside_diameter_mm is None and envelope.hub_diameter_mm is None:
        return (not_required(Aspect.ENVELOPE, fact("position_room_not_recorded")),)
    return (*_outside_diameter(required, offered, practice), *_hub_diameter(required, offered, practice))


def _outside_diameter(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    """The bare wheel against an old part; under a guard the chain on the wheel as well, whichever is greater."""
    room_mm = required.envelope.outside_diameter_mm
    if room_mm is None:
        return ()
    bare = _bare_wheel(required, offered, practice, room_mm)
    if not required.envelope.is_measured and not _is_more_than_a_wheel(required, practice, room_mm):
        return (bare,)
    with_chain = _with_chain(required, offered, practice, room_mm)
    if with_chain is None:
        return (bare, not_recorded(Aspect.ENVELOPE, fact("chain_on_wheel_not_known"), required=room_mm))
    return (
        (with_chain,) if bare.outcome is Outcome.OK and _is_smaller(bare, with_chain) else (bare, with_chain)
    )


def _is_more_than_a_wheel(required: Requirement, practice: Practice, room_mm: float) -> bool:
    """A room that no wheel of these teeth fills was not copied from one, even where nobody says who measured it."""
    chain, teeth = required.chain, required.teeth
    if required.interface is not None or chain is None or teeth is None or chain.is_double_pitch:
        return False
    return room_mm > tip_range_mm(chain, teeth)[1] + practice.thresholds.measuring_uncertainty_mm


def _is_smaller(one: Finding, other: Finding) -> bool:
    return (
        isinstance(one.offered, float) and isinstance(other.offered, float) and one.offered <= other.offered
    )


def _bare_wheel(required: Requirement, offered: Sprocket, practice: Practice, room_mm: float) -> Finding:
    tips_mm = _tips_mm(offered)
    if tips_mm is None:
        reason = fact("outside_diameter_not_recorded", room_mm=room_mm)
        return not_recorded(Aspect.ENVELOPE, reason, required=room_mm)
    smallest_mm, largest_mm = tips_mm
    is_within_room = practice.thresholds.is_within_room
    if is_within_room(smallest_mm, room_mm) and not is_within_room(largest_mm, room_mm):
        sizes = {"smallest_mm": round(smallest_mm, 4), "largest_mm": round(largest_mm, 4)}
        reason = fact("outside_diameter_may_foul", teeth=offered.teeth, **sizes, room_mm=room_mm)
        return not_recorded(Aspect.ENVELOPE, reason, required=room_mm, offered=round(largest_mm, 2))
    diameter = "outside_diameter" if offered.outside_diameter_mm is not None else "computed_outside_diameter"
    diameter_mm = largest_mm if is_within_room(largest_mm, room_mm) else smallest_mm
    return _against_room(required, practice, diameter, diameter_mm, room_mm)


def _tips_mm(offered: Sprocket) -> tuple[float, float] | None:
    """Over the tips: as recorded, else the smallest and the largest that the standards allow for this tooth count."""
    chain, teeth = offered.chain, offered.teeth
    if offered.outside_diameter_mm is not None:
        return offered.outside_diameter_mm, offered.outside_diameter_mm
    if chain is None or teeth is None or chain.is_double_pitch:
        return None
    return tip_range_mm(chain, teeth)


def _with_chain(
    required: Requirement, offered: Sprocket, practice: Practice, room_mm: float
) -> Finding | None:
    """None where chain or teeth are not known. A plate height that was never seen in a source refuses nothing."""
    chain = required.chain or offered.chain
    teeth = offered.effective_teeth_under(chain)
    if chain is None or teeth is None:
        return None
    if chain.plate_height_mm is not None and "plate_height_mm" not in chain.unseen_fields:
        over_mm = chain_on_wheel_mm(chain.pitch_mm, teeth=teeth, plate_height_mm=chain.plate_height_mm)
        return _against_room(required, practice, "chain_on_wheel", over_mm, room_mm)
    height_mm = TALLEST_PLATE_SHARE * chain.pitch_mm / (2 if chain.is_double_pitch else 1)
    over_mm = chain_on_wheel_mm(chain.pitch_mm, teeth=teeth, plate_height_mm=height_mm)
    if practice.thresholds.is_within_room(over_mm, room_mm):
        return _against_room(required, practice, "tallest_chain_on_wheel", over_mm, room_mm)
    reason = fact("plate_height_not_recorded", chain=chain.name, most_mm=round(over_mm, 4), room_mm=room_mm)
    return not_recorded(Aspect.ENVELOPE, reason, required=room_mm, offered=round(over_mm, 3))


def _against_room(
    required: Requirement, practice: Practice, diameter: str, given_mm: float, room_mm: float
) -> Finding:
    left_mm = round(room_mm - given_mm, 4)
    values = {"diameter": diameter, "diameter_mm": round(given_mm, 4)}
    outcome, facts = Outcome.NO, [fact("diameter_fouls_guard", **values, room_mm=room_mm, excess_mm=-left_mm)]
    if practice.thresholds.is_within_room(given_mm, room_mm):
        outcome, facts = Outcome.OK, [fact("diameter_fits", **values, room_mm=room_mm)]
        is_under_guard = "chain" in diameter or (required.envelope.is_measured and diameter != "hub_diameter")
        if is_under_guard and left_mm <= practice.thresholds.narrow_room_mm:
            facts.append(fact("little_room_under_guard", left_mm=max(left_mm, 0.0)))
    elif not required.envelope.is_measured:
        outcome = Outcome.REVIEW
        code = "chain_exceeds_unmeasured_room" if "chain" in diameter else "diameter_exceeds_old_part"
        facts = [fact(code, **values, room_mm=room_mm, excess_mm=-left_mm)]
    figures = compared(room_mm, round(given_mm, 3), limit=room_mm, margin=round(left_mm, 3))
    formula = fact("chain_on_wheel_formula") if "chain" in diameter else fact("iso_606_tip_diameters")
    return Finding(
        Aspect.ENVELOPE, outcome, tuple(facts), **figures, sources=(fact("room_as_recorded"), formula)
    )


def _hub_diameter(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    room_mm, hub_mm = required.envelope.hub_diameter_mm, offered.widest_hub_mm
    if room_mm is None or offered.hub_style is HubStyle.A:
        return ()
    if hub_mm is None:
        reason = fact("hub_diameter_not_recorded", room_mm=room_mm)
        return (not_recorded(Aspect.ENVELOPE, reason, required=room_mm),)
    if practice.thresholds.is_within_room(hub_mm, room_mm):
        return (_against_room(required, practice, "hub_diameter", hub_mm, room_mm),)
    if is_bushed(offered) or offered.hub_style in NEVER_TURNED:
        finding = _against_room(required, practice, "hub_diameter", hub_mm, room_mm)
        return (replace(finding, facts=(*finding.facts, fact("hub_never_turned_down"))),)
    return (_turned_down(required, offered, practice, room_mm, hub_mm),)


def _turned_down(
    required: Requirement, offered: Sprocket, practice: Practice, room_mm: float, hub_mm: float
) -> Finding:
    """Turned down where enough wall stays over the keyseat of this shaft."""
    sizes, shaft = {"hub_mm": hub_mm, "room_mm": room_mm}, required.shaft
    if offered.hub_style is None or shaft is None or shaft.diameter_mm is None:
        code = "hub_to_turn_down_shaft_not_recorded"
        if offered.hub_style is None:
            code = "hub_to_turn_down_style_not_recorded"
        return not_recorded(Aspect.ENVELOPE, fact(code, **sizes), required=room_mm, offered=hub_mm)
    wall_mm = wall_over_keyseat_mm(room_mm, shaft.diameter_mm, shaft)
    least_mm = least_wall_mm(shaft.diameter_mm, shaft, practice)
    named = wall_turns_on(wall_mm, shaft.diameter_mm, shaft, practice)
    finding = _with_wall(required, practice, sizes, wall_mm=wall_mm, least_mm=least_mm)
    return finding.for_review(*named) if named else finding


def _with_wall(
    required: Requirement, practice: Practice, sizes: dict[str, float], *, wall_mm: float, least_mm: float
) -> Finding:
    hub_mm, room_mm = sizes["hub_mm"], sizes["room_mm"]
    figures = compared(room_mm, hub_mm, limit=room_mm, margin=round(room_mm - hub_mm, 3))
    if wall_mm >= least_mm:
        step = practice.times.step(Operation.TURN_HUB, fact("turn_hub_down", **sizes))
        facts = (fact("hub_to_turn_down", **sizes, wall_mm=round(wall_mm, 4)), *copied_room(required))
        return Finding(Aspect.ENVELOPE, Outcome.WORK, facts, **figures, sources=STYLE_RULES, work=(step,))
    reason = fact("hub_without_wall_if_turned", **sizes, least_wall_mm=round(least_mm, 4))
    if wall_mm > 0:
        walls = {"wall_mm": round(wall_mm, 4), "least_wall_mm": round(least_mm, 4)}
        reason = fact("hub_wall_too_thin_to_turn", **sizes, **walls)
    outcome = Outcome.NO if required.envelope.is_measured else Outcome.REVIEW
    facts = (reason, *copied_room(required))
    return Finding(Aspect.ENVELOPE, outcome, facts, **figures, sources=(fact("least_wall_judgement"),))
