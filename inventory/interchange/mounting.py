"""Does it go on the shaft? The matrix of shaft kind and bore type; the bore, the bush, and what the lathe can do."""

from collections.abc import Callable
from typing import Any

from inventory.facts import fact
from inventory.interchange.bushing import BushesAtHand, check_bushed
from inventory.interchange.key import check_key
from inventory.interchange.reboring import bore_up, is_plate_on_key, pilot_for_pilot, plate_on_key
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Shaft, Specification, not_known
from inventory.interchange.vocabulary import Aspect, BoreType, Operation, Outcome, Role, ShaftKind
from inventory.interchange.wording import size_text
from inventory.standards.sizes import STORED_DECIMALS

ROUND_BORES = frozenset({BoreType.PLAIN, BoreType.FINISHED, BoreType.SPLIT})
BUSHED = frozenset({BoreType.TAPERED, BoreType.QD})
MOUNTING_FIELDS = (
    "bore_type",
    "bore_mm",
    "keyway_width_mm",
    "keyway_depth_mm",
    "key_standard",
    "bush_size",
    "hex_across_flats_mm",
)


def check_mounting(
    required: Requirement, offered: Specification, practice: Practice, bushes: BushesAtHand | None = None
) -> tuple[Finding, ...]:
    """Mounting and key: bore, bush, hex or bearing against the shaft or the pin of the place."""
    if offered.bore_type is None:
        return (
            not_known(
                Aspect.MOUNTING,
                fact("text", text="How the candidate mounts is not recorded: look at its bore."),
            ),
        )
    if _is_same_mounting(required.interface, offered):
        return (
            _ok(f"Same mounting as the part it stands for: {_mounting_text(offered)}."),
            *_fit_for_role(required, offered),
        )
    if offered.bore_type is BoreType.BEARING and not _turns_free(required):
        return (_bearing_on_power(),)
    if required.shaft is None:
        return _without_shaft(required, offered, practice)
    return _MATRIX[required.shaft.kind](required, offered, required.shaft, practice, bushes)


def _turns_free(required: Requirement) -> bool:
    return required.is_idler or (
        required.role is None and required.shaft is not None and required.shaft.kind is ShaftKind.PIN
    )


def _ok(text: str, **figures: Any) -> Finding:
    return Finding(aspect=Aspect.MOUNTING, outcome=Outcome.OK, facts=(fact("text", text=text),), **figures)


def _no(text: str, **figures: Any) -> Finding:
    return Finding(aspect=Aspect.MOUNTING, outcome=Outcome.NO, facts=(fact("text", text=text),), **figures)


def _review(text: str, **figures: Any) -> Finding:
    return Finding(
        aspect=Aspect.MOUNTING, outcome=Outcome.REVIEW, facts=(fact("text", text=text),), **figures
    )


def _is_same_mounting(interface: Specification | None, offered: Specification) -> bool:
    """Equal in all that this bore type needs, and all of it recorded: two blanks are not equal."""
    return (
        interface is not None
        and _is_mounting_recorded(offered)
        and all(getattr(interface, name) == getattr(offered, name) for name in MOUNTING_FIELDS)
    )


def _is_mounting_recorded(offered: Specification) -> bool:
    """A pilot bore is judged by its reach, so it is never equal by its fields alone."""
    if offered.bore_type in BUSHED:
        return bool(offered.bush_size)
    if offered.bore_type is BoreType.HEX:
        return offered.hex_across_flats_mm is not None
    if offered.bore_type is BoreType.BEARING:
        return offered.bore_mm is not None
    held = offered.keyway_width_mm is not None or bool(offered.set_screws)
    return offered.bore_type is not BoreType.PLAIN and offered.bore_mm is not None and held


def _fit_for_role(required: Requirement, offered: Specification) -> tuple[Finding, ...]:
    """Equal parts on a power drive may both be idlers: a bearing bore carries no torque."""
    if offered.bore_type is BoreType.BEARING and required.role in {Role.DRIVER, Role.DRIVEN}:
        return (_bearing_on_power(),)
    return ()


