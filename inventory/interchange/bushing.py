"""Bushed hubs: the bush size must take the shaft, and the bush must be on the shaft or on the shelf."""

from dataclasses import dataclass

from inventory.facts import fact
from inventory.interchange.key import keyseat_for
from inventory.interchange.thresholds import Practice
from inventory.interchange.values import Finding, Requirement, Shaft, Specification, WorkStep, not_known
from inventory.interchange.vocabulary import Aspect, BoreType, KeyStandard, Operation, Outcome, ShaftKind
from inventory.interchange.wording import size_text
from inventory.standards.bushes import (
    BoreRange,
    Bush,
    BushSubstitution,
    UnknownBush,
    bush_substitution,
    find_bush,
    needs_shallow_key,
)
from inventory.standards.keys import key_for_shaft
from inventory.standards.sizes import inch_text, same_nominal


@dataclass(frozen=True, kw_only=True)
class BushAtHand:
    """A bush on some shelf."""

    size: str
    bore_mm: float
    keyway_width_mm: float | None = None
    key_standard: KeyStandard | None = None
    available: int = 1


@dataclass(frozen=True)
class BushesAtHand:
    """All bushes that are free on the shelves; given only where the shelves were looked at."""

    bushes: tuple[BushAtHand, ...] = ()

    def of(self, size: str, bore_mm: float) -> tuple[BushAtHand, ...]:
        return tuple(
            b
            for b in self.bushes
            if b.size.upper() == size.upper() and same_nominal(b.bore_mm, bore_mm) and b.available > 0
        )

    def bores_of(self, size: str) -> tuple[float, ...]:
        return tuple(
            sorted({b.bore_mm for b in self.bushes if b.size.upper() == size.upper() and b.available > 0})
        )


def check_bushed(
    required: Requirement,
    offered: Specification,
    shaft: Shaft | None,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    """A hub bored for a bush against a shaft, or against the bush that another part takes."""
    size = offered.bush_size
    if not size:
        return (
            not_known(
                Aspect.MOUNTING,
                fact(
                    "text",
                    text="The candidate takes a bush, but which size is not recorded: read it off the bush face or measure the large end.",
                ),
            ),
        )
    fitted = shaft.bush_size if shaft else (required.interface.bush_size if required.interface else None)
    if fitted and fitted.upper() == size.upper():
        return (_stays(size),)
    if shaft is None or shaft.diameter_mm is None:
        return (_against_other_size(fitted, size),)
    return _changed(size, fitted, offered, shaft, practice, bushes)


def _stays(size: str) -> Finding:
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.OK,
        required=size,
        offered=size,
        facts=(
            fact(
                "text",
                text=f"Takes the {size} bush that sits on the shaft now: clean the cone, no grease, retighten after the first hour.",
            ),
        ),
        sources=(
            fact(
                "text",
                text="designation rule: the size alone identifies the cone; retightening: taper-bush installation sheets",
            ),
        ),
    )


def _against_other_size(fitted: str | None, size: str) -> Finding:
    if not fitted:
        return not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text=f"Takes a {size} bush; neither the shaft nor a bush on it is recorded: measure the shaft.",
            ),
            offered=size,
        )
    swap = _substitution(fitted, size)
    if swap is None:
        return not_known(
            Aspect.MOUNTING,
            fact("text", text=f"Bush {fitted} or {size} is not in the tables: compare the cones by measure."),
            required=fitted,
            offered=size,
        )
    outcome = {"same": Outcome.OK, "conditional": Outcome.REVIEW, "no": Outcome.NO}[str(swap.outcome)]
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=outcome,
        required=fitted,
        offered=size,
        sources=(fact("text", text=swap.source),),
        facts=(
            fact(
                "text",
                text=f"Bush {fitted} in a hub bored for {size}: {swap.reason}."
                + (f" {'; '.join(swap.conditions)}." if swap.conditions else "")
                + (
                    " Name the shaft, and a bush of the hub's own size may do."
                    if outcome is Outcome.NO
                    else ""
                ),
            ),
        ),
    )


def _substitution(fitted: str, size: str) -> BushSubstitution | None:
    try:
        return bush_substitution(fitted, size)
    except UnknownBush:
        return None


