"""Tooth count, part for part: equal, or free on an idler. A drive may open another count again; see `drives.place`."""

from inventory.facts import fact
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Specification, not_known
from inventory.interchange.vocabulary import Aspect, Outcome


def effective_teeth(
    teeth: int,
    *,
    is_double_pitch_chain: bool,
    has_large_rollers: bool,
    is_double_pitch_rim: bool,
    single_cut: bool | None,
) -> float:
    """Teeth that the chain meets in one turn; a chain in every second gap meets half of them.

    Parameters
    ----------
    teeth : int
        Teeth as counted on the part, 6 to 400.
    is_double_pitch_chain, has_large_rollers : bool
        Of the chain that runs.
    is_double_pitch_rim : bool
        False for a single-pitch rim, which has two gaps per pitch of a double-pitch chain.
    single_cut : bool or None
        Of a double-pitch rim: one gap per chain pitch. None is taken as single cut by the caller's choice.

    Source: geometry; double-cut sprockets have two gaps per chain pitch (ASME B29.3 practice).

    Examples
    --------
    >>> effective_teeth(21, is_double_pitch_chain=True, has_large_rollers=False, is_double_pitch_rim=True, single_cut=False)
    10.5
    """
    halved = (
        is_double_pitch_chain and not has_large_rollers and (not is_double_pitch_rim or single_cut is False)
    )
    return teeth / 2 if halved else float(teeth)


def required_effective_teeth(required: Requirement) -> float | None:
    if required.teeth is None or required.chain is None:
        return required.teeth
    return effective_teeth(
        required.teeth,
        is_double_pitch_chain=required.chain.is_double_pitch,
        has_large_rollers=required.chain.has_large_rollers,
        is_double_pitch_rim=True,
        single_cut=required.single_cut,
    )


def offered_effective_teeth(required: Requirement, offered: Specification) -> float | None:
    if offered.teeth is None or required.chain is None or offered.chain is None:
        return offered.teeth
    return effective_teeth(
        offered.teeth,
        is_double_pitch_chain=required.chain.is_double_pitch,
        has_large_rollers=required.chain.has_large_rollers,
        is_double_pitch_rim=offered.chain.is_double_pitch,
        single_cut=offered.single_cut,
    )


def check_teeth(required: Requirement, offered: Specification, practice: Practice) -> tuple[Finding, ...]:
    """Equal passes; an idler's count is free above its least; anything else is a no for part against part."""
    if offered.teeth is None:
        return (
            not_known(
                Aspect.TEETH,
                fact("text", text="The candidate's teeth are not recorded: count them, twice."),
                required=required.teeth,
            ),
        )
    if required.is_idler:
        return (_idler_teeth(required, offered.teeth, practice),)
    if required.teeth is None:
        return (
            not_known(
                Aspect.TEETH,
                fact(
                    "text", text="This place's number of teeth is not recorded: count those of the old part."
                ),
                offered=offered.teeth,
            ),
        )
    cut_unknown = _cut_is_unknown(required, offered)
    if cut_unknown:
        return (
            not_known(
                Aspect.TEETH, fact("text", text=cut_unknown), required=required.teeth, offered=offered.teeth
            ),
        )
    wanted, given = required_effective_teeth(required), offered_effective_teeth(required, offered)
    if wanted == given:
        return (_equal(required.teeth, offered.teeth, wanted),)
    return (_different(required.teeth, offered.teeth),)


def _cut_is_unknown(required: Requirement, offered: Specification) -> str | None:
    """Double pitch, standard rollers: single or double cut decides what the count means."""
    chain, rim = required.chain, offered.chain
    if (
        chain is None
        or rim is None
        or not chain.is_double_pitch
        or chain.has_large_rollers
        or not rim.is_double_pitch
    ):
        return None
    if required.single_cut is None or offered.single_cut is None:
        side = "the candidate" if offered.single_cut is None else "the old part"
        return f"Whether {side} is single or double cut is not recorded: look whether the chain lies in every gap or in every second."
    return None


def _equal(wanted: int, given: int, effective: float | None) -> Finding:
    same = (
        f"{wanted} teeth, as wanted."
        if wanted == given
        else f"{given} teeth in every second gap run as {effective:g} on this chain, as wanted."
    )
    return Finding(
        aspect=Aspect.TEETH,
        outcome=Outcome.OK,
        facts=(fact("text", text=same),),
        required=wanted,
        offered=given,
        limit=wanted,
        margin=0.0,
    )


def _different(wanted: int, given: int) -> Finding:
    return Finding(
        aspect=Aspect.TEETH,
        outcome=Outcome.NO,
        facts=(
            fact(
                "text",
                text=f"{given} teeth instead of {wanted}: another ratio and another centre distance. "
                "Part for part that is no substitute; only a drive that is recorded with its ratio tolerance and take-up can allow it.",
            ),
        ),
        required=wanted,
        offered=given,
        limit=wanted,
        margin=float(-abs(given - wanted)),
        sources=(fact("text", text="ratio = driven teeth / driver teeth"),),
    )


def _idler_teeth(required: Requirement, given: int, practice: Practice) -> Finding:
    least = required.minimum_teeth
    if least is not None and given < least:
        return Finding(
            aspect=Aspect.TEETH,
            outcome=Outcome.NO,
            required=least,
            offered=given,
            limit=least,
            margin=float(given - least),
            facts=(
                fact(
                    "text",
                    text=f"{given} teeth: this idler needs at least {least}, fewer hammer the chain and hold too few rollers.",
                ),
            ),
            sources=(fact("text", text="least count as recorded for this position"),),
        )
    floor = (
        practice.thresholds.idler_least_teeth
        if required.teeth is None
        else min(practice.thresholds.idler_least_teeth, required.teeth)
    )
    if least is None and given < floor:
        return Finding(
            aspect=Aspect.TEETH,
            outcome=Outcome.REVIEW,
            required=required.teeth,
            offered=given,
            limit=floor,
            margin=float(given - floor),
            facts=(
                fact(
                    "text",
                    text=f"{given} teeth on an idler for which no least count is recorded: below {floor} it may hold too few rollers; have it looked at.",
                ),
            ),
            sources=(fact("text", text="17 teeth for idlers: from memory, decides nothing alone"),),
        )
    was = f" instead of {required.teeth}" if required.teeth not in (None, given) else ""
    return Finding(
        aspect=Aspect.TEETH,
        outcome=Outcome.OK,
        required=required.teeth,
        offered=given,
        limit=least or floor,
        margin=float(given - (least or floor)),
        facts=(
            fact(
                "text",
                text=f"{given} teeth{was}: an idler changes no ratio, its count is free above {least or floor}.",
            ),
        ),
        sources=(fact("text", text="an idler does not enter the ratio"),),
    )
