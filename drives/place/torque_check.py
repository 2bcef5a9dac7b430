"""The torque of the drive through the candidate's bush and key."""

from typing import Any

from drives.chain.forces import design_power_kw, hub_torque_nm, key_bearing_mpa, shaft_torque_nm
from drives.place.duty import PlacedPart
from inventory.facts import Fact, fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.key import keyseat_for
from inventory.interchange.vocabulary import Aspect, Outcome, ShaftKind
from inventory.standards.bushes import Bush, UnknownBush, find_bush

SAME_SHARE = 1e-6
"""Two shares nearer than this are the same: the same formula on the same numbers."""


def check_torque(part: PlacedPart) -> tuple[Finding, ...]:
    torque_nm = (
        None if part.new_teeth is None else _design_torque_nm(part, part.driver_driven(part.new_teeth))
    )
    if torque_nm is None:
        return ()
    return _bush_torque(part, torque_nm) if is_bushed(part.offered) else _key_pressure(part, torque_nm)


def _design_torque_nm(part: PlacedPart, pair: tuple[float, float] | None) -> float | None:
    """Torque at this hub, with the service factor; the plain torque where no factor is recorded."""
    duty = part.duty
    if duty.power_kw is None or duty.speed_rpm is None or part.required.role is None:
        return None
    design_kw = design_power_kw(duty.power_kw, service_factor=duty.service_factor)
    torque_nm = shaft_torque_nm(design_kw, duty.speed_rpm)
    if not part.is_driven:
        return torque_nm
    return hub_torque_nm(torque_nm, teeth=pair[1], other_teeth=pair[0]) if pair else None


def _bush_torque(part: PlacedPart, torque_nm: float) -> tuple[Finding, ...]:
    size = part.offered.bush_size
    bush = _bush(size) if size else None
    if bush is None:
        return ()
    capacity_nm = _capacity_nm(bush)
    if capacity_nm is None:
        reason = fact("bush_torque_capacity_not_known", torque_nm=torque_nm, bush_size=size)
        return (not_required(Aspect.MOUNTING, reason),)
    torques = {"torque_nm": torque_nm, "bush_size": size, "capacity_nm": capacity_nm}
    holds = torque_nm <= capacity_nm
    if holds and part.duty.service_factor is None:
        return (not_required(Aspect.MOUNTING, fact("bush_torque_without_service_factor", **torques)),)
    margin, sources = round(capacity_nm - torque_nm, 1), (fact("document", title=bush.source),)
    figures = compared(round(torque_nm, 1), capacity_nm, limit=capacity_nm, margin=margin)
    if not holds:
        outcome, facts = _slips(part, torques, share=torque_nm / capacity_nm)
        return (Finding(Aspect.MOUNTING, outcome, facts, **figures, sources=sources),)
    carries = (fact("bush_carries_torque", **torques),)
    return (Finding(Aspect.MOUNTING, Outcome.OK, carries, **figures, sources=sources),)


def _slips(part: PlacedPart, torques: dict[str, Any], *, share: float) -> tuple[Outcome, tuple[Fact, ...]]:
    """Refused, save where the bush on the shaft always carried as much: then for an engineer."""
    reason, before = fact("bush_slips", **torques), _share_before(part)
    if before is None or share > before + SAME_SHARE:
        return Outcome.NO, (reason,)
    return Outcome.REVIEW, (reason, fact("bush_overloaded_already"))


def _share_before(part: PlacedPart) -> float | None:
    """Share of what the bush on the shaft carries; None where there is none, or its capacity is not known."""
    shaft = part.required.shaft or part.required.interface
    bush = _bush(shaft.bush_size) if shaft is not None and shaft.bush_size else None
    capacity_nm = _capacity_nm(bush) if bush else None
    torque_nm = _design_torque_nm(part, part.driver_driven_before)
    return torque_nm / capacity_nm if torque_nm is not None and capacity_nm else None


def _capacity_nm(bush: Bush) -> float | None:
    return None if "torque_capacity_nm" in bush.unseen_fields else bush.torque_capacity_nm


def _bush(size: str) -> Bush | None:
    try:
        return find_bush(size)
    except UnknownBush:
        return None


def _key_pressure(part: PlacedPart, torque_nm: float) -> tuple[Finding, ...]:
    """Pressure of the key in the hub keyway; for review above the plant's setting, never refused on it alone."""
    shaft, length_mm = part.required.shaft, part.offered.length_through_bore_mm
    bearing_length_mm = length_mm or _least_length_mm(part)
    if shaft is None or shaft.kind is not ShaftKind.KEYED or shaft.diameter_mm is None:
        return ()
    keyseat = keyseat_for(shaft)
    if bearing_length_mm is None or keyseat.width_mm is None:
        return ()
    if keyseat.hub_depth_mm is None:
        return (not_required(Aspect.MOUNTING, fact("key_pressure_depth_not_known", **keyseat.values)),)
    pressure_mpa = key_bearing_mpa(
        torque_nm,
        shaft_diameter_mm=shaft.diameter_mm,
        bearing_depth_mm=keyseat.hub_depth_mm,
        length_mm=bearing_length_mm,
    )
    limit_mpa = part.practice.thresholds.key_pressure_review_mpa
    named = part.practice.turns_on(lambda limit: pressure_mpa <= limit, "key_pressure_review_mpa")
    if pressure_mpa <= limit_mpa and not named:
        return ()
    torque = {"torque_nm": torque_nm, **keyseat.values}
    if length_mm is None:
        reason = fact("length_of_key_contact_not_recorded", **torque)
        return (not_recorded(Aspect.MOUNTING, reason, required=round(torque_nm, 1)).for_review(*named),)
    pressure = {"length_mm": length_mm, "pressure_mpa": pressure_mpa, "limit_mpa": limit_mpa}
    reason, margin = fact("key_pressure_high", **torque, **pressure), round(limit_mpa - pressure_mpa, 1)
    figures = compared(round(torque_nm, 1), round(pressure_mpa, 1), limit=limit_mpa, margin=margin)
    sources = (fact("key_pressure_formula"), fact("key_pressure_limit_from_memory"))
    return (Finding(Aspect.MOUNTING, Outcome.REVIEW, (reason, *named), **figures, sources=sources),)


def _least_length_mm(part: PlacedPart) -> float | None:
    """No hub is shorter than its teeth are wide."""
    chain = part.offered.chain
    return chain.standard_tooth_width_mm() if chain else None
