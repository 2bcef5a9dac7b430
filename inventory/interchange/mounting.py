"""Does it go on the shaft? Shaft kind against bore type; the bore, the bush, and what the lathe can do. Lengths in mm."""

from dataclasses import replace

from inventory.facts import Fact, fact
from inventory.interchange.bushing import BushesAtHand, check_bushed, is_bushed
from inventory.interchange.findings import Figure, Finding, compared, not_recorded
from inventory.interchange.key import check_key
from inventory.interchange.named_sizes import NamedSize, size_by_name
from inventory.interchange.reboring import bore_up, is_plate_on_key, pilot_for_pilot, plate_on_key
from inventory.interchange.requirement import Requirement, Shaft, Sprocket
from inventory.interchange.thresholds import Practice, Thresholds
from inventory.interchange.vocabulary import Aspect, BoreType, Operation, Outcome, PositionRole, ShaftKind
from inventory.standards.bearings import usual_bearing

ROUND_BORES = frozenset({BoreType.PLAIN, BoreType.FINISHED, BoreType.SPLIT})
MOUNTING_FIELDS = (
    "bore_type",
    "bore_mm",
    "keyway_width_mm",
    "keyway_depth_mm",
    "key_standard",
    "bush_size",
    "hex_across_flats_mm",
)
LOOKS_LIKE_A_FIT_MM = 1.0
"""A bore less than this too large slides on and looks right. Judgement."""


def check_mounting(
    required: Requirement, offered: Sprocket, practice: Practice, bushes: BushesAtHand | None = None
) -> tuple[Finding, ...]:
    """Mounting and key: bore, bush, hex or bearing against the shaft or the pin of the position."""
    if offered.bore_type is None:
        return (not_recorded(Aspect.MOUNTING, fact("bore_type_not_recorded")),)
    if _is_same_mounting(required.interface, offered):
        same = _ok(fact("same_mounting", **_bore_values(offered)))
        # Two equal idlers at a driven position: a bearing bore carries no torque.
        return (same, _bearing_on_power()) if _is_bearing_on_power(required, offered) else (same,)
    if offered.bore_type is BoreType.BEARING and not _turns_free(required):
        return (_bearing_on_power(),)
    if required.shaft is None:
        return _without_shaft(required, offered, practice)
    return _on_shaft(required, offered, required.shaft, practice, bushes)


