"""Bushed hubs: the bush size must take the shaft, and the bush must be on the shaft or on the shelf. Lengths in mm."""

from dataclasses import dataclass
from typing import Any

from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, compared, not_recorded
from inventory.interchange.key import HubKeyseat, is_less_deep, keyseat_for
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, KeyStandard, Operation, Outcome, ShaftKind
from inventory.standards.bushes import (
    Bush,
    BushSubstitution,
    UnknownBush,
    bush_substitution,
    find_bush,
    needs_shallow_key,
)
from inventory.standards.keys import key_for_shaft
from inventory.standards.sizes import inch_text, same_nominal

SIZE_IDENTIFIES_CONE = fact("bush_size_identifies_cone")
SUBSTITUTION_OUTCOMES = {"same": Outcome.OK, "conditional": Outcome.REVIEW, "no": Outcome.NO}


@dataclass(frozen=True, kw_only=True)
class BushAtHand:
    """A bush on some shelf."""

    size: str
    bore_mm: float
    keyway_width_mm: float | None = None
    keyway_depth_mm: float | None = None
    key_standard: KeyStandard | None = None
    available: int = 1


@dataclass(frozen=True)
class BushesAtHand:
    """All bushes that are free on the shelves; given only where the shelves were checked."""

    bushes: tuple[BushAtHand, ...] = ()

    def of_size(self, size: str) -> tuple[BushAtHand, ...]:
        return tuple(b for b in self.bushes if b.size.upper() == size.upper() and b.available > 0)

    def with_bore(self, size: str, bore_mm: float, practice: Practice) -> tuple[BushAtHand, ...]:
        is_same_size = practice.thresholds.is_same_size
        return tuple(bush for bush in self.of_size(size) if is_same_size(bush.bore_mm, bore_mm))

    def bores_of(self, size: str) -> tuple[float, ...]:
        return tuple(sorted({bush.bore_mm for bush in self.of_size(size)}))


def is_bushed(offered: Sprocket) -> bool:
    return offered.bore_type in {BoreType.TAPERED, BoreType.QD}


def check_bushed(
    required: Requirement, offered: Sprocket, practice: Practice, bushes: BushesAtHand | None
) -> tuple[Finding, ...]:
    """A hub bored for a bush against the shaft, or against the bush that another part takes."""
    shaft, size = required.shaft, offered.bush_size
    if not size:
        return (not_recorded(Aspect.MOUNTING, fact("bush_size_not_recorded")),)
    fitted = shaft or required.interface
    fitted_size = fitted.bush_size if fitted else None
    if fitted_size and fitted_size.upper() == size.upper():
        return (_bush_stays(size),)
    if shaft is None or shaft.diameter_mm is None:
        return (_against_fitted_bush(fitted_size, size),)
    return _change_bush(size, fitted_size, shaft, practice, bushes)


def _bush_stays(size: str) -> Finding:
    facts = (fact("bush_stays", bush_size=size),)
    sources = (SIZE_IDENTIFIES_CONE, fact("taper_bush_installation_sheets"))
    return Finding(Aspect.MOUNTING, Outcome.OK, facts, required=size, offered=size, sources=sources)


def _against_fitted_bush(fitted_size: str | None, size: str) -> Finding:
    if not fitted_size:
        return not_recorded(Aspect.MOUNTING, fact("shaft_of_bush_not_recorded", bush_size=size), offered=size)
    pair = _substitution(fitted_size, size)
    if pair is None:
        reason = fact("bush_pair_not_in_tables", fitted_bush_size=fitted_size, bush_size=size)
        return not_recorded(Aspect.MOUNTING, reason, required=fitted_size, offered=size)
    outcome = SUBSTITUTION_OUTCOMES[pair.outcome]
    way_out = (fact("bush_of_own_size_may_fit"),) if outcome is Outcome.NO else ()
    facts, sources = (pair.reason, *way_out), (fact("document", title=pair.source),)
    return Finding(Aspect.MOUNTING, outcome, facts, required=fitted_size, offered=size, sources=sources)


