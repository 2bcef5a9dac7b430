"""Metal can be taken away: pilot bores finished, finished bores opened, as far as the hub allows with its keyway.

Lengths in mm.
"""

from dataclasses import dataclass

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, WorkStep, compared, not_recorded
from inventory.interchange.key import (
    depth_not_known,
    keyseat_for,
    least_wall_mm,
    wall_over_keyseat_mm,
    wall_turns_on,
)
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, HubStyle, Operation, Outcome, ShaftKind

BORING_SOURCES = (
    fact("greatest_bore_as_recorded"),
    fact("wall_over_keyseat_formula"),
    fact("least_wall_judgement"),
)


@dataclass(frozen=True)
class _BoringLimits:
    """How far the hub can be opened for this shaft."""

    greatest_mm: float | None
    wall_mm: float | None
    least_wall_mm: float
    turns_on: tuple[Fact, ...] = ()
    sources: tuple[Fact, ...] = BORING_SOURCES

    @property
    def wall_facts(self) -> tuple[Fact, ...]:
        if self.wall_mm is None:
            return ()
        return (fact("wall_left_over_key", wall_mm=self.wall_mm, least_wall_mm=self.least_wall_mm),)


def bore_up(
    required: Requirement, offered: Sprocket, shaft: Shaft, practice: Practice
) -> tuple[Finding, ...]:
    """A round bore not larger than the shaft: bore, cut the keyseat, drill the set screws, where the wall allows."""
    if offered.bore_type is BoreType.SPLIT:
        return (_split_hub(shaft, offered),)
    if is_plate_on_key(required, offered, shaft):
        return (plate_on_key(shaft, practice),)
    limits = _boring_limits(offered, shaft, practice)
    refusal = _refusal(offered, shaft.diameter_mm or 0.0, limits, practice)
    if refusal is not None:
        return (refusal,)
    if shaft.kind is ShaftKind.KEYED and keyseat_for(shaft).width_mm is None:
        reason = fact("shaft_key_for_boring_not_recorded", shaft_mm=shaft.diameter_mm)
        return (not_recorded(Aspect.KEY, reason), _boring(offered, shaft, practice))
    return (_boring(offered, shaft, practice, limits), *_key_to_cut(shaft, offered))


def is_plate_on_key(required: Requirement, offered: Sprocket, shaft: Shaft) -> bool:
    """A plate where no plate is required: its side area is too small for a key."""
    return (
        offered.hub_style is HubStyle.A
        and shaft.kind is ShaftKind.KEYED
        and required.hub_style is not HubStyle.A
    )


def plate_on_key(shaft: Shaft, practice: Practice) -> Finding:
    """For review: a hub has to be welded or bolted on."""
    figures, sources = compared(shaft.diameter_mm, HubStyle.A.value), (fact("rules_h3_and_h4"),)
    facts = (fact("plate_too_thin_for_key"),)
    work = (practice.times.step(Operation.WELD_HUB, fact("weld_on_hub")),)
    return Finding(Aspect.MOUNTING, Outcome.REVIEW, facts, **figures, sources=sources, work=work)


def _key_to_cut(shaft: Shaft, offered: Sprocket) -> tuple[Finding, ...]:
    if shaft.kind is not ShaftKind.KEYED:
        return ()
    keyseat, source = keyseat_for(shaft), fact("key_as_recorded")
    if keyseat.hub_depth_mm is None:
        return (depth_not_known(keyseat),)
    if keyseat.standard:
        source = fact("key_table", standard=keyseat.standard.value)
    facts = (fact("keyseat_cut_to_shaft_key", **keyseat.values),)
    figures = compared(keyseat.width_mm, offered.keyway_width_mm, limit=keyseat.width_mm)
    sources = (source, *keyseat.depth_sources)
    return (Finding(Aspect.KEY, Outcome.WORK, facts, **figures, sources=sources),)


def _split_hub(shaft: Shaft, offered: Sprocket) -> Finding:
    facts = (fact("split_hub_to_open", bore_mm=offered.bore_mm),)
    figures = compared(shaft.diameter_mm, offered.bore_mm)
    return Finding(Aspect.MOUNTING, Outcome.REVIEW, facts, **figures)