def _changed(
    size: str,
    fitted: str | None,
    offered: Specification,
    shaft: Shaft,
    practice: Practice,
    bushes: BushesAtHand | None,
) -> tuple[Finding, ...]:
    """Another bush has to go on: does the size exist for this shaft, and is one at hand?"""
    diameter_mm = shaft.diameter_mm or 0.0
    on_shelf = bushes.of(size, diameter_mm) if bushes else ()
    if bushes is not None and not on_shelf:
        return (_with_the_present_bush(fitted, size) or _none_on_shelf(size, diameter_mm, bushes),)
    if on_shelf:
        return (
            _bush_step(size, fitted, shaft, practice, " One is on the shelf."),
            *_bush_key(size, shaft, on_shelf),
        )
    reach = _reach(size, diameter_mm)
    if reach is not None:
        return (reach,)
    return (
        _bush_step(size, fitted, shaft, practice, " Make sure that one is on the shelf."),
        *_bush_key(size, shaft, ()),
    )


def _with_the_present_bush(fitted: str | None, size: str) -> Finding | None:
    """The bush on the shaft has the cone of this hub and another length: someone may allow it."""
    pair = _against_other_size(fitted, size) if fitted else None
    return pair if pair is not None and pair.outcome is Outcome.REVIEW else None


def _bush_step(size: str, fitted: str | None, shaft: Shaft, practice: Practice, note: str) -> Finding:
    bore = size_text(shaft.diameter_mm)
    swap = f"take the {fitted} bush off and fit" if fitted else "fit"
    step: WorkStep = practice.times.step(
        Operation.CHANGE_BUSH, fact("text", text=f"{swap} a {size} bush with {bore} bore")
    )
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.WORK,
        required=shaft.diameter_mm,
        offered=size,
        work=(step,),
        facts=(
            fact(
                "text",
                text=f"Takes a {size} bush; with a {bore} bore it fits this shaft: {step.detail.values['text']}.{note}",
            ),
        ),
        sources=(
            fact(
                "text",
                text="bore ranges of the bush lists; designation rule: the size alone identifies the cone",
            ),
        ),
    )


def _none_on_shelf(size: str, diameter_mm: float, bushes: BushesAtHand) -> Finding:
    """Refused in any case; whether buying one would help depends on whether one is made."""
    reach = _reach(size, diameter_mm)
    if reach is not None and reach.outcome is Outcome.NO:
        return reach
    way_out = (
        "With that bush the hub would go on this shaft: it has to be bought first."
        if reach is None
        else str(reach.values["text"])
    )
    others = ", ".join(size_text(bore) for bore in bushes.bores_of(size)) or "none at all"
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.NO,
        required=diameter_mm,
        offered=size,
        facts=(
            fact(
                "text",
                text=f"A {size} hub is nothing without its bush, and no {size} bush with {size_text(diameter_mm)} bore is free on any shelf "
                f"(free in this size: {others}). {way_out}",
            ),
        ),
        sources=(fact("text", text="a bushed sprocket and its bush are two stock items"),),
    )


def _reach(size: str, diameter_mm: float) -> Finding | None:
    """None when a list of that size covers the shaft."""
    try:
        bush = find_bush(size)
    except UnknownBush:
        return not_known(
            Aspect.MOUNTING,
            fact("text", text=f"Bush {size} is not in the tables: its bore range has to be looked up."),
            required=diameter_mm,
            offered=size,
        )
    if not bush.bore_ranges or _is_unseen(bush):
        return not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text=f"Which bores a {size} bush is made in was never seen in a source: a bush with {size_text(diameter_mm)} bore has to be found first.",
            ),
            required=diameter_mm,
            offered=size,
        )
    if any(_covers(bores, diameter_mm) for bores in bush.bore_ranges if bores.is_confirmed):
        return None
    least = min(r.min_mm for r in bush.bore_ranges)
    most = max(r.max_mm for r in bush.bore_ranges)
    if least - 0.006 <= diameter_mm <= most + 0.006:
        return not_known(
            Aspect.MOUNTING,
            fact(
                "text",
                text=f"A {size} bush with {size_text(diameter_mm)} bore stands in no list that was read and confirmed: find the bush first.",
            ),
            required=diameter_mm,
            offered=size,
        )
    too_large = diameter_mm > most
    return Finding(
        aspect=Aspect.MOUNTING,
        outcome=Outcome.NO if too_large else Outcome.REVIEW,
        required=diameter_mm,
        offered=size,
        limit=most if too_large else least,
        margin=round(most - diameter_mm if too_large else diameter_mm - least, 3),
        facts=(
            fact(
                "text",
                text=f"The shaft is {size_text(diameter_mm)}; a {size} bush is listed with bores from {size_text(least)} to {size_text(most)}."
                + ("" if too_large else " Smaller bores belong to a maker's list: ask."),
            ),
        ),
        sources=(fact("text", text="; ".join(dict.fromkeys(r.source for r in bush.bore_ranges))),),
    )


def _covers(bores: BoreRange, diameter_mm: float) -> bool:
    return bores.min_mm - 0.006 <= diameter_mm <= bores.max_mm + 0.006