def _substitution(fitted_size: str, size: str) -> BushSubstitution | None:
    try:
        return bush_substitution(fitted_size, size)
    except UnknownBush:
        return None


def _change_bush(
    size: str, fitted_size: str | None, shaft: Shaft, practice: Practice, bushes: BushesAtHand | None
) -> tuple[Finding, ...]:
    """Another bush has to go on: does the size exist for this shaft, and is one on a shelf?"""
    diameter_mm = shaft.diameter_mm or 0.0
    if bushes is None:
        out_of_reach = _check_bore_range(size, diameter_mm, practice)
        if out_of_reach is not None:
            return (out_of_reach,)
        fitting = _fit_bush(size, fitted_size, diameter_mm, practice, fact("bush_stock_not_checked"))
        return (fitting, *_check_bush_key(size, shaft, (), practice))
    on_shelf = bushes.with_bore(size, diameter_mm, practice)
    if not on_shelf:
        none_free = _not_on_shelf(size, diameter_mm, bushes, practice)
        return (_allowed_pair(fitted_size, size) or none_free,)
    fitting = _fit_bush(size, fitted_size, diameter_mm, practice, fact("bush_on_shelf"))
    return (fitting, *_check_bush_key(size, shaft, on_shelf, practice))


def _allowed_pair(fitted_size: str | None, size: str) -> Finding | None:
    """The bush on the shaft has the cone of this hub and another length: someone may allow it."""
    pair = _against_fitted_bush(fitted_size, size) if fitted_size else None
    return pair if pair is not None and pair.outcome is Outcome.REVIEW else None


def _fit_bush(
    size: str, fitted_size: str | None, diameter_mm: float, practice: Practice, stock: Fact
) -> Finding:
    detail = fact("fit_bush", bush_size=size, bore_mm=diameter_mm)
    if fitted_size:
        detail = fact("swap_bush", fitted_bush_size=fitted_size, bush_size=size, bore_mm=diameter_mm)
    return Finding(
        Aspect.MOUNTING,
        Outcome.WORK,
        (fact("bush_takes_shaft", bush_size=size, bore_mm=diameter_mm, step=detail), stock),
        **compared(diameter_mm, size),
        work=(practice.times.step(Operation.CHANGE_BUSH, detail),),
        sources=(fact("bush_bore_lists"), SIZE_IDENTIFIES_CONE),
    )


def _not_on_shelf(size: str, diameter_mm: float, bushes: BushesAtHand, practice: Practice) -> Finding:
    """Refused in any case; whether buying one would help depends on whether one is made."""
    out_of_reach = _check_bore_range(size, diameter_mm, practice)
    if out_of_reach is not None and out_of_reach.outcome is Outcome.NO:
        return out_of_reach
    way_out = out_of_reach.facts if out_of_reach else (fact("bush_has_to_be_bought"),)
    none_free = fact(
        "no_bush_on_shelf", bush_size=size, bore_mm=diameter_mm, free_bores_mm=bushes.bores_of(size)
    )
    figures, sources = compared(diameter_mm, size), (fact("bush_is_a_stock_item"),)
    return Finding(Aspect.MOUNTING, Outcome.NO, (none_free, *way_out), **figures, sources=sources)


def _check_bore_range(size: str, diameter_mm: float, practice: Practice) -> Finding | None:
    """None where a list of that size covers the shaft."""
    try:
        bush = find_bush(size)
    except UnknownBush:
        return _bore_range_not_known("bush_not_in_tables", size, diameter_mm)
    if bush.series == "qd" or not any(bores.is_confirmed for bores in bush.bore_ranges):
        return _bore_range_not_known("bush_bores_not_confirmed", size, diameter_mm)
    if any(
        _is_within(diameter_mm, bores.min_mm, bores.max_mm, practice)
        for bores in bush.bore_ranges
        if bores.is_confirmed
    ):
        return None
    least_mm = min(bores.min_mm for bores in bush.bore_ranges)
    most_mm = max(bores.max_mm for bores in bush.bore_ranges)
    if _is_within(diameter_mm, least_mm, most_mm, practice):
        return _bore_range_not_known("bush_bore_in_no_confirmed_list", size, diameter_mm)
    return _outside_bore_range(bush, size, diameter_mm, least_mm, most_mm)


