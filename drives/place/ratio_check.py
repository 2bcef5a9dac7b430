"""Another tooth count on a drive: the ratio, the chain length, and whether the centre can take it up."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from drives.chain.geometry import driven_speed_rpm, minimum_centre_mm, touching_centre_mm
from drives.chain.length import even_links, links_exact
from drives.chain.take_up import TakeUp, is_taken_up, take_up_lengths
from drives.place.duty import Duty, PlacedPart
from inventory.facts import Fact, fact
from inventory.interchange.findings import Finding, WorkStep, compared
from inventory.interchange.requirement import Engagement, Requirement
from inventory.interchange.vocabulary import Aspect, Operation, Outcome

RATIO_SOURCES = (fact("ratio_of_teeth"), fact("exact_chain_length"))


@dataclass(frozen=True, kw_only=True)
class RatioChange:
    """What another count does to the drive."""

    finding: Finding
    change_percent: float
    links: int | None = None
    centre_shift_mm: float | None = None


def check_ratio(part: PlacedPart) -> RatioChange | None:
    """The drive's answer to another tooth count; None where the count is equal, free or not known."""
    old, new = part.old_teeth, part.new_teeth
    if part.required.is_idler or old is None or new is None or old == new:
        return None
    # One division, so that a change of just the tolerance does not lie beyond it by a rounding.
    change_percent = 100 * (old - new) / new if part.is_driven else 100 * (new - old) / old
    taken = _take_up(part, old, new)
    speed = {"teeth": new, "old_teeth": old, "change_percent": change_percent}
    return RatioChange(
        finding=_check_tolerance(part, speed, taken),
        change_percent=round(change_percent, 3),
        links=taken.links if taken else None,
        centre_shift_mm=round(taken.centre_shift_mm, 2) if taken else None,
    )


def driven_rpm(part: PlacedPart, own_teeth: float | None) -> float | None:
    pair = None if own_teeth is None or part.required.is_idler else part.driver_driven(own_teeth)
    if pair is None or part.duty.speed_rpm is None:
        return None
    return round(driven_speed_rpm(part.duty.speed_rpm, driver_teeth=pair[0], driven_teeth=pair[1]), 3)


def present_links(required: Requirement, duty: Duty) -> int | None:
    """Links of the chain in place: as recorded, or the even length of the recorded centre; None where that centre cannot be."""
    old, chain = required.effective_teeth, required.chain
    if duty.links is not None:
        return duty.links
    if duty.centre_distance_mm is None or chain is None or old is None or duty.mating_teeth is None:
        return None
    small, large = sorted((old, float(duty.mating_teeth)))
    try:
        return even_links(links_exact(duty.centre_distance_mm / chain.pitch_mm, z1=small, z2=large))
    except ValueError:
        return None


def _take_up(part: PlacedPart, old: float, new: float) -> TakeUp | None:
    links, chain = present_links(part.required, part.duty), part.required.chain
    before, after = part.driver_driven(old), part.driver_driven(new)
    if links is None or chain is None or before is None or after is None:
        return None
    return next(iter(lengths_taken_up(chain, part.duty, links=links, before=before, after=after)), None)


@lru_cache(maxsize=1024)
def lengths_taken_up(
    chain: Engagement, duty: Duty, *, links: int, before: tuple[float, float], after: tuple[float, float]
) -> tuple[TakeUp, ...]:
    """How the drive takes up other teeth of driver and driven, the best first; none where no chain goes round them."""
    try:
        return take_up_lengths(chain.pitch_mm, **_asked(chain, duty, links, before, after))
    except ValueError:
        return ()


def can_take_up(
    chain: Engagement, duty: Duty, *, links: int, before: tuple[float, float], after: tuple[float, float]
) -> bool:
    """Whether one of `lengths_taken_up` fits or may fit, in a part of its time."""
    try:
        return is_taken_up(chain.pitch_mm, **_asked(chain, duty, links, before, after))
    except ValueError:
        return False


