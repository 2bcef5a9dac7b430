"""The torque of the drive through the candidate's bush and key."""

from drives.chain.forces import design_power_kw, hub_torque_nm, key_bearing_mpa, shaft_torque_nm
from drives.place.duty import PlacedPart
from inventory.facts import fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.key import keyseat_for
from inventory.interchange.vocabulary import Aspect, Outcome, ShaftKind
from inventory.standards.bushes import Bush, UnknownBush, find_bush


def check_torque(part: PlacedPart) -> tuple[Finding, ...]:
    torque_nm = _design_torque_nm(part)
    if torque_nm is None:
        return ()
    return _bush_torque(part, torque_nm) if is_bushed(part.offered) else _key_pressure(part, torque_nm)


def _design_torque_nm(part: PlacedPart) -> float | None:
    """Torque at this hub, with the service factor; the plain torque where no factor is recorded."""
    duty, teeth = part.duty, part.new_teeth
    if duty.power_kw is None or duty.speed_rpm is None or teeth is None or part.required.role is None:
        return None
    design_kw = design_power_kw(duty.power_kw, service_factor=duty.service_factor)
    torque_nm = shaft_torque_nm(design_kw, duty.speed_rpm)
    if not part.is_driven:
        return torque_nm
    return hub_torque_nm(torque_nm, teeth=teeth, other_teeth=duty.mating_teeth) if duty.mating_teeth else None


def _bush_torque(part: PlacedPart, torque_nm: float) -> tuple[Finding, ...]:
    size = part.offered.bush_size
    bush = _bush(size) if size else None
    if bush is None:
        return ()
    capacity_nm = None if "torque_capacity_nm" in bush.unseen_fields else bush.torque_capacity_nm
    if capacity_nm is None:
        reason = fact("bush_torque_capacity_not_known", torque_nm=torque_nm, bush_size=size)
        return (not_required(Aspect.MOUNTING, reason),)
    torques = {"torque_nm": torque_nm, "bush_size": size, "capacity_nm": capacity_nm}
    holds = torque_nm <= capacity_nm
    if holds and part.duty.service_factor is None:
        return (not_required(Aspect.MOUNTING, fact("bush_torque_without_service_factor", **torques)),)
    margin, sources = round(capacity_nm - torque_nm, 1), (fact("document", title=bush.source),)
    figures = compared(round(torque_nm, 1), capacity_nm, limit=capacity_nm, margin=margin)
    outcome = Outcome.OK if holds else Outcome.NO
    reason = fact("bush_carries_torque" if holds else "bush_slips", **torques)
    return (Finding(Aspect.MOUNTING, outcome, (reason,), **figures, sources=sources),)


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
    pressure_mpa = key_bearing_mpa(
        torque_nm,
        shaft_diameter_mm=shaft.diameter_mm,
        bearing_depth_mm=keyseat.hub_depth_mm,
        length_mm=bearing_length_mm,
    )
    limit_mpa = part.practice.thresholds.key_pressure_review_mpa
    if pressure_mpa <= limit_mpa:
        return ()
    torque = {"torque_nm": torque_nm, **keyseat.values}
    if length_mm is None:
        reason = fact("length_of_key_contact_not_recorded", **torque)
        return (not_recorded(Aspect.MOUNTING, reason, required=round(torque_nm, 1)),)
    pressure = {"length_mm": length_mm, "pressure_mpa": pressure_mpa, "limit_mpa": limit_mpa}
    reason, margin = fact("key_pressure_high", **torque, **pressure), round(limit_mpa - pressure_mpa, 1)
    figures = compared(round(torque_nm, 1), round(pressure_mpa, 1), limit=limit_mpa, margin=margin)
    sources = (fact("key_pressure_formula"), fact("key_pressure_limit_from_memory"))
    return (Finding(Aspect.MOUNTING, Outcome.REVIEW, (reason,), **figures, sources=sources),)


def _least_length_mm(part: PlacedPart) -> float | None:
    """No hub is shorter than its teeth are wide."""
    chain = part.offered.chain
    return chain.standard_tooth_width_mm() if chain else None