def _is_within(diameter_mm: float, least_mm: float, most_mm: float, practice: Practice) -> bool:
    is_larger = practice.thresholds.is_larger
    return not is_larger(least_mm, diameter_mm) and not is_larger(diameter_mm, most_mm)


def _bore_range_not_known(code: str, size: str, diameter_mm: float) -> Finding:
    reason = fact(code, bush_size=size, bore_mm=diameter_mm)
    return not_recorded(Aspect.MOUNTING, reason, required=diameter_mm, offered=size)


def _outside_bore_range(
    bush: Bush, size: str, diameter_mm: float, least_mm: float, most_mm: float
) -> Finding:
    outcome, code = Outcome.REVIEW, "shaft_below_listed_bush_bores"
    limit_mm, margin_mm = least_mm, diameter_mm - least_mm
    if diameter_mm > most_mm:
        outcome, code = Outcome.NO, "shaft_too_large_for_bush"
        limit_mm, margin_mm = most_mm, most_mm - diameter_mm
    bores_mm = {"least_bore_mm": least_mm, "most_bore_mm": most_mm}
    return Finding(
        Aspect.MOUNTING,
        outcome,
        (fact(code, shaft_mm=diameter_mm, bush_size=size, **bores_mm),),
        **compared(diameter_mm, size, limit=limit_mm, margin=round(margin_mm, 3)),
        sources=tuple(dict.fromkeys(fact("document", title=bores.source) for bores in bush.bore_ranges)),
    )


def _check_bush_key(
    size: str, shaft: Shaft, on_shelf: tuple[BushAtHand, ...], practice: Practice
) -> tuple[Finding, ...]:
    """The bush carries its own keyway: of which standard, and is it a shallow one?"""
    if shaft.kind is not ShaftKind.KEYED or shaft.diameter_mm is None:
        return ()
    keyseat = keyseat_for(shaft)
    key_mm, is_same_size = keyseat.width_mm, practice.thresholds.is_same_size
    if key_mm is None:
        reason = fact("shaft_key_for_bush_not_recorded", shaft_mm=shaft.diameter_mm)
        return (not_recorded(Aspect.KEY, reason),)
    recorded_mm = [bush.keyway_width_mm for bush in on_shelf if bush.keyway_width_mm is not None]
    nearest_mm = min(recorded_mm, key=lambda width_mm: abs(width_mm - key_mm), default=None)
    if nearest_mm is not None and is_same_size(nearest_mm, key_mm):
        as_wide = [
            bush for bush in on_shelf if bush.keyway_width_mm and is_same_size(bush.keyway_width_mm, key_mm)
        ]
        return (_deepest_keyway(size, shaft.diameter_mm, keyseat, as_wide),)
    if nearest_mm is not None and len(recorded_mm) == len(on_shelf):
        reason = fact("shelf_bush_keyway_differs", keyway_mm=nearest_mm, key_mm=key_mm)
        return (_recorded_keyway(Outcome.NO, reason, compared(key_mm, nearest_mm, limit=key_mm)),)
    return (_listed_keyway(size, shaft.diameter_mm, keyseat),)


def _deepest_keyway(size: str, diameter_mm: float, keyseat: HubKeyseat, as_wide: list[BushAtHand]) -> Finding:
    """The width fits; in the largest bores of a size the keyway is less deep than the key on the shaft needs."""
    key_mm, needed_mm = keyseat.width_mm or 0.0, keyseat.hub_depth_mm
    recorded_mm = [bush.keyway_depth_mm for bush in as_wide if bush.keyway_depth_mm is not None]
    deepest_mm = max(recorded_mm, default=None)
    is_shallow = deepest_mm is not None and needed_mm is not None and is_less_deep(deepest_mm, needed_mm)
    if is_shallow and len(recorded_mm) == len(as_wide):
        reason = fact("shelf_bush_keyway_shallow", depth_mm=deepest_mm, needed_depth_mm=needed_mm)
        return _recorded_keyway(Outcome.REVIEW, reason, compared(needed_mm, deepest_mm, limit=needed_mm))
    if deepest_mm is None or is_shallow:
        listed, own = _listed_keyway(size, diameter_mm, keyseat), {bush.key_standard for bush in as_wide}
        code = listed.facts[0].code
        if code == "bush_keyway_shallow" or (code == "bush_keyway_less_deep" and keyseat.standard not in own):
            return listed
    reason = fact("shelf_bush_keyway_fits", keyway_mm=key_mm)
    return _recorded_keyway(Outcome.OK, reason, compared(key_mm, key_mm, limit=key_mm))