def _asked(
    chain: Engagement, duty: Duty, links: int, before: tuple[float, float], after: tuple[float, float]
) -> dict[str, Any]:
    return {
        "z1": before[0],
        "z2": before[1],
        "links": links,
        "new_z1": after[0],
        "new_z2": after[1],
        "centre_mm": duty.centre_distance_mm,
        "adjustment_mm": duty.adjustment_mm,
        "touching_mm": touching_centre_mm(chain, *after),
    }


def tip_facts(
    chain: Engagement | None, teeth: tuple[float, float] | None, centre_mm: float
) -> tuple[Fact, ...]:
    """Whether the tips of the two wheels touch at the new centre, or may: makers cut them within a range."""
    if chain is None or teeth is None:
        return ()
    least_mm = minimum_centre_mm(chain, *teeth)
    if centre_mm > least_mm:
        return ()
    code = "tips_touch" if centre_mm <= touching_centre_mm(chain, *teeth) else "tips_may_touch"
    return (fact(code, centre_mm=round(centre_mm, 2), least_centre_mm=round(least_mm, 2)),)


def _check_tolerance(part: PlacedPart, speed: dict[str, float], taken: TakeUp | None) -> Finding:
    limit_percent = part.duty.ratio_tolerance_percent
    if limit_percent is None:
        return _teeth(part, Outcome.NO, (fact("ratio_tolerance_not_recorded", **speed),))
    limited = {**speed, "limit_percent": limit_percent}
    if abs(speed["change_percent"]) > limit_percent:
        return _teeth(part, Outcome.NO, (fact("ratio_beyond_tolerance", **limited),))
    if taken is None:
        return _teeth(part, Outcome.REVIEW, (fact("take_up_not_recorded", **limited),), is_unchecked=True)
    new = part.new_teeth
    after = None if new is None else part.driver_driven(new)
    movement = (*_movement(part, taken), *tip_facts(part.required.chain, after, taken.centre_mm))
    if taken.fits is False:
        return _teeth(part, Outcome.NO, (fact("ratio_change_not_taken_up", **limited), *movement))
    facts = (fact("ratio_within_tolerance", **limited), *movement)
    return _teeth(part, Outcome.REVIEW, facts, work=_work(part, taken), is_unchecked=taken.fits is None)


def _teeth(part: PlacedPart, outcome: Outcome, facts: tuple[Fact, ...], **more: Any) -> Finding:
    limit_percent = facts[0].values.get("limit_percent")
    change_percent = abs(facts[0].values["change_percent"])
    margin = None if limit_percent is None else round(limit_percent - change_percent, 3)
    figures = compared(part.required.teeth, part.offered.teeth, limit=limit_percent, margin=margin)
    return Finding(Aspect.TEETH, outcome, facts, **figures, sources=RATIO_SOURCES, **more)


def _movement(part: PlacedPart, taken: TakeUp) -> tuple[Fact, Fact]:
    """How far the shafts move, and the room that the take-up has in that direction."""
    shift_mm, reach_mm = taken.centre_shift_mm, part.duty.adjustment_mm
    keeps_chain = taken.keeps_chain or taken.links == present_links(part.required, part.duty)
    code = "shafts_move_with_same_chain" if keeps_chain else "shafts_move_with_other_chain"
    move = fact(code, links=taken.links, shift_mm=shift_mm)
    if reach_mm is None:
        return (move, fact("take_up_room_not_recorded"))
    return (move, fact("take_up_room", room_mm=reach_mm[1] if shift_mm > 0 else 0.0 - reach_mm[0]))


def _work(part: PlacedPart, taken: TakeUp) -> tuple[WorkStep, ...]:
    step = part.practice.times.step
    adjust = step(Operation.ADJUST_CENTRE, fact("move_shafts", shift_mm=taken.centre_shift_mm))
    if taken.links == present_links(part.required, part.duty):
        return (adjust,)
    return (step(Operation.FIT_CHAIN, fact("fit_chain_of_links", links=taken.links)), adjust)