def _is_unseen(bush: Bush) -> bool:
    return bush.series == "qd" or not any(bores.is_confirmed for bores in bush.bore_ranges)


def _bush_key(size: str, shaft: Shaft, on_shelf: tuple[BushAtHand, ...]) -> tuple[Finding, ...]:
    """The bush carries its own keyway: of which standard, and is it a shallow one?"""
    if shaft.kind is not ShaftKind.KEYED or shaft.diameter_mm is None:
        return ()
    wanted = keyseat_for(shaft)
    if wanted.width_mm is None:
        return (
            not_known(
                Aspect.KEY,
                fact(
                    "text",
                    text=f"The key of the {size_text(shaft.diameter_mm)} shaft is not recorded: measure it, the bush has a keyway of its own standard.",
                ),
            ),
        )
    known = [bush.keyway_width_mm for bush in on_shelf if bush.keyway_width_mm is not None]
    if any(same_nominal(width, wanted.width_mm) for width in known) or (
        known and len(known) == len(on_shelf)
    ):
        return (_shelf_key(wanted.width_mm, known),)
    return _listed_key(size, shaft, wanted.width_mm)


def _shelf_key(wanted_mm: float, known: list[float]) -> Finding:
    fits = any(same_nominal(width, wanted_mm) for width in known)
    return Finding(
        aspect=Aspect.KEY,
        outcome=Outcome.OK if fits else Outcome.NO,
        required=wanted_mm,
        offered=known[0],
        limit=wanted_mm,
        facts=(
            fact(
                "text",
                text=f"The bush on the shelf has a {size_text(wanted_mm)} keyway."
                if fits
                else f"The bush on the shelf has a {size_text(known[0])} keyway, the key is {size_text(wanted_mm)}: same bore, other key standard.",
            ),
        ),
        sources=(
            fact(
                "text",
                text="keyway as recorded for the bush; European inch bushes carry BS 46-1:1958 keyways",
            ),
        ),
    )


def _listed_key(size: str, shaft: Shaft, wanted_mm: float) -> tuple[Finding, ...]:
    diameter_mm = shaft.diameter_mm or 0.0
    shallow = _shallow(size, diameter_mm)
    if shallow is None:
        return (
            not_known(
                Aspect.KEY,
                fact(
                    "text",
                    text=f"Whether a {size} bush with {size_text(diameter_mm)} bore has a shallow keyway is not settled by the lists that were read: look at the bush.",
                ),
                required=wanted_mm,
            ),
        )
    if shallow:
        return (
            Finding(
                aspect=Aspect.KEY,
                outcome=Outcome.REVIEW,
                required=wanted_mm,
                offered="shallow keyway",
                facts=(
                    fact(
                        "text",
                        text=f"A {size} bush with {size_text(diameter_mm)} bore has a shallow keyway: it wants a lower key. Measure the bush before the key is made.",
                    ),
                ),
                sources=(fact("text", text="bush lists: largest bores are made with a shallow keyway"),),
            ),
        )
    standard = KeyStandard.BS_46 if inch_text(diameter_mm) else KeyStandard.ISO_773
    usual = key_for_shaft(diameter_mm, standard.value)
    if usual is not None and not same_nominal(usual.width_mm, wanted_mm):
        kind = "European bush of this inch bore" if standard is KeyStandard.BS_46 else "bush of this bore"
        return (
            Finding(
                aspect=Aspect.KEY,
                outcome=Outcome.REVIEW,
                required=wanted_mm,
                offered=usual.width_mm,
                limit=wanted_mm,
                facts=(
                    fact(
                        "text",
                        text=f"The key is {size_text(wanted_mm)}; a {kind} has a {size_text(usual.width_mm)} keyway ({standard.value}). Read the bush before it is fitted.",
                    ),
                ),
                sources=(
                    fact(
                        "text",
                        text="keyways of the bush lists: ISO 773 in metric bores, BS 46-1:1958 in European inch bores",
                    ),
                ),
            ),
        )
    return (
        Finding(
            aspect=Aspect.KEY,
            outcome=Outcome.OK,
            required=wanted_mm,
            offered=wanted_mm,
            limit=wanted_mm,
            facts=(fact("text", text=f"A bush of this bore is made with a {size_text(wanted_mm)} keyway."),),
            sources=(fact("text", text="keyways of the bush lists"),),
        ),
    )


def _shallow(size: str, diameter_mm: float) -> bool | None:
    try:
        return needs_shallow_key(size, diameter_mm)
    except ValueError:
        return None


def is_bushed(offered: Specification) -> bool:
    return offered.bore_type in {BoreType.TAPERED, BoreType.QD}
