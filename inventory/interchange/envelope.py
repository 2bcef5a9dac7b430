"""Outside diameter and hub diameter against the room that guard and neighbours leave. Lengths in mm."""

from dataclasses import replace

from inventory.facts import fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.hub import STYLE_RULES
from inventory.interchange.key import least_wall_mm, wall_over_keyseat_mm
from inventory.interchange.requirement import Engagement, Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, HubStyle, Operation, Outcome
from inventory.standards.sizes import SAME_NOMINAL_TOLERANCE_MM
from inventory.standards.tooth_formulas import outside_diameter_mm, tip_diameter_max_mm, tip_diameter_min_mm

NEVER_TURNED = {HubStyle.SPLIT, HubStyle.D, HubStyle.FLANGED}


def check_envelope(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    envelope = required.envelope
    if envelope.outside_diameter_mm is None and envelope.hub_diameter_mm is None:
        return (not_required(Aspect.ENVELOPE, fact("position_room_not_recorded")),)
    return (*_outside_diameter(required, offered), *_hub_diameter(required, offered, practice))


def _outside_diameter(required: Requirement, offered: Sprocket) -> tuple[Finding, ...]:
    room_mm, chain, teeth = required.envelope.outside_diameter_mm, offered.chain, offered.teeth
    if room_mm is None:
        return ()
    if offered.outside_diameter_mm is not None:
        return (_against_room(required, "outside_diameter", offered.outside_diameter_mm, room_mm),)
    if chain is None or teeth is None or chain.is_double_pitch:
        reason = fact("outside_diameter_not_recorded", room_mm=room_mm)
        return (not_recorded(Aspect.ENVELOPE, reason, required=room_mm),)
    smallest_mm, largest_mm = _outside_range_mm(chain, teeth)
    if smallest_mm <= room_mm < largest_mm:
        sizes = {"smallest_mm": round(smallest_mm, 4), "largest_mm": round(largest_mm, 4)}
        reason = fact("outside_diameter_may_foul", teeth=teeth, **sizes, room_mm=room_mm)
        offered_mm = round(largest_mm, 2)
        return (not_recorded(Aspect.ENVELOPE, reason, required=room_mm, offered=offered_mm),)
    diameter_mm = largest_mm if largest_mm <= room_mm else smallest_mm
    return (_against_room(required, "computed_outside_diameter", diameter_mm, room_mm),)


def _outside_range_mm(chain: Engagement, teeth: int) -> tuple[float, float]:
    """The smallest and the largest that the standards allow for this tooth count."""
    sizes = {"teeth": teeth, "roller_diameter_mm": chain.roller_diameter_mm}
    largest_mm = max(tip_diameter_max_mm(chain.pitch_mm, **sizes), outside_diameter_mm(chain.pitch_mm, teeth))
    return tip_diameter_min_mm(chain.pitch_mm, **sizes), largest_mm


def _against_room(required: Requirement, diameter: str, given_mm: float, room_mm: float) -> Finding:
    excess_mm = round(given_mm - room_mm, 4)
    values = {"diameter": diameter, "diameter_mm": round(given_mm, 4)}
    outcome = Outcome.NO
    reason = fact("diameter_fouls_guard", **values, room_mm=room_mm, excess_mm=excess_mm)
    if room_mm - given_mm >= -SAME_NOMINAL_TOLERANCE_MM:
        outcome, reason = Outcome.OK, fact("diameter_fits", **values, room_mm=room_mm)
    elif not required.envelope.is_measured:
        outcome = Outcome.REVIEW
        reason = fact("diameter_exceeds_old_part", **values, excess_mm=excess_mm)
    figures = compared(room_mm, round(given_mm, 3), limit=room_mm, margin=round(room_mm - given_mm, 3))
    sources = (fact("room_as_recorded"), fact("iso_606_tip_diameters"))
    return Finding(Aspect.ENVELOPE, outcome, (reason,), **figures, sources=sources)


def _hub_diameter(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    room_mm, hub_mm = required.envelope.hub_diameter_mm, offered.widest_hub_mm
    if room_mm is None or offered.hub_style is HubStyle.A:
        return ()
    if hub_mm is None:
        reason = fact("hub_diameter_not_recorded", room_mm=room_mm)
        return (not_recorded(Aspect.ENVELOPE, reason, required=room_mm),)
    if hub_mm <= room_mm + practice.thresholds.bore_tolerance_mm:
        return (_against_room(required, "hub_diameter", hub_mm, room_mm),)
    if is_bushed(offered) or offered.hub_style in NEVER_TURNED:
        finding = _against_room(required, "hub_diameter", hub_mm, room_mm)
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
    figures = compared(room_mm, hub_mm, limit=room_mm, margin=round(room_mm - hub_mm, 3))
    if wall_mm >= least_mm:
        step = practice.times.step(Operation.TURN_HUB, fact("turn_hub_down", **sizes))
        facts = (fact("hub_to_turn_down", **sizes, wall_mm=round(wall_mm, 4)),)
        return Finding(Aspect.ENVELOPE, Outcome.WORK, facts, **figures, sources=STYLE_RULES, work=(step,))
    reason = fact("hub_without_wall_if_turned", **sizes, least_wall_mm=round(least_mm, 4))
    if wall_mm > 0:
        walls = {"wall_mm": round(wall_mm, 4), "least_wall_mm": round(least_mm, 4)}
        reason = fact("hub_wall_too_thin_to_turn", **sizes, **walls)
    outcome = Outcome.NO if required.envelope.is_measured else Outcome.REVIEW
    return Finding(Aspect.ENVELOPE, outcome, (reason,), **figures, sources=(fact("least_wall_judgement"),))