def _on_shaft(
    required: Requirement,
    offered: Sprocket,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    match shaft.kind:
        case ShaftKind.HEX:
            return (_on_hex(offered, shaft, practice),)
        case ShaftKind.SPLINE:
            return (_no(fact("spline_needs_same_spline"), "spline", _word(offered)),)
        case ShaftKind.PIN:
            return (_on_pin(offered, shaft, practice),)
    if is_bushed(offered):
        return check_bushed(required, offered, practice, bushes)
    if shaft.kind is ShaftKind.PLAIN and offered.bore_type is BoreType.BEARING:
        return (_bearing_on_pin(offered, shaft, practice), _bearing_on_plain_shaft())
    if offered.bore_type not in ROUND_BORES:
        return (_wrong_form(offered, shaft),)
    bored = _round_on_round(required, offered, shaft, practice)
    return bored if shaft.kind is ShaftKind.KEYED else (*bored, *_held_without_key(offered))


def _turns_free(required: Requirement) -> bool:
    return required.is_idler or (
        required.role is None and required.shaft is not None and required.shaft.kind is ShaftKind.PIN
    )


def _is_bearing_on_power(required: Requirement, offered: Sprocket) -> bool:
    return offered.bore_type is BoreType.BEARING and required.role in {
        PositionRole.DRIVER,
        PositionRole.DRIVEN,
    }


def _is_same_mounting(interface: Sprocket | None, offered: Sprocket) -> bool:
    """Equal in all that this bore type needs, and all of it recorded: two blanks are not equal."""
    return (
        interface is not None
        and _is_mounting_recorded(offered)
        and all(getattr(interface, name) == getattr(offered, name) for name in MOUNTING_FIELDS)
    )


def _is_mounting_recorded(offered: Sprocket) -> bool:
    """A pilot bore is judged by its reach, so it is never equal by its fields alone."""
    if is_bushed(offered):
        return bool(offered.bush_size)
    if offered.bore_type is BoreType.HEX:
        return offered.hex_across_flats_mm is not None
    if offered.bore_type is BoreType.BEARING:
        return offered.bore_mm is not None
    held = offered.keyway_width_mm is not None or bool(offered.set_screws)
    return offered.bore_type is not BoreType.PLAIN and offered.bore_mm is not None and held


def _ok(reason: Fact) -> Finding:
    return Finding(Aspect.MOUNTING, Outcome.OK, (reason,))


def _no(reason: Fact, required: Figure, offered: Figure) -> Finding:
    return Finding(Aspect.MOUNTING, Outcome.NO, (reason,), required=required, offered=offered)


def _word(offered: Sprocket) -> str | None:
    return offered.bore_type.value if offered.bore_type else None


def _bore_values(offered: Sprocket) -> dict[str, str | float | None]:
    """What a fact says about the candidate's bore."""
    if is_bushed(offered):
        return {"bore_type": _word(offered), "bush_size": offered.bush_size}
    return {"bore_type": _word(offered), "bore_mm": offered.bore_mm}


def _size(offered: Sprocket) -> Figure:
    """What the candidate's bore comes down to: the bush, the diameter, or at least its type."""
    return (offered.bush_size if is_bushed(offered) else offered.bore_mm) or _word(offered)


def _bearing_on_power() -> Finding:
    return _no(fact("bearing_carries_no_torque"), "torque", BoreType.BEARING.value)


def _wrong_form(offered: Sprocket, shaft: Shaft) -> Finding:
    reason = fact("bore_does_not_suit_shaft", shaft_kind=shaft.kind.value, **_bore_values(offered))
    return _no(reason, shaft.kind.value, _word(offered))


def _without_shaft(required: Requirement, offered: Sprocket, practice: Practice) -> tuple[Finding, ...]:
    interface = required.interface
    if interface is not None and interface.bore_type is offered.bore_type is BoreType.PLAIN:
        return (pilot_for_pilot(interface, offered, practice),)
    if interface is None or not is_bushed(interface):
        reason = fact("shaft_not_recorded", **_bore_values(offered))
        return (not_recorded(Aspect.MOUNTING, reason, offered=_size(offered)),)
    if is_bushed(offered):
        return check_bushed(required, offered, practice, None)
    # The part it replaces sits on a bush, so the shaft is round; its diameter is not known.
    fitted = interface.bush_size
    if offered.bore_type not in ROUND_BORES:
        reason = fact("bore_does_not_suit_round_shaft", **_bore_values(offered))
        return (_no(reason, fitted, _word(offered)),)
    reason = fact("bored_hub_replaces_bush", fitted_bush_size=fitted, **_bore_values(offered))
    return (not_recorded(Aspect.MOUNTING, reason, required=fitted, offered=_size(offered)),)


def _bearing_on_plain_shaft() -> Finding:
    figures = compared(ShaftKind.PLAIN.value, BoreType.BEARING.value)
    return Finding(Aspect.MOUNTING, Outcome.REVIEW, (fact("bearing_on_plain_shaft"),), **figures)


def _held_without_key(offered: Sprocket) -> tuple[Finding, ...]:
    """A pilot bore gets its set screws in the shop; a bore that is finished shows how it holds, or somebody looks."""
    plain = ShaftKind.PLAIN.value
    if offered.keyway_width_mm is not None:
        reason = fact("no_key_on_shaft", keyway_mm=offered.keyway_width_mm)
        figures, sources = compared(plain, ShaftKind.KEYED.value), (fact("rule_h10"),)
        return (Finding(Aspect.MOUNTING, Outcome.REVIEW, (reason,), **figures, sources=sources),)
    if offered.set_screws or offered.bore_type is BoreType.PLAIN:
        return ()
    return (not_recorded(Aspect.MOUNTING, fact("hold_without_key_not_recorded"), required=plain),)


def _round_on_round(
    required: Requirement, offered: Sprocket, shaft: Shaft, practice: Practice
) -> tuple[Finding, ...]:
    shaft_mm, bore_mm, limits = shaft.diameter_mm, offered.bore_mm, practice.thresholds
    if shaft_mm is None or bore_mm is None:
        code = "shaft_diameter_not_recorded" if shaft_mm is None else "bore_not_recorded"
        return (not_recorded(Aspect.MOUNTING, fact(code), required=shaft_mm, offered=bore_mm),)
    by_name = _by_name(bore_mm, shaft_mm, limits)
    is_finished = offered.bore_type is not BoreType.PLAIN
    if by_name is not None and not by_name.is_look_alike and (is_finished or bore_mm > shaft_mm):
        return (_measured_between(bore_mm, shaft_mm, by_name), *check_key(shaft, offered, practice))
    if limits.is_larger(bore_mm, shaft_mm):
        return (_bore_too_large(bore_mm, shaft_mm, limits.bore_tolerance_mm, by_name),)
    on_bush_now = _bush_on_shaft(offered, shaft)
    if offered.bore_type is BoreType.PLAIN or limits.is_larger(shaft_mm, bore_mm):
        first, *others = bore_up(required, offered, shaft, practice)
        first = replace(first, facts=(*first.facts, *_named(bore_mm, shaft_mm, by_name)))
        return (first, *others, *on_bush_now)
    plate = (plate_on_key(shaft, practice),) if is_plate_on_key(required, offered, shaft) else ()
    return (
        _same_size(bore_mm, shaft_mm, limits.bore_tolerance_mm),
        *on_bush_now,
        *plate,
        *check_key(shaft, offered, practice),
    )


def _by_name(given_mm: float, required_mm: float, limits: Thresholds) -> NamedSize | None:
    """None where the two are one size, or so far apart that nobody takes the one for the other."""
    apart_mm = abs(given_mm - required_mm)
    if limits.is_same_size(given_mm, required_mm) or apart_mm >= LOOKS_LIKE_A_FIT_MM:
        return None
    return size_by_name(given_mm, required_mm, limits)


def _measured_between(given_mm: float, required_mm: float, by_name: NamedSize) -> Finding:
    """A size off a caliper, which may be the required one: the next standard size is named."""
    sizes = {"size_mm": given_mm, "required_mm": required_mm, "look_alike_mm": by_name.look_alike_mm}
    facts = (fact("size_between_standard_sizes", **sizes), fact("measure_with_bore_gauge"))
    margin_mm = -round(abs(given_mm - required_mm), 4)
    figures = compared(required_mm, given_mm, limit=by_name.look_alike_mm, margin=margin_mm)
    sources = (fact("standard_sizes_by_name"),)
    return Finding(Aspect.MOUNTING, Outcome.REVIEW, facts, **figures, sources=sources)


def _same_size(bore_mm: float, shaft_mm: float, tolerance_mm: float) -> Finding:
    margin_mm = round(tolerance_mm - abs(bore_mm - shaft_mm), 4)
    facts = (fact("bore_fits_shaft", bore_mm=bore_mm, shaft_mm=shaft_mm),)
    figures = compared(shaft_mm, bore_mm, limit=tolerance_mm, margin=margin_mm)
    sources = (fact("one_nominal_size", tolerance_mm=tolerance_mm),)
    return Finding(Aspect.MOUNTING, Outcome.OK, facts, **figures, sources=sources)


def _bore_too_large(
    bore_mm: float, shaft_mm: float, tolerance_mm: float, by_name: NamedSize | None
) -> Finding:
    excess_mm = bore_mm - shaft_mm
    too_large = fact("bore_too_large", bore_mm=bore_mm, shaft_mm=shaft_mm, excess_mm=excess_mm)
    looks_right = (fact("bore_looks_like_a_fit"),) if excess_mm < LOOKS_LIKE_A_FIT_MM else ()
    facts = (too_large, *_named(bore_mm, shaft_mm, by_name), *looks_right, fact("metal_cannot_be_added"))
    figures = compared(shaft_mm, bore_mm, limit=shaft_mm, margin=round(-excess_mm, 4))
    sources = (fact("one_nominal_size", tolerance_mm=tolerance_mm),)
    return Finding(Aspect.MOUNTING, Outcome.NO, facts, **figures, sources=sources)


def _named(given_mm: float, required_mm: float, by_name: NamedSize | None) -> tuple[Fact, ...]:
    """The standard size that a bore really is, where its number does not already say it."""
    if by_name is None or by_name.look_alike_mm in (given_mm, required_mm):
        return ()
    sizes = {"size_mm": given_mm, "required_mm": required_mm, "look_alike_mm": by_name.look_alike_mm}
    return (fact("size_of_look_alike", **sizes),)


def _bush_on_shaft(offered: Sprocket, shaft: Shaft) -> tuple[Finding, ...]:
    if not shaft.bush_size:
        return ()
    facts = (fact("bush_on_shaft_now", fitted_bush_size=shaft.bush_size),)
    figures = compared(shaft.bush_size, _word(offered))
    sources = (fact("rule_h13"), fact("undersize_shafts_under_bushes"))
    return (Finding(Aspect.MOUNTING, Outcome.REVIEW, facts, **figures, sources=sources),)


def _on_hex(offered: Sprocket, shaft: Shaft, practice: Practice) -> Finding:
    if offered.bore_type is not BoreType.HEX:
        return _wrong_form(offered, shaft)
    return _own_size_only(
        required_mm=shaft.across_flats_mm,
        offered_mm=offered.hex_across_flats_mm,
        codes=("hex_size_not_recorded", "hex_fits", "hex_size_differs"),
        practice=practice,
    )


def _bearing_on_pin(offered: Sprocket, shaft: Shaft, practice: Practice) -> Finding:
    return _own_size_only(
        required_mm=shaft.diameter_mm,
        offered_mm=offered.bore_mm,
        codes=("bearing_size_not_recorded", "bearing_fits_pin", "bearing_size_differs"),
        practice=practice,
    )


def _own_size_only(
    *, required_mm: float | None, offered_mm: float | None, codes: tuple[str, str, str], practice: Practice
) -> Finding:
    """What can neither be bored out nor bushed down; `codes` for not recorded, equal and different."""
    unknown, equal, different = codes
    if required_mm is None or offered_mm is None:
        return not_recorded(Aspect.MOUNTING, fact(unknown), required=required_mm, offered=offered_mm)
    by_name = _by_name(offered_mm, required_mm, practice.thresholds)
    if by_name is not None and not by_name.is_look_alike:
        return _measured_between(offered_mm, required_mm, by_name)
    apart_mm = abs(required_mm - offered_mm)
    outcome, code = Outcome.NO, different
    if practice.thresholds.is_same_size(required_mm, offered_mm):
        outcome, code = Outcome.OK, equal
    facts = (
        fact(code, offered_mm=offered_mm, shaft_mm=required_mm),
        *_named(offered_mm, required_mm, by_name),
    )
    figures = compared(required_mm, offered_mm, limit=required_mm, margin=round(-apart_mm, 4))
    return Finding(Aspect.MOUNTING, outcome, facts, **figures)


def _on_pin(offered: Sprocket, shaft: Shaft, practice: Practice) -> Finding:
    """A dead pin: the sprocket turns on it, so it needs a bearing."""
    if offered.bore_type is BoreType.BEARING:
        return _bearing_on_pin(offered, shaft, practice)
    if offered.bore_type not in {BoreType.PLAIN, BoreType.FINISHED}:
        return _wrong_form(offered, shaft)
    hub_mm, pin_mm = offered.widest_hub_mm, shaft.diameter_mm
    if pin_mm is None or hub_mm is None:
        reason = fact("room_for_bearing_not_recorded", hub_mm=hub_mm, pin_mm=pin_mm)
        return not_recorded(Aspect.MOUNTING, reason, required=pin_mm, offered=hub_mm)
    if offered.bore_mm is None and hub_mm > pin_mm:
        return not_recorded(Aspect.MOUNTING, fact("bore_not_recorded"), required=pin_mm)
    return _press_in_bearing(offered.bore_mm, hub_mm=hub_mm, pin_mm=pin_mm, practice=practice)


def _wider_than_bearing(bore_mm: float | None, pin_mm: float) -> Finding | None:
    """A bore that a bearing would fall through; a bush or a larger bearing might still do, so a person decides."""
    bearing = usual_bearing(pin_mm)
    if bearing is None or bore_mm is None or bore_mm <= bearing.outside_diameter_mm:
        return None
    seat_mm = bearing.outside_diameter_mm
    reason = fact("bore_wider_than_bearing", bore_mm=bore_mm, pin_mm=pin_mm, bearing_mm=seat_mm)
    figures = compared(pin_mm, bore_mm, limit=seat_mm, margin=round(seat_mm - bore_mm, 4))
    return Finding(
        Aspect.MOUNTING, Outcome.REVIEW, (reason,), **figures, sources=(fact("bearing_diameter_series"),)
    )


def _press_in_bearing(bore_mm: float | None, *, hub_mm: float, pin_mm: float, practice: Practice) -> Finding:
    sizes, step = {"hub_mm": hub_mm, "pin_mm": pin_mm}, practice.times.step
    named = practice.turns_on(lambda share: hub_mm < share * pin_mm, "bearing_room_share")
    if hub_mm <= pin_mm:
        return _no(fact("no_room_for_bearing", **sizes), pin_mm, hub_mm)
    if (wider := _wider_than_bearing(bore_mm, pin_mm)) is not None:
        return wider
    least_hub_mm = practice.thresholds.bearing_room_share * pin_mm
    if hub_mm < least_hub_mm:
        figures = compared(pin_mm, hub_mm, limit=round(least_hub_mm, 3))
        facts = (fact("little_room_for_bearing", **sizes), *named)
        return Finding(Aspect.MOUNTING, Outcome.REVIEW, facts, **figures)
    work = (
        step(Operation.BORE, fact("bore_hub_for_bearing")),
        step(Operation.FIT_BEARING, fact("press_in_bearing", pin_mm=pin_mm)),
    )
    facts, sources = (fact("bearing_to_press_in", **sizes),), (fact("rule_h21"),)
    figures = compared(pin_mm, bore_mm)
    finding = Finding(Aspect.MOUNTING, Outcome.WORK, facts, **figures, sources=sources, work=work)
    return finding.for_review(*named) if named else finding
