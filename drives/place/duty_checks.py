"""Teeth of small fast drivers, wear of the chain in place, and lifting duty."""

from dataclasses import replace

from drives.chain.wear import elongation_limit_percent
from drives.place.duty import PlacedPart
from inventory.facts import fact
from inventory.interchange.findings import Finding, compared, not_recorded, not_required
from inventory.interchange.vocabulary import Aspect, Operation, Outcome, PositionRole

DOUBLE_PITCH_LIMIT = "double_pitch_wear_limit_percent"


def check_fast_driver(part: PlacedPart) -> tuple[Finding, ...]:
    """Small fast drivers need hardened teeth, where the position itself says nothing."""
    limits, speed_rpm, teeth = part.practice.thresholds, part.duty.speed_rpm, part.offered.teeth
    is_open = part.required.role is PositionRole.DRIVER and part.required.hardened_teeth is None
    if not is_open or speed_rpm is None or teeth is None or part.offered.hardened_teeth:
        return ()
    named = part.practice.turns_on(lambda limit: speed_rpm <= limit, "fast_driver_rpm")
    if teeth > limits.small_driver_teeth or (speed_rpm <= limits.fast_driver_rpm and not named):
        return ()
    driver = {"teeth": teeth, "speed_rpm": speed_rpm}
    if part.offered.hardened_teeth is None:
        reason = fact("fast_driver_hardness_not_recorded", **driver)
        return (not_recorded(Aspect.TOOTH_HARDNESS, reason, required="hardened").for_review(*named),)
    limit_rpm, reason = limits.fast_driver_rpm, fact("fast_driver_not_hardened", **driver)
    figures = compared("hardened", False, limit=limit_rpm, margin=round(limit_rpm - speed_rpm, 1))
    sources = (fact("stock_lists_harden_small_sprockets"), fact("fast_driver_speed_from_memory"))
    return (Finding(Aspect.TOOTH_HARDNESS, Outcome.REVIEW, (reason, *named), **figures, sources=sources),)


def check_chain_wear(part: PlacedPart) -> Finding:
    """A new sprocket under a worn chain needs a new chain as well."""
    elongation_percent, chain = part.duty.elongation_percent, part.required.chain
    if elongation_percent is None:
        return not_required(Aspect.CHAIN_WEAR, fact("chain_elongation_not_recorded"))
    counts = [teeth for teeth in (part.new_teeth, float(part.duty.mating_teeth or 0)) if teeth]
    if not counts:
        reason = fact("chain_wear_limit_not_known", elongation_percent=elongation_percent)
        return not_required(Aspect.CHAIN_WEAR, reason)
    is_double = bool(chain and chain.is_double_pitch)

    def limit(double_pitch_percent: float) -> float:
        return elongation_limit_percent(
            max(counts),
            fixed_centres=bool(part.duty.fixed_centres),
            double_pitch=is_double,
            double_pitch_percent=double_pitch_percent,
        )

    found = _against_limit(
        part, elongation_percent, limit(part.practice.thresholds.double_pitch_wear_limit_percent)
    )
    named = part.practice.turns_on(lambda percent: elongation_percent < limit(percent), DOUBLE_PITCH_LIMIT)
    if not is_double:
        return found
    found = replace(found, sources=(*found.sources, fact("double_pitch_limit_from_memory")))
    return found.for_review(*named) if named else found


def _against_limit(part: PlacedPart, elongation_percent: float, limit_percent: float) -> Finding:
    percents = {"elongation_percent": elongation_percent, "limit_percent": limit_percent}
    margin, sources = round(limit_percent - elongation_percent, 3), (fact("chain_wear_limits"),)
    figures = compared(limit_percent, elongation_percent, limit=limit_percent, margin=margin)
    if elongation_percent < limit_percent:
        reason = fact("chain_wear_within_limit", **percents)
        return Finding(Aspect.CHAIN_WEAR, Outcome.OK, (reason,), **figures, sources=sources)
    step = part.practice.times.step(Operation.FIT_CHAIN, fact("fit_new_chain"))
    reason = fact("chain_worn_out", **percents)
    return Finding(Aspect.CHAIN_WEAR, Outcome.WORK, (reason,), **figures, sources=sources, work=(step,))


def check_lifting(part: PlacedPart) -> Finding:
    """Lifting and man-riding drives get no automatic substitute."""
    if part.duty.lifting is None:
        return not_required(Aspect.DUTY, fact("lifting_not_recorded"))
    if not part.duty.lifting:
        reason, sources = fact("not_a_lifting_drive"), (fact("drive_as_recorded"),)
        return Finding(Aspect.DUTY, Outcome.OK, (reason,), required=False, sources=sources)
    reason, sources = fact("lifting_drive_takes_no_substitute"), (fact("lifting_is_for_licensed_practice"),)
    return Finding(Aspect.DUTY, Outcome.REVIEW, (reason,), required="lifting", sources=sources)
