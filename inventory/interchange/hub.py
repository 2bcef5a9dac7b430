"""Hub style, length through bore and chain line; then the room that guard and neighbours leave."""

from dataclasses import dataclass
from typing import Any

from inventory.facts import fact
from inventory.interchange.bushing import is_bushed
from inventory.interchange.engagement import standard_tooth_width_mm
from inventory.interchange.key import wall_over_keyseat_mm, wanted_wall_mm
from inventory.interchange.reboring import WELD_DETAIL
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Specification, not_asked, not_known
from inventory.interchange.vocabulary import Aspect, HubStyle, Operation, Outcome
from inventory.interchange.wording import size_text
from inventory.standards.tooth_tip import outside_diameter_mm, tip_diameter_max_mm, tip_diameter_min_mm

STYLE_SOURCE = "style substitution rules H1 to H18: hubs stay soft and can be turned; common practice"


@dataclass(frozen=True)
class _Swap:
    outcome: Outcome
    text: str
    operation: Operation | None = None
    detail: str = ""


_FACE_TO_B = _Swap(
    Outcome.WORK,
    "Type C for type B: turn one hub off, the chain line stays with the kept hub.",
    Operation.FACE_HUB,
    "turn one hub off",
)
_FACE_TO_A = _Swap(
    Outcome.WORK,
    "The place takes a plate: turn the hub flush; bolt holes go inside the rim.",
    Operation.FACE_HUB,
    "turn the hub flush and drill the bolt holes",
)
_WELD = _Swap(
    Outcome.REVIEW,
    "A hub has to be welded or bolted on: hot work, trued afterwards, teeth kept cool.",
    Operation.WELD_HUB,
    WELD_DETAIL,
)
_SPACER = _Swap(
    Outcome.REVIEW,
    "Type B for type C: only where the missing hub carries no load; a spacer takes its place, the key must be long enough.",
)
_SPLIT_TO_SOLID = _Swap(
    Outcome.OK, "A split hub for a solid one: chosen for access; the joint bolts must clear the guard."
)
_SOLID_TO_SPLIT = _Swap(
    Outcome.REVIEW, "A solid hub for a split one: the shaft end must be freed first, a longer stop."
)
_AMBIGUOUS = _Swap(
    Outcome.REVIEW, "Style D means a bolted hub to some and a split hub to others: look at both parts."
)
_HUB_OFF = _Swap(
    Outcome.REVIEW,
    "The place takes a rim to weld to a hub that is there: the candidate's hub has to be turned off to that register; compare it first.",
)
_NOT_A_PLATE = _Swap(
    Outcome.NO,
    "The place takes a plate: a split hub cannot be turned flush, its joint bolts hold it together.",
)
_FLANGE = _Swap(
    Outcome.REVIEW,
    "Flanged parts fit only when bolt circle, holes and register are all equal; they are not recorded: measure them.",
)
_FLANGE_NO = _Swap(
    Outcome.NO, "A flanged rim is held by its bolts: the holes are the interface, another style has none."
)

_TURNABLE = {HubStyle.B, HubStyle.C}
_SWAPS: dict[tuple[HubStyle, HubStyle], _Swap] = {
    (HubStyle.B, HubStyle.C): _FACE_TO_B,
    (HubStyle.A, HubStyle.B): _FACE_TO_A,
    (HubStyle.A, HubStyle.C): _FACE_TO_A,
    (HubStyle.B, HubStyle.A): _WELD,
    (HubStyle.C, HubStyle.A): _WELD,
    (HubStyle.C, HubStyle.B): _SPACER,
    (HubStyle.WELD_ON, HubStyle.A): _WELD,
    (HubStyle.A, HubStyle.WELD_ON): _Swap(
        Outcome.REVIEW, "A weld-on rim for a plate: compare the register bore and the bolt holes."
    ),
    (HubStyle.B, HubStyle.WELD_ON): _WELD,
    (HubStyle.C, HubStyle.WELD_ON): _WELD,
}