def _mounting_text(offered: Specification) -> str:
    kind = (offered.bore_type or BoreType.PLAIN).value
    if offered.bore_type in BUSHED:
        return f"for a {offered.bush_size or 'bush of unknown size'} bush"
    return f"{kind} bore" + (f" {size_text(offered.bore_mm)}" if offered.bore_mm else "")


def _bearing_on_power() -> Finding:
    return _no(
        "A bearing bore turns free on its shaft: it carries no torque, so it is for idlers only.",
        required="torque",
        offered="bearing bore",
    )


def _without_shaft(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    interface = required.interface
    if (
        interface is not None
        and interface.bore_type is BoreType.PLAIN
        and offered.bore_type is BoreType.PLAIN
    ):
        return pilot_for_pilot(interface, offered)
    if interface is not None and interface.bore_type in BUSHED:
        return _for_a_bush(required, offered, interface, practice)
    return (
        not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text="The shaft of this place is not recorded: measure its diameter and key before the part leaves the storeroom.",
            ),
            offered=_mounting_text(offered),
        ),
    )


def _for_a_bush(
    required: Requirement, offered: Specification, interface: Specification, practice: Practice
) -> tuple[Finding, ...]:
    """The part stood for sits on a bush, so the shaft is round; its diameter is the bush's business."""
    if offered.bore_type in BUSHED:
        return check_bushed(required, offered, None, practice, None)
    if offered.bore_type not in ROUND_BORES:
        return (
            _no(
                f"A {_mounting_text(offered)} does not go on the round shaft of a bush.",
                required=interface.bush_size,
                offered=offered.bore_type.value if offered.bore_type else None,
            ),
        )
    return (
        not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text=f"The part it stands for sits on a {interface.bush_size or 'bush of unknown size'} bush, this one is bored for the shaft itself: name the shaft; "
                "the quick release is lost.",
            ),
            required=interface.bush_size,
            offered=_mounting_text(offered),
        ),
    )


def _on_keyed(
    required: Requirement,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    if offered.bore_type in BUSHED:
        return check_bushed(required, offered, shaft, practice, bushes)
    if offered.bore_type not in ROUND_BORES:
        return (_wrong_form(shaft, offered),)
    return _round_on_round(required, offered, shaft, practice)


def _on_plain(
    required: Requirement,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    """A shaft without a key: set screws or a bush carry what little there is."""
    if offered.bore_type in BUSHED:
        return check_bushed(required, offered, shaft, practice, bushes)
    if offered.bore_type is BoreType.BEARING:
        return (_bearing_on_pin(shaft, offered, practice), _on_dead_shaft_only())
    if offered.bore_type not in ROUND_BORES:
        return (_wrong_form(shaft, offered),)
    return (*_round_on_round(required, offered, shaft, practice), *_held_without_key(offered))


def _on_dead_shaft_only() -> Finding:
    return _review(
        "A bearing bore on a plain shaft: right where the shaft stands still and the idler turns on it; look which turns.",
        required="plain shaft",
        offered="bearing bore",
    )


def _held_without_key(offered: Specification) -> tuple[Finding, ...]:
    """A pilot bore gets its set screws in the shop; a bore that is finished shows how it holds, or somebody looks."""
    if offered.keyway_width_mm is not None:
        return (
            _review(
                "The shaft has no key: torque would rest on the set screws; light load only. A spare keyway does no harm.",
                required="plain shaft",
                offered="keyed bore",
                sources=(
                    fact("text", text="rule H10 of common practice: keyed bore on a shaft without a key"),
                ),
            ),
        )
    if offered.set_screws or offered.bore_type is BoreType.PLAIN:
        return ()
    return (
        not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text="The shaft has no key, and neither keyway nor set screws of the candidate are recorded: look how it is held.",
            ),
            required="plain shaft",
        ),
    )


