"""Another tooth count on a drive: the ratio, the chain length, and whether the centre can take it up."""

from dataclasses import dataclass

from drives.chain.geometry import driven_speed_rpm
from drives.chain.length import centre_exact_pitches, even_links, links_exact
from drives.chain.takeup import TakeUp, take_up
from drives.place.duty import Place
from inventory.facts import fact
from inventory.interchange.values import Finding, WorkStep
from inventory.interchange.vocabulary import Aspect, Operation, Outcome

RATIO_SOURCE = (
    "ratio = driven teeth / driver teeth; exact chain length by tangents and arcs (form of ISO 10823)"
)


@dataclass(frozen=True, kw_only=True)
class RatioChange:
    """What another count does to the drive."""

    finding: Finding
    change_percent: float
    driven_rpm: float | None = None
    links: int | None = None
    centre_shift_mm: float | None = None


def ratio_change(place: Place) -> RatioChange | None:
    """The drive's answer to another tooth count; None where the count is equal, free or not known."""
    old, new = place.old_teeth, place.new_teeth
    if place.required.is_idler or old is None or new is None or old == new:
        return None
    change = 100 * ((old / new if place.is_driven else new / old) - 1)
    taken = _take_up(place, old, new)
    return RatioChange(
        finding=_finding(place, old, new, change, taken),
        change_percent=round(change, 3),
        driven_rpm=driven_rpm(place, new),
        links=taken.links if taken else None,
        centre_shift_mm=round(taken.centre_shift_mm, 2) if taken else None,
    )


def driven_rpm(place: Place, own_teeth: float | None) -> float | None:
    pair = None if own_teeth is None or place.required.is_idler else place.driver_driven(own_teeth)
    if pair is None or place.duty.speed_rpm is None:
        return None
    return round(driven_speed_rpm(place.duty.speed_rpm, driver_teeth=pair[0], driven_teeth=pair[1]), 3)


def present_links(place: Place) -> int | None:
    """Links of the chain in place: as recorded, or the even length of the recorded centre; None where that centre cannot be."""
    duty, old, chain = place.duty, place.old_teeth, place.required.chain
    if duty.links is not None:
        return duty.links
    if duty.centre_distance_mm is None or chain is None or old is None or duty.mating_teeth is None:
        return None
    small, large = sorted((old, float(duty.mating_teeth)))
    try:
        return even_links(links_exact(duty.centre_distance_mm / chain.pitch_mm, z1=small, z2=large))
    except ValueError:
        return None


def _take_up(place: Place, old: float, new: float) -> TakeUp | None:
    links, chain, before, after = (
        present_links(place),
        place.required.chain,
        place.driver_driven(old),
        place.driver_driven(new),
    )
    if links is None or chain is None or before is None or after is None:
        return None
    try:
        return take_up(
            chain.pitch_mm,
            z1=before[0],
            z2=before[1],
            links=links,
            new_z1=after[0],
            new_z2=after[1],
            centre_mm=place.duty.centre_distance_mm
            or centre_exact_pitches(links, z1=min(before), z2=max(before)) * chain.pitch_mm,
            adjustment_mm=place.duty.adjustment_mm,
        )
    except ValueError:
        return None


def _finding(place: Place, old: float, new: float, change: float, taken: TakeUp | None) -> Finding:
    tolerance = place.duty.ratio_tolerance_percent
    speed = f"{new:g} teeth instead of {old:g}: the driven shaft runs {abs(change):.1f} % {'faster' if change > 0 else 'slower'}"
    if tolerance is None:
        return _teeth(
            place,
            Outcome.NO,
            f"{speed}. What this drive allows is not recorded, so another count is not offered: record its ratio tolerance first.",
            None,
            None,
        )
    margin = round(tolerance - abs(change), 3)
    if abs(change) > tolerance:
        return _teeth(place, Outcome.NO, f"{speed}; its limit is {tolerance:g} %.", tolerance, margin)
    within = f"{speed} (its limit is {tolerance:g} %)"
    if taken is None:
        return _teeth(
            place,
            Outcome.REVIEW,
            f"{within}; chain length or centre distance is not recorded, so whether it can be taken up was not looked at: measure it.",
            tolerance,
            margin,
            unchecked=True,
        )
    if taken.fits is False:
        return _teeth(
            place,
            Outcome.NO,
            f"{within}, but it cannot be taken up: {_movement(place, taken)}.",
            tolerance,
            margin,
        )
    return _teeth(
        place,
        Outcome.REVIEW,
        f"{within}; {_movement(place, taken)}.",
        tolerance,
        margin,
        work=_work(place, taken),
        unchecked=taken.fits is None,
    )


def _teeth(
    place: Place,
    outcome: Outcome,
    text: str,
    limit: float | None,
    margin: float | None,
    *,
    work: tuple[WorkStep, ...] = (),
    unchecked: bool = False,
) -> Finding:
    return Finding(
        aspect=Aspect.TEETH,
        outcome=outcome,
        required=place.required.teeth,
        offered=place.offered.teeth,
        limit=limit,
        margin=margin,
        facts=(fact("text", text=text),),
        sources=(fact("text", text=RATIO_SOURCE),),
        work=work,
        is_unchecked=unchecked,
    )


def _movement(place: Place, taken: TakeUp) -> str:
    shift = taken.centre_shift_mm
    way = f"{abs(shift):.1f} mm {'further apart' if shift > 0 else 'closer'}"
    chain = (
        "the same chain"
        if taken.keeps_chain or taken.links == present_links(place)
        else f"a chain of {taken.links} links"
    )
    reach = place.duty.adjustment_mm
    if reach is None:
        return f"{chain} needs the shafts {way}; how far they can be moved is not recorded"
    room = reach[1] if shift > 0 else -reach[0]
    return f"{chain} needs the shafts {way}, and the take-up has {room:g} mm that way"


def _work(place: Place, taken: TakeUp) -> tuple[WorkStep, ...]:
    step = place.practice.times.step
    adjust = (
        step(
            Operation.ADJUST_CENTRE,
            fact("text", text=f"move the shafts {taken.centre_shift_mm:+.1f} mm and set the slack"),
        ),
    )
    if taken.links == present_links(place):
        return adjust
    return (step(Operation.FIT_CHAIN, fact("text", text=f"fit a chain of {taken.links} links")), *adjust)