def _swap(wanted: HubStyle, given: HubStyle) -> _Swap:
    if (wanted, given) in _SWAPS:
        return _SWAPS[(wanted, given)]
    if HubStyle.FLANGED in (wanted, given):
        return _FLANGE_NO
    if HubStyle.D in (wanted, given):
        return _AMBIGUOUS
    if wanted is HubStyle.SPLIT:
        return _SOLID_TO_SPLIT if given in _TURNABLE else _WELD
    if given is HubStyle.SPLIT:
        return _SPLIT_TO_SOLID if wanted in _TURNABLE else _NOT_A_PLATE
    return _HUB_OFF


def check_hub(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Hub style against style, then the length through bore against the room for it."""
    return (*_style(required, offered, practice), *_length(required, offered, practice))


def _style(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    wanted, given = required.hub_style, offered.hub_style
    if wanted is None:
        return (
            not_asked(Aspect.HUB, fact("text", text="Which hub style this place needs is not recorded.")),
        )
    if given is None:
        return (
            not_known(
                Aspect.HUB,
                fact(
                    "text",
                    text=f"The candidate's hub style is not recorded; the place has type {wanted.value}: look at it.",
                ),
                required=wanted.value,
            ),
        )
    if wanted is given and _is_told_by_its_style(required, offered):
        return (
            Finding(
                aspect=Aspect.HUB,
                outcome=Outcome.OK,
                required=wanted.value,
                offered=given.value,
                facts=(fact("text", text=f"Hub style {given.value} on both."),),
                sources=(fact("text", text=STYLE_SOURCE),),
            ),
        )
    swap = (
        _swap(wanted, given) if wanted is not given else _FLANGE if given is HubStyle.FLANGED else _AMBIGUOUS
    )
    work = (practice.times.step(swap.operation, fact("text", text=swap.detail)),) if swap.operation else ()
    return (
        Finding(
            aspect=Aspect.HUB,
            outcome=swap.outcome,
            required=wanted.value,
            offered=given.value,
            facts=(fact("text", text=swap.text),),
            sources=(fact("text", text=STYLE_SOURCE),),
            work=work,
        ),
    )


def _is_told_by_its_style(required: Requirement, offered: Specification) -> bool:
    """Equal letters are enough, except for bolted rims, and for D, which names two things."""
    if offered.hub_style is HubStyle.FLANGED:
        return offered == required.interface
    if offered.hub_style is HubStyle.D:
        old = required.interface
        return old is not None and old.bore_type is offered.bore_type and offered.bore_type is not None
    return True


def _length(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    room, length = required.envelope.length_through_bore_mm, offered.length_through_bore_mm
    if room is None:
        return ()
    if length is None:
        return (
            not_known(
                Aspect.HUB,
                fact(
                    "text",
                    text=f"The candidate's length through bore is not recorded; there is room for {size_text(room)}: measure it.",
                ),
                required=room,
            ),
        )
    if length <= room + practice.thresholds.bore_tolerance_mm:
        return (
            Finding(
                aspect=Aspect.HUB,
                outcome=Outcome.OK,
                required=room,
                offered=length,
                limit=room,
                margin=round(room - length, 3),
                facts=(fact("text", text=_fits_length(room, length)),),
                sources=(fact("text", text="room as recorded for this place"),),
            ),
        )
    return (_too_long(required, offered, practice, room, length),)


def _fits_length(room: float, length: float) -> str:
    if room - length <= 0.5:
        return f"Length through bore {size_text(length)}, room for {size_text(room)}."
    return f"Length through bore {size_text(length)}, room for {size_text(room)}: {room - length:.1f} mm shorter, set the chain line when it is fitted."


def _too_long(
    required: Requirement, offered: Specification, practice: Practice, room: float, length: float
) -> Finding:
    excess = length - room
    figures: dict[str, Any] = {
        "required": room,
        "offered": length,
        "limit": room,
        "margin": round(-excess, 3),
    }
    hub_left = length - excess - _rim_width_mm(offered)
    can_face = offered.hub_style in _TURNABLE and not is_bushed(offered) and hub_left >= 0
    if can_face:
        step = practice.times.step(Operation.FACE_HUB, fact("text", text=f"face {excess:.1f} mm off the hub"))
        return Finding(
            aspect=Aspect.HUB,
            outcome=Outcome.WORK,
            work=(step,),
            sources=(fact("text", text=STYLE_SOURCE),),
            **figures,
            facts=(
                fact(
                    "text",
                    text=f"Length through bore {size_text(length)}, room for {size_text(room)}: {step.detail.values['text']}; {room:.1f} mm are left for the key.",
                ),
            ),
        )
    if offered.hub_style is None and not is_bushed(offered):
        return not_known(
            Aspect.HUB,
            fact(
                "text",
                text=f"Length through bore {size_text(length)}, room for {size_text(room)}; whether there is a hub to face off is not recorded: look at it.",
            ),
            required=room,
            offered=length,
        )
    outcome = Outcome.NO if required.envelope.is_measured else Outcome.REVIEW
    why = "a bushed hub cannot be shortened" if is_bushed(offered) else "there is no hub to face off"
    tail = (
        ""
        if required.envelope.is_measured
        else " That room was copied from the old part: measure what is really there."
    )
    return Finding(
        aspect=Aspect.HUB,
        outcome=outcome,
        sources=(fact("text", text="room as recorded for this place"),),
        **figures,
        facts=(
            fact(
                "text",
                text=f"Length through bore {size_text(length)}, room for {size_text(room)}: {excess:.1f} mm too long, and {why}.{tail}",
            ),
        ),
    )


def _rim_width_mm(offered: Specification) -> float:
    if offered.tooth_width_mm is not None and (offered.strands or 1) == 1:
        return offered.tooth_width_mm
    if offered.chain is None:
        return 0.0
    rows = (offered.strands or 1) - 1
    return rows * (offered.chain.transverse_pitch_mm or 0.0) + standard_tooth_width_mm(
        offered.chain, offered.strands or 1
    )


def check_envelope(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Outside diameter and hub diameter against guard and neighbours."""
    envelope = required.envelope
    if envelope.outside_diameter_mm is None and envelope.hub_diameter_mm is None:
        return (
            not_asked(
                Aspect.ENVELOPE,
                fact(
                    "text",
                    text="How much room guard and neighbours leave is not recorded: turn the drive by hand before the guard goes back on.",
                ),
            ),
        )
    return (*_outside(required, offered), *_hub_diameter(required, offered, practice))


def _outside(required: Requirement, offered: Specification) -> tuple[Finding, ...]:
    room = required.envelope.outside_diameter_mm
    if room is None:
        return ()
    if offered.outside_diameter_mm is not None:
        return (_diameter_finding(required, "Outside diameter", offered.outside_diameter_mm, room),)
    if offered.chain is None or offered.teeth is None or offered.chain.is_double_pitch:
        return (
            not_known(
                Aspect.ENVELOPE,
                fact(
                    "text",
                    text=f"The candidate's outside diameter is not recorded; the guard leaves {size_text(room)}: measure it.",
                ),
                required=room,
            ),
        )
    return (_computed_outside(required, offered, room),)


def _computed_outside(required: Requirement, offered: Specification, room: float) -> Finding:
    """Not measured: the largest and the smallest that the standard allows for this tooth count."""
    chain = offered.chain
    assert chain is not None
    assert offered.teeth is not None
    largest = max(
        tip_diameter_max_mm(chain.pitch_mm, teeth=offered.teeth, roller_diameter_mm=chain.roller_diameter_mm),
        outside_diameter_mm(chain.pitch_mm, offered.teeth),
    )
    smallest = tip_diameter_min_mm(
        chain.pitch_mm, teeth=offered.teeth, roller_diameter_mm=chain.roller_diameter_mm
    )
    if largest <= room or smallest > room:
        return _diameter_finding(
            required, "Computed outside diameter", largest if largest <= room else smallest, room
        )
    return not_known(
        Aspect.ENVELOPE,
        fact(
            "text",
            text=f"The outside diameter is not recorded; with {offered.teeth} teeth it lies from {smallest:.1f} to {largest:.1f} mm and the guard leaves {size_text(room)}: measure it.",
        ),
        required=room,
        offered=round(largest, 2),
    )


def _diameter_finding(required: Requirement, what: str, given: float, room: float) -> Finding:
    margin = room - given
    figures: dict[str, Any] = {
        "required": room,
        "offered": round(given, 3),
        "limit": room,
        "margin": round(margin, 3),
        "sources": (fact("text", text="room as recorded for this place; tip diameters: ISO 606"),),
    }
    if margin >= -0.006:
        return Finding(
            aspect=Aspect.ENVELOPE,
            outcome=Outcome.OK,
            facts=(fact("text", text=f"{what} {given:.1f} mm, room for {room:.1f} mm."),),
            **figures,
        )
    if not required.envelope.is_measured:
        return Finding(
            aspect=Aspect.ENVELOPE,
            outcome=Outcome.REVIEW,
            **figures,
            facts=(
                fact(
                    "text",
                    text=f"{what} {given:.1f} mm is {-margin:.1f} mm larger than the old part; the room under the guard was never measured: measure it.",
                ),
            ),
        )
    return Finding(
        aspect=Aspect.ENVELOPE,
        outcome=Outcome.NO,
        facts=(
            fact(
                "text",
                text=f"{what} {given:.1f} mm, room for {room:.1f} mm: it fouls the guard by {-margin:.1f} mm.",
            ),
        ),
        **figures,
    )


def _hub_diameter(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    room, hub = required.envelope.hub_diameter_mm, offered.widest_hub_mm
    if room is None or offered.hub_style is HubStyle.A:
        return ()
    if hub is None:
        return (
            not_known(
                Aspect.ENVELOPE,
                fact(
                    "text",
                    text=f"The candidate's hub diameter is not recorded; there is room for {size_text(room)}: measure it.",
                ),
                required=room,
            ),
        )
    if hub <= room + practice.thresholds.bore_tolerance_mm:
        return (_diameter_finding(required, "Hub diameter", hub, room),)
    return (_turn_down(required, offered, practice, room, hub),)


def _turn_down(
    required: Requirement, offered: Specification, practice: Practice, room: float, hub: float
) -> Finding:
    if is_bushed(offered) or offered.hub_style in {HubStyle.SPLIT, HubStyle.D, HubStyle.FLANGED}:
        return _diameter_finding(required, "A hub that cannot be turned down: diameter", hub, room)
    shaft = required.shaft
    missing = "the hub's style" if offered.hub_style is None else "the shaft's size"
    if offered.hub_style is None or shaft is None or shaft.diameter_mm is None:
        return not_known(
            Aspect.ENVELOPE,
            fact(
                "text",
                text=f"The hub ({size_text(hub)}) has to be turned down to {size_text(room)}; without {missing} nobody can say whether it can be.",
            ),
            required=room,
            offered=hub,
        )
    wall = wall_over_keyseat_mm(room, shaft.diameter_mm, shaft)
    wanted = wanted_wall_mm(shaft.diameter_mm, shaft, practice)
    if wall < wanted:
        return Finding(
            aspect=Aspect.ENVELOPE,
            outcome=Outcome.NO if required.envelope.is_measured else Outcome.REVIEW,
            required=room,
            offered=hub,
            limit=room,
            margin=round(room - hub, 3),
            facts=(
                fact(
                    "text",
                    text=f"Hub diameter {size_text(hub)}, room for {size_text(room)}: turned down, only {wall:.1f} mm would stand over the keyseat ({wanted:.1f} mm wanted).",
                ),
            ),
            sources=(fact("text", text="wall over the keyseat: judgement of this project"),),
        )
    step = practice.times.step(
        Operation.TURN_HUB, fact("text", text=f"turn the hub down from {hub:g} to {room:g} mm")
    )
    return Finding(
        aspect=Aspect.ENVELOPE,
        outcome=Outcome.WORK,
        required=room,
        offered=hub,
        limit=room,
        margin=round(room - hub, 3),
        work=(step,),
        facts=(
            fact(
                "text",
                text=f"Hub diameter {size_text(hub)}, room for {size_text(room)}: {step.detail.values['text']}; {wall:.1f} mm stay over the keyseat.",
            ),
        ),
        sources=(fact("text", text=STYLE_SOURCE),),
    )