def _boring_limits(offered: Sprocket, shaft: Shaft, practice: Practice) -> _BoringLimits:
    shaft_mm = shaft.diameter_mm or 0.0
    hubs = [size for size in (offered.hub_diameter_mm, offered.hub_diameter_2_mm) if size is not None]
    wall_mm = wall_over_keyseat_mm(min(hubs), shaft_mm, shaft) if hubs else None
    least_mm = least_wall_mm(shaft_mm, shaft, practice)
    if wall_mm is None:
        return _BoringLimits(offered.max_bore_mm, None, least_mm)
    sources = (*BORING_SOURCES, *keyseat_for(shaft).depth_sources)
    named = wall_turns_on(wall_mm, shaft_mm, shaft, practice)
    return _BoringLimits(offered.max_bore_mm, wall_mm, least_mm, named, sources)


def _refusal(offered: Sprocket, shaft_mm: float, limits: _BoringLimits, practice: Practice) -> Finding | None:
    greatest_mm, wall_mm = limits.greatest_mm, limits.wall_mm
    if greatest_mm is not None and practice.thresholds.is_larger(shaft_mm, greatest_mm):
        return _beyond_greatest_bore(offered, shaft_mm, greatest_mm)
    if wall_mm is not None and wall_mm < limits.least_wall_mm:
        return _thin_wall(offered, shaft_mm, limits, wall_mm)
    if greatest_mm is None and wall_mm is None:
        reason = fact("greatest_bore_not_recorded", bore_mm=offered.bore_mm, shaft_mm=shaft_mm)
        return not_recorded(Aspect.MOUNTING, reason, required=shaft_mm, offered=offered.bore_mm)
    return None


def _beyond_greatest_bore(offered: Sprocket, shaft_mm: float, greatest_mm: float) -> Finding:
    sizes = {"bore_mm": offered.bore_mm, "greatest_bore_mm": greatest_mm, "shaft_mm": shaft_mm}
    facts = (fact("shaft_beyond_greatest_bore", **sizes),)
    margin_mm = round(greatest_mm - shaft_mm, 4)
    figures = compared(shaft_mm, greatest_mm, limit=greatest_mm, margin=margin_mm)
    return Finding(Aspect.MOUNTING, Outcome.NO, facts, **figures, sources=BORING_SOURCES)


def _thin_wall(offered: Sprocket, shaft_mm: float, limits: _BoringLimits, wall_mm: float) -> Finding:
    maker_allows, least_mm = limits.greatest_mm is not None, limits.least_wall_mm
    walls = {"wall_mm": wall_mm, "least_wall_mm": least_mm}
    facts = [fact("wall_over_keyseat_too_thin", shaft_mm=shaft_mm, hub_mm=offered.widest_hub_mm, **walls)]
    if maker_allows:
        facts.append(fact("recorded_greatest_bore_allows_it", greatest_bore_mm=limits.greatest_mm))
    outcome = Outcome.REVIEW if maker_allows and wall_mm > 0 else Outcome.NO
    margin_mm = round(wall_mm - least_mm, 3)
    figures = compared(shaft_mm, offered.bore_mm, limit=round(least_mm, 3), margin=margin_mm)
    finding = Finding(Aspect.MOUNTING, outcome, tuple(facts), **figures, sources=limits.sources)
    return finding.for_review(*limits.turns_on) if limits.turns_on else finding


def _boring(
    offered: Sprocket, shaft: Shaft, practice: Practice, limits: _BoringLimits | None = None
) -> Finding:
    shaft_mm, steps = shaft.diameter_mm or 0.0, _boring_steps(offered, shaft, practice)
    greatest_mm = limits.greatest_mm if limits else None
    sizes = {"bore_mm": offered.bore_mm, "shaft_mm": shaft_mm}
    reason = fact("pilot_bore_fits_shaft", **sizes)
    if steps:
        code = "pilot_bore_to_finish" if offered.bore_type is BoreType.PLAIN else "bore_to_open"
        reason = fact(code, **sizes, steps=tuple(step.detail for step in steps))
    margin_mm = None if greatest_mm is None else round(greatest_mm - shaft_mm, 4)
    finding = Finding(
        Aspect.MOUNTING,
        Outcome.WORK if steps else Outcome.OK,
        (reason, *(limits.wall_facts if limits else ()), *_shop_time(steps)),
        **compared(shaft_mm, offered.bore_mm, limit=greatest_mm, margin=margin_mm),
        work=steps,
        sources=limits.sources if limits else BORING_SOURCES,
    )
    return finding.for_review(*limits.turns_on) if limits and limits.turns_on else finding