def _round_on_round(
    required: Requirement, offered: Specification, shaft: Shaft, practice: Practice
) -> tuple[Finding, ...]:
    shaft_mm, bore_mm = shaft.diameter_mm, offered.bore_mm
    if shaft_mm is None or bore_mm is None:
        side = "The shaft's diameter" if shaft_mm is None else "The candidate's bore"
        return (
            not_known(
                Aspect.MOUNTING,
                fact("text", text=f"{side} is not recorded: measure it; 25 mm is not 1 in."),
                required=size_text(shaft_mm),
                offered=size_text(bore_mm),
            ),
        )
    play_mm = round(bore_mm - shaft_mm, STORED_DECIMALS)
    if play_mm > practice.thresholds.bore_tolerance_mm:
        return (_too_large(shaft_mm, bore_mm),)
    instead = _instead_of_bush(shaft)
    if offered.bore_type is BoreType.PLAIN or play_mm < -practice.thresholds.bore_tolerance_mm:
        return (*bore_up(required, offered, shaft, practice), *instead)
    plate = (plate_on_key(offered, shaft, practice),) if is_plate_on_key(required, offered, shaft) else ()
    return (_to_size(offered, shaft, practice), *instead, *plate, *check_key(shaft, offered, practice))


def _to_size(offered: Specification, shaft: Shaft, practice: Practice) -> Finding:
    tolerance_mm = practice.thresholds.bore_tolerance_mm
    return _ok(
        f"Bore {size_text(offered.bore_mm)} on a {size_text(shaft.diameter_mm)} shaft: same size.",
        required=shaft.diameter_mm,
        offered=offered.bore_mm,
        limit=tolerance_mm,
        margin=round(tolerance_mm - abs((offered.bore_mm or 0.0) - (shaft.diameter_mm or 0.0)), 4),
        sources=(fact("text", text="two sizes are one nominal size within 0.006 mm (judgement)"),),
    )


def _instead_of_bush(shaft: Shaft) -> tuple[Finding, ...]:
    if not shaft.bush_size:
        return ()
    return (
        _review(
            f"A {shaft.bush_size} bush sits on this shaft now. Shafts under bushes may be undersize: measure it before a bored-to-size "
            "hub goes on; the quick release is lost.",
            required=f"bush {shaft.bush_size}",
            offered="bored hub",
            sources=(
                fact(
                    "text",
                    text="rule H13 of common practice; undersize shafts under bushes: installation sheets",
                ),
            ),
        ),
    )


def _too_large(shaft_mm: float, bore_mm: float) -> Finding:
    near = bore_mm - shaft_mm < 1.0
    return _no(
        f"Bore {size_text(bore_mm)} on a {size_text(shaft_mm)} shaft: {bore_mm - shaft_mm:.3g} mm too large. "
        + ("It slides on and looks right, then frets and works loose. " if near else "")
        + "Metal cannot be added; a sleeve is an engineered repair, not a storeroom answer.",
        required=shaft_mm,
        offered=bore_mm,
        limit=shaft_mm,
        margin=round(shaft_mm - bore_mm, 4),
        sources=(
            fact(
                "text",
                text="two sizes are one nominal size within 0.006 mm (judgement: holds two-decimal tables, parts the nearest standard pair)",
            ),
        ),
    )


def _wrong_form(shaft: Shaft, offered: Specification) -> Finding:
    return _no(
        f"A {_mounting_text(offered)} does not go on a {shaft.kind.value} shaft.",
        required=shaft.kind.value,
        offered=offered.bore_type.value if offered.bore_type else None,
    )