def _recorded_keyway(outcome: Outcome, reason: Fact, figures: dict[str, Any]) -> Finding:
    sources = (fact("bush_keyway_as_recorded"), fact("bs_46_keyways_in_european_inch_bushes"))
    return Finding(Aspect.KEY, outcome, (reason,), **figures, sources=sources)


def _listed_keyway(size: str, diameter_mm: float, keyseat: HubKeyseat) -> Finding:
    key_mm, shallow = keyseat.width_mm or 0.0, _is_shallow(size, diameter_mm)
    if shallow is None:
        reason = fact("bush_keyway_depth_not_listed", bush_size=size, bore_mm=diameter_mm)
        return not_recorded(Aspect.KEY, reason, required=key_mm)
    if not shallow:
        return _usual_keyway(diameter_mm, keyseat)
    reason = fact("bush_keyway_shallow", bush_size=size, bore_mm=diameter_mm)
    figures, sources = compared(key_mm, "shallow"), (fact("shallow_keyways_of_bush_lists"),)
    return Finding(Aspect.KEY, Outcome.REVIEW, (reason,), **figures, sources=sources)


def _usual_keyway(diameter_mm: float, keyseat: HubKeyseat) -> Finding:
    """BS 46 and ASME B17.1 share some widths, as at 1 1/2 in, where the keyways of BS 46 are less deep."""
    key_mm, needed_mm = keyseat.width_mm or 0.0, keyseat.hub_depth_mm
    is_inch_bore = bool(inch_text(diameter_mm))
    standard = KeyStandard.BS_46 if is_inch_bore else KeyStandard.ISO_773
    usual = key_for_shaft(diameter_mm, standard.value)
    if usual is None or same_nominal(usual.width_mm, key_mm):
        depth_mm = None if usual is None else usual.hub_depth_mm
        if depth_mm is not None and needed_mm is not None and is_less_deep(depth_mm, needed_mm):
            return _less_deep(depth_mm, needed_mm, standard)
        facts = (fact("bush_keyway_as_listed", keyway_mm=key_mm),)
        figures = compared(key_mm, key_mm, limit=key_mm)
        return Finding(Aspect.KEY, Outcome.OK, facts, **figures, sources=(fact("keyways_of_bush_lists"),))
    code = "inch_bush_keyway_differs" if is_inch_bore else "metric_bush_keyway_differs"
    reason = fact(code, key_mm=key_mm, keyway_mm=usual.width_mm, key_standard=standard.value)
    figures = compared(key_mm, usual.width_mm, limit=key_mm)
    sources = (fact("keyways_of_bush_lists"), fact("keyway_standards_of_bush_bores"))
    return Finding(Aspect.KEY, Outcome.REVIEW, (reason,), **figures, sources=sources)


def _less_deep(depth_mm: float, needed_mm: float, standard: KeyStandard) -> Finding:
    depths = {"depth_mm": depth_mm, "needed_depth_mm": needed_mm}
    reason = fact("bush_keyway_less_deep", **depths, key_standard=standard.value)
    figures = compared(needed_mm, depth_mm, limit=needed_mm)
    sources = (fact("keyways_of_bush_lists"), fact("keyway_standards_of_bush_bores"))
    return Finding(Aspect.KEY, Outcome.REVIEW, (reason,), **figures, sources=sources)


def _is_shallow(size: str, diameter_mm: float) -> bool | None:
    try:
        return needs_shallow_key(size, diameter_mm)
    except UnknownBush:
        return None
