"""Metal can be taken away: pilot bores finished, finished bores opened, as far as the hub allows with its keyway."""

from dataclasses import dataclass

from inventory.facts import fact
from inventory.interchange.key import keyseat_for, wall_over_keyseat_mm, wanted_wall_mm
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Shaft, Specification, WorkStep, not_known
from inventory.interchange.vocabulary import Aspect, BoreType, HubStyle, Operation, Outcome, ShaftKind
from inventory.interchange.wording import size_text

BORING_SOURCE = "greatest bore as recorded for the part; wall over the keyseat computed as (hub - bore) / 2 - depth; least wall: judgement of this project"


@dataclass(frozen=True)
class _Room:
    """How far the hub can be opened for this shaft."""

    greatest_mm: float | None
    wall_mm: float | None
    wanted_wall_mm: float

    @property
    def is_wall_thin(self) -> bool:
        return self.wall_mm is not None and self.wall_mm < self.wanted_wall_mm


def bore_up(
    required: Requirement, offered: Specification, shaft: Shaft, practice: Practice
) -> tuple[Finding, ...]:
    """A round bore not larger than the shaft: bore, cut the keyseat, drill the set screws, where the wall allows."""
    if offered.bore_type is BoreType.SPLIT:
        return (_split(shaft, offered),)
    if is_plate_on_key(required, offered, shaft):
        return (plate_on_key(offered, shaft, practice),)
    room = _room(offered, shaft, practice)
    refusal = _refusal(offered, shaft, room)
    if refusal is not None:
        return (refusal,)
    if shaft.kind is ShaftKind.KEYED and keyseat_for(shaft).width_mm is None:
        return (
            not_known(
                Aspect.KEY,
                fact(
                    "text",
                    text=f"The key of the {size_text(shaft.diameter_mm)} shaft is not recorded: measure its width, then the hub can be bored and slotted.",
                ),
            ),
            _boring(offered, shaft, practice),
        )
    return (_boring(offered, shaft, practice, room), *_key_to_cut(shaft, offered))


def is_plate_on_key(required: Requirement, offered: Specification, shaft: Shaft) -> bool:
    """A plate where the place does not say that it wants one: its side area is too small for a key."""
    return (
        offered.hub_style is HubStyle.A
        and shaft.kind is ShaftKind.KEYED
        and required.hub_style is not HubStyle.A
    )


def plate_on_key(offered: Specification, shaft: Shaft, practice: Practice) -> Finding:
    """For review: a hub has to be welded or bolted on."""
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.REVIEW,
        required=shaft.diameter_mm,
        offered="plate without hub",
        facts=(
            fact(
                "text",
                text="A plate is too thin to carry a key: it needs a hub welded or bolted on, trued after welding, teeth kept cool.",
            ),
        ),
        sources=(
            fact("text", text="rules H3 and H4 of common practice: the key carries torque by its side area"),
        ),
        work=(practice.times.step(Operation.WELD_HUB, fact("weld_on_hub")),),
    )


def _key_to_cut(shaft: Shaft, offered: Specification) -> tuple[Finding, ...]:
    if shaft.kind is not ShaftKind.KEYED:
        return ()
    keyseat = keyseat_for(shaft)
    return (
        Finding(
            aspect=Aspect.KEY,
            outcome=Outcome.WORK,
            required=keyseat.width_mm,
            offered=offered.keyway_width_mm,
            limit=keyseat.width_mm,
            facts=(fact("text", text=f"The keyseat is cut to the key on the shaft: {keyseat.text}."),),
            sources=(
                fact(
                    "text",
                    text=f"{keyseat.standard.value} key table"
                    if keyseat.standard
                    else "key as recorded for the shaft",
                ),
            ),
        ),
    )


def _split(shaft: Shaft, offered: Specification) -> Finding:
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.REVIEW,
        required=shaft.diameter_mm,
        offered=offered.bore_mm,
        facts=(
            fact(
                "text",
                text=f"A split hub of {size_text(offered.bore_mm)} can only be opened with its halves bolted up: ask the shop whether it can.",
            ),
        ),
    )


def _room(offered: Specification, shaft: Shaft, practice: Practice) -> _Room:
    shaft_mm = shaft.diameter_mm or 0.0
    hubs = [size for size in (offered.hub_diameter_mm, offered.hub_diameter_2_mm) if size is not None]
    wall = wall_over_keyseat_mm(min(hubs), shaft_mm, shaft) if hubs else None
    return _Room(offered.max_bore_mm, wall, wanted_wall_mm(shaft_mm, shaft, practice))


def _refusal(offered: Specification, shaft: Shaft, room: _Room) -> Finding | None:
    shaft_mm = shaft.diameter_mm or 0.0
    if room.greatest_mm is not None and shaft_mm > room.greatest_mm + 0.006:
        return Finding(
            aspect=Aspect.MOUNTING,
            outcome=Outcome.NO,
            required=shaft_mm,
            offered=room.greatest_mm,
            limit=room.greatest_mm,
            margin=round(room.greatest_mm - shaft_mm, 4),
            sources=(fact("text", text=BORING_SOURCE),),
            facts=(
                fact(
                    "text",
                    text=f"Bore {size_text(offered.bore_mm)} can be opened to {size_text(room.greatest_mm)} at most; the shaft is {size_text(shaft_mm)}.",
                ),
            ),
        )
    if room.is_wall_thin and room.wall_mm is not None:
        return _thin_wall(offered, shaft_mm, room, room.wall_mm)
    if room.greatest_mm is None and room.wall_mm is None:
        return not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text=f"Bore {size_text(offered.bore_mm)}, shaft {size_text(shaft_mm)}: how far it may be bored is not recorded; measure the hub and look at the wall over the keyseat.",
            ),
            required=shaft_mm,
            offered=offered.bore_mm,
        )
    return None