def _shop_time(steps: tuple[WorkStep, ...]) -> tuple[Fact, ...]:
    minutes = [step.minutes for step in steps if step.minutes is not None]
    if not steps or len(minutes) < len(steps):
        return ()
    basis = "estimate" if any(step.basis == "estimate" for step in steps) else "recorded"
    return (fact("shop_time", minutes=sum(minutes), basis=basis),)


def _boring_steps(offered: Sprocket, shaft: Shaft, practice: Practice) -> tuple[WorkStep, ...]:
    step = practice.times.step
    shaft_mm, bore_mm = shaft.diameter_mm or 0.0, offered.bore_mm or 0.0
    steps = []
    if practice.thresholds.is_larger(shaft_mm, bore_mm):
        steps.append(step(Operation.BORE, fact("bore_to_shaft", bore_mm=shaft_mm)))
    if shaft.kind is ShaftKind.KEYED:
        steps.append(step(Operation.CUT_KEYSEAT, _keyseat_step(offered, shaft)))
    if not offered.set_screws and offered.bore_type is BoreType.PLAIN:
        steps.append(step(Operation.DRILL_SET_SCREWS, fact("drill_set_screws")))
    return tuple(steps)


def _keyseat_step(offered: Sprocket, shaft: Shaft) -> Fact:
    keyseat = keyseat_for(shaft)
    code = "cut_second_keyseat" if offered.keyway_width_mm else "cut_keyseat"
    return fact(code, **keyseat.values)


def pilot_for_pilot(interface: Sprocket, offered: Sprocket, practice: Practice) -> Finding:
    """One pilot-bored part for another: not a larger pilot bore, not a smaller greatest bore."""
    required_mm, offered_mm = interface.bore_mm, offered.bore_mm
    sizes = {"bore_mm": offered_mm, "replaced_bore_mm": required_mm}
    if required_mm is None or offered_mm is None:
        reason = fact("pilot_bore_not_recorded", **sizes)
        return not_recorded(Aspect.MOUNTING, reason, required=required_mm, offered=offered_mm)
    outcome, reason = Outcome.OK, fact("pilot_bore_takes_same_shafts", **sizes)
    if practice.thresholds.is_larger(offered_mm, required_mm):
        outcome, reason = Outcome.NO, fact("pilot_bore_too_large", **sizes)
    elif _reaches_less(interface, offered, practice):
        return _smaller_greatest_bore(interface, offered)
    margin_mm = round(required_mm - offered_mm, 4)
    figures = compared(required_mm, offered_mm, limit=required_mm, margin=margin_mm)
    return Finding(Aspect.MOUNTING, outcome, (reason,), **figures)


def _reaches_less(interface: Sprocket, offered: Sprocket, practice: Practice) -> bool:
    required_mm, offered_mm = interface.max_bore_mm, offered.max_bore_mm
    if required_mm is None:
        return False
    return offered_mm is None or practice.thresholds.is_larger(required_mm, offered_mm)


def _smaller_greatest_bore(interface: Sprocket, offered: Sprocket) -> Finding:
    replaced_mm, offered_mm = interface.max_bore_mm, offered.max_bore_mm
    reason = fact("greatest_bore_to_compare_not_recorded", replaced_greatest_bore_mm=replaced_mm)
    if offered_mm is not None:
        sizes = {"greatest_bore_mm": offered_mm, "replaced_greatest_bore_mm": replaced_mm}
        reason = fact("greatest_bore_smaller", **sizes)
    return not_recorded(Aspect.MOUNTING, reason, required=replaced_mm, offered=offered_mm)