def _on_hex(
    required: Requirement,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    if offered.bore_type is not BoreType.HEX:
        return (_wrong_form(shaft, offered),)
    wanted, given = shaft.across_flats_mm, offered.hex_across_flats_mm
    if wanted is None or given is None:
        return (
            not_known(
                Aspect.MOUNTING,
                fact(
                    "text", text="Hex on hex: the size across flats is not recorded on one side: measure it."
                ),
                required=wanted,
                offered=given,
            ),
        )
    figures: dict[str, Any] = {
        "required": wanted,
        "offered": given,
        "limit": wanted,
        "margin": round(-abs(given - wanted), 4),
    }
    if round(abs(wanted - given), STORED_DECIMALS) <= practice.thresholds.bore_tolerance_mm:
        return (_ok(f"Hex {size_text(given)} across flats on both.", **figures),)
    return (
        _no(
            f"Hex {size_text(given)} across flats on a {size_text(wanted)} hex shaft: a hex fits its own size only.",
            **figures,
        ),
    )


def _on_spline(
    required: Requirement,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    return (
        _no(
            "The shaft is splined: only a hub with the same spline (standard, module, teeth, fit) goes on.",
            required="spline",
            offered=offered.bore_type.value if offered.bore_type else None,
        ),
    )


def _on_pin(
    required: Requirement,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    """A dead pin: the sprocket turns on it, so it needs a bearing."""
    if offered.bore_type is BoreType.BEARING:
        return (_bearing_on_pin(shaft, offered, practice),)
    if offered.bore_type in {BoreType.PLAIN, BoreType.FINISHED}:
        return (_press_in_bearing(shaft, offered, practice),)
    return (_wrong_form(shaft, offered),)


def _bearing_on_pin(shaft: Shaft, offered: Specification, practice: Practice) -> Finding:
    wanted, given = shaft.diameter_mm, offered.bore_mm
    if wanted is None or given is None:
        return not_known(
            Aspect.MOUNTING,
            fact("text", text="Bearing on a pin: the diameter is not recorded on one side: measure it."),
            required=wanted,
            offered=given,
        )
    figures: dict[str, Any] = {
        "required": wanted,
        "offered": given,
        "limit": wanted,
        "margin": round(-abs(given - wanted), 4),
    }
    if round(abs(wanted - given), STORED_DECIMALS) <= practice.thresholds.bore_tolerance_mm:
        return _ok(f"Bearing bore {size_text(given)} on a {size_text(wanted)} pin.", **figures)
    return _no(
        f"Bearing bore {size_text(given)} on a {size_text(wanted)} pin: a bearing is neither bored out nor bushed down here.",
        **figures,
    )


def _press_in_bearing(shaft: Shaft, offered: Specification, practice: Practice) -> Finding:
    pin = size_text(shaft.diameter_mm) if shaft.diameter_mm else "measured"
    steps = (
        practice.times.step(
            Operation.BORE, fact("text", text="bore the hub to the bearing's outside diameter")
        ),
        practice.times.step(
            Operation.FIT_BEARING, fact("text", text=f"press in a bearing for the {pin} pin and secure it")
        ),
    )
    hub_mm, pin_mm = offered.widest_hub_mm, shaft.diameter_mm
    if pin_mm is None or hub_mm is None:
        return not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text="A bored sprocket on a dead pin needs a bearing pressed in, and the pin or the hub is not recorded: measure whether there is room.",
            ),
            required=pin_mm,
            offered=hub_mm,
        )
    if hub_mm <= pin_mm:
        return _no(
            f"The hub ({size_text(hub_mm)}) has no room for a bearing on a {pin} pin.",
            required=pin_mm,
            offered=hub_mm,
        )
    if hub_mm < practice.thresholds.bearing_room_share * pin_mm:
        return _review(
            f"The hub ({size_text(hub_mm)}) leaves little room for a bearing on a {pin} pin: find the bearing first.",
            required=pin_mm,
            offered=hub_mm,
            limit=round(practice.thresholds.bearing_room_share * pin_mm, 3),
        )
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.WORK,
        required=f"pin {pin}",
        offered=_mounting_text(offered),
        work=steps,
        facts=(
            fact(
                "text",
                text=f"A bored sprocket on a dead pin would wear itself out: press in a bearing for the {pin} pin; the hub ({size_text(hub_mm)}) has room for it.",
            ),
        ),
        sources=(fact("text", text="rule H21 of common practice: driver or driven to idler after rework"),),
    )


_Check = Callable[[Requirement, Specification, Shaft, Practice, BushesAtHand | None], tuple[Finding, ...]]
_MATRIX: dict[ShaftKind, _Check] = {
    ShaftKind.KEYED: _on_keyed,
    ShaftKind.PLAIN: _on_plain,
    ShaftKind.HEX: _on_hex,
    ShaftKind.SPLINE: _on_spline,
    ShaftKind.PIN: _on_pin,
}