def _thin_wall(offered: Specification, shaft_mm: float, room: _Room, wall_mm: float) -> Finding:
    maker_allows = room.greatest_mm is not None
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.REVIEW if maker_allows and wall_mm > 0 else Outcome.NO,
        required=shaft_mm,
        offered=offered.bore_mm,
        limit=round(room.wanted_wall_mm, 3),
        margin=round(wall_mm - room.wanted_wall_mm, 3),
        facts=(
            fact(
                "text",
                text=f"Bored to {size_text(shaft_mm)}, the hub ({size_text(offered.widest_hub_mm)}) keeps {wall_mm:.1f} mm over the keyseat; "
                f"{room.wanted_wall_mm:.1f} mm are wanted: it would crack from the keyseat corner."
                + (" The recorded greatest bore says otherwise: have it decided." if maker_allows else ""),
            ),
        ),
        sources=(fact("text", text=BORING_SOURCE),),
    )


def _boring(offered: Specification, shaft: Shaft, practice: Practice, room: _Room | None = None) -> Finding:
    shaft_mm = shaft.diameter_mm or 0.0
    steps = _steps(offered, shaft, practice)
    minutes = [step.minutes for step in steps]
    total = (
        ""
        if any(m is None for m in minutes)
        else f" About {sum(m or 0 for m in minutes)} minutes in the shop."
    )
    wall = (
        f" The wall left over the key is {room.wall_mm:.1f} mm ({room.wanted_wall_mm:.1f} mm wanted)."
        if room and room.wall_mm is not None
        else ""
    )
    kind = "Pilot bore" if offered.bore_type is BoreType.PLAIN else "Bore"
    limit = room.greatest_mm if room else None
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.WORK,
        required=shaft_mm,
        offered=offered.bore_mm,
        limit=limit,
        margin=None if limit is None else round(limit - shaft_mm, 4),
        work=steps,
        sources=(fact("text", text=BORING_SOURCE),),
        facts=(
            fact(
                "text",
                text=f"{kind} {size_text(offered.bore_mm)}, shaft {size_text(shaft_mm)}: {_and(steps)}.{wall}{total}",
            ),
        ),
    )


def _steps(offered: Specification, shaft: Shaft, practice: Practice) -> tuple[WorkStep, ...]:
    step = practice.times.step
    shaft_mm, bore_mm = shaft.diameter_mm or 0.0, offered.bore_mm or 0.0
    steps = []
    if shaft_mm - bore_mm > practice.thresholds.bore_tolerance_mm:
        steps.append(step(Operation.BORE, fact("text", text=f"bore to {shaft_mm:g} H8")))
    if shaft.kind is ShaftKind.KEYED:
        keyseat = keyseat_for(shaft)
        clear = ", clear of the old one" if offered.keyway_width_mm else ""
        size = keyseat.text if keyseat.width_mm is not None else "matching"
        steps.append(step(Operation.CUT_KEYSEAT, fact("text", text=f"cut a {size} keyseat{clear}")))
    if not offered.set_screws and offered.bore_type is BoreType.PLAIN:
        steps.append(
            step(
                Operation.DRILL_SET_SCREWS,
                fact("text", text="drill and tap for set screws, one over the key and one at 90°"),
            )
        )
    return tuple(steps)


def _and(steps: tuple[WorkStep, ...]) -> str:
    words = [str(step.detail.values["text"]) for step in steps] or ["goes on as it is"]
    return words[0] if len(words) == 1 else ", ".join(words[:-1]) + " and " + words[-1]


def pilot_for_pilot(interface: Specification, offered: Specification) -> tuple[Finding, ...]:
    """One pilot-bored part for another: not a larger pilot bore, not a smaller greatest bore."""
    wanted, given = interface.bore_mm, offered.bore_mm
    if wanted is None or given is None:
        return (
            not_known(
                Aspect.MOUNTING,
                fact("text", text="The pilot bore is not recorded on one side: measure it."),
                required=wanted,
                offered=given,
            ),
        )
    if given > wanted + 0.006:
        return (
            Finding(
                aspect=Aspect.MOUNTING,
                outcome=Outcome.NO,
                required=wanted,
                offered=given,
                limit=wanted,
                margin=round(wanted - given, 4),
                facts=(
                    fact(
                        "text",
                        text=f"Its pilot bore {size_text(given)} is larger than {size_text(wanted)}: small shafts are out of reach.",
                    ),
                ),
            ),
        )
    most_wanted, most_given = interface.max_bore_mm, offered.max_bore_mm
    if most_wanted is not None and (most_given is None or most_given < most_wanted - 0.006):
        return (
            not_known(
                Aspect.MOUNTING,
                fact(
                    "text",
                    text=f"The part it stands for can be bored to {size_text(most_wanted)}, this one to {size_text(most_given)}: name the shaft it is for.",
                ),
                required=most_wanted,
                offered=most_given,
            ),
        )
    return (
        Finding(
            aspect=Aspect.MOUNTING,
            outcome=Outcome.OK,
            required=wanted,
            offered=given,
            limit=wanted,
            margin=round(wanted - given, 4),
            facts=(
                fact(
                    "text",
                    text=f"Pilot bore {size_text(given)}: takes every shaft that the other could be bored for.",
                ),
            ),
        ),
    )
