"""Attributes of a candidate that are not recorded, and without which it is left for review at a position."""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from itertools import product
from typing import Any

from drives.place.duty import Duty
from drives.place.verdict import findings_for_place
from inventory.interchange.findings import Finding, Verdict
from inventory.interchange.requirement import Requirement, Sprocket
from inventory.interchange.thresholds import Practice
from inventory.interchange.vocabulary import Aspect, BoreType, Grade, HubStyle, Material, Outcome, ShaftKind

MOST_TOGETHER = 3
"""A candidate that lacks more is not measured but described anew. Judgement."""
HUB_IN_SHAFTS = 2.0
"""A hub twice as wide as its shaft leaves room for keyseat and bearing: a value to try, judgement."""
USUAL_SET_SCREWS = 2
BORES_OF_SHAFT = {
    ShaftKind.HEX: (BoreType.HEX,),
    ShaftKind.PIN: (BoreType.BEARING,),
    ShaftKind.SPLINE: (),
}
ROUND = (BoreType.FINISHED, BoreType.TAPERED, BoreType.QD, BoreType.PLAIN)

Values = tuple[Any, ...]
Filling = dict[str, Any]
"""A value by attribute."""


def _bore_types(required: Requirement) -> Values:
    if required.shaft is None:
        return ROUND if required.interface is None else (required.interface.bore_type,)
    return BORES_OF_SHAFT.get(required.shaft.kind, ROUND)


def _of_shaft(name: str) -> Callable[[Requirement], Values]:
    return lambda required: (getattr(required.shaft, name, None),)


def _of_interface(name: str) -> Callable[[Requirement], Values]:
    return lambda required: (getattr(required.interface, name, None),)


def _of_place(name: str) -> Callable[[Requirement], Values]:
    return lambda required: (getattr(required, name),)


def _bush_sizes(required: Requirement) -> Values:
    return (*_of_shaft("bush_size")(required), *_of_interface("bush_size")(required))


def _hubs(required: Requirement) -> Values:
    shaft_mm = required.shaft and required.shaft.diameter_mm
    wide = shaft_mm * HUB_IN_SHAFTS if shaft_mm else None
    return (wide, required.envelope.hub_diameter_mm, *_of_interface("hub_diameter_mm")(required))


def _lengths(required: Requirement) -> Values:
    return (required.envelope.length_through_bore_mm, *_of_interface("length_through_bore_mm")(required))


def _teeth_widths(required: Requirement) -> Values:
    chain = required.chain
    return () if chain is None else (chain.standard_tooth_width_mm(required.strands or 1),)


FITTING: Mapping[str, Callable[[Requirement], Values]] = {
    "chain": _of_place("chain"),
    "strands": _of_place("strands"),
    "teeth": _of_place("teeth"),
    "bore_type": _bore_types,
    "bore_mm": _of_shaft("diameter_mm"),
    "hex_across_flats_mm": _of_shaft("across_flats_mm"),
    "bush_size": _bush_sizes,
    "keyway_width_mm": _of_shaft("key_width_mm"),
    "keyway_depth_mm": _of_shaft("keyway_depth_mm"),
    "set_screws": lambda required: (USUAL_SET_SCREWS,),
    "max_bore_mm": _of_shaft("diameter_mm"),
    "hub_style": lambda required: (required.hub_style or HubStyle.B,),
    "hub_diameter_mm": _hubs,
    "length_through_bore_mm": _lengths,
    "tooth_width_mm": _teeth_widths,
    "single_cut": lambda required: (True, False),
    "material": lambda required: (required.material or Material.CARBON_STEEL,),
    "material_grade": _of_place("material_grade"),
    "hardened_teeth": lambda required: (True, False),
}
"""By attribute that a person at the shelf can see or measure, values that would suit the position; in the order in which they are taken.

A declaration (food contact, non-sparking) stands on paper, and nobody measures it.
"""

RIM, MOUNTING, ROOM = (
    frozenset({Aspect.CHAIN, Aspect.TEETH, Aspect.STRANDS}),
    Aspect.MOUNTING,
    Aspect.ENVELOPE,
)
ASPECTS: Mapping[str, frozenset[Aspect]] = {
    "chain": RIM | {Aspect.RATING, ROOM},
    "strands": RIM | {Aspect.RATING, ROOM, Aspect.HUB},
    "teeth": RIM | {Aspect.RATING, ROOM, Aspect.MATERIAL},
    "bore_type": frozenset({MOUNTING, Aspect.KEY, Aspect.HUB}),
    "bore_mm": frozenset({MOUNTING, Aspect.KEY}),
    "hex_across_flats_mm": frozenset({MOUNTING}),
    "bush_size": frozenset({MOUNTING, Aspect.KEY, Aspect.HUB}),
    "keyway_width_mm": frozenset({MOUNTING, Aspect.KEY}),
    "keyway_depth_mm": frozenset({Aspect.KEY}),
    "set_screws": frozenset({MOUNTING}),
    "max_bore_mm": frozenset({MOUNTING, Aspect.KEY}),
    "hub_style": frozenset({Aspect.HUB, ROOM, MOUNTING}),
    "hub_diameter_mm": frozenset({MOUNTING, Aspect.KEY, Aspect.HUB, ROOM}),
    "length_through_bore_mm": frozenset({MOUNTING, Aspect.KEY, Aspect.HUB, ROOM}),
    "tooth_width_mm": RIM | {Aspect.HUB, ROOM},
    "single_cut": RIM,
    "material": frozenset({Aspect.MATERIAL, Aspect.TOOTH_HARDNESS}),
    "material_grade": frozenset({Aspect.MATERIAL}),
    "hardened_teeth": frozenset({Aspect.TOOTH_HARDNESS}),
}
"""Where a person looks for what is not known: the checks that the attribute decides."""


def fitting_values(name: str, required: Requirement) -> Values:
    return tuple(value for value in FITTING[name](required) if value is not None)


def fillings(required: Requirement, offered: Sprocket, names: Iterable[str]) -> Iterator[Filling]:
    """What of these is missing, all of it filled, in each way that could suit."""
    missing = {name: fitting_values(name, required) for name in names if getattr(offered, name) is None}
    known = {name: values for name, values in missing.items() if values}
    for chosen in product(*known.values()) if known else ():
        yield dict(zip(known, chosen, strict=True))


def left_for_lack(findings: Iterable[Finding]) -> bool:
    """Whether something is not known and nothing refuses: a refusal stands, whatever else is recorded."""
    found = tuple(findings)
    return any(one.is_unchecked and one.outcome is Outcome.REVIEW for one in found) and not any(
        one.outcome is Outcome.NO for one in found
    )


def blocking_attributes(
    required: Requirement, offered: Sprocket, *, duty: Duty, practice: Practice
) -> tuple[tuple[str, ...], bool]:
    """Attributes that keep the candidate from serving, and whether each does so alone; none where recording them helps nothing.

    One does alone where with a fitting value, and nothing else changed, the candidate would serve. One without chain and
    teeth could be anything: it is identified first.
    """

    def findings(part: Sprocket) -> tuple[Finding, ...]:
        return findings_for_place(required, part, duty=duty, practice=practice)

    def serves(filling: Filling) -> bool:
        found = findings(replace(offered, **filling))
        return Verdict(findings=found).grade in (Grade.DROP_IN, Grade.WITH_WORK)

    found = findings(offered)
    is_unknown = offered.chain is None and offered.teeth is None
    if duty.lifting or is_unknown or not left_for_lack(found):
        return (), False
    aspects = {one.aspect for one in found if one.is_unchecked and one.outcome is Outcome.REVIEW}
    names = [name for name in FITTING if aspects & ASPECTS[name]]
    every = next((filling for filling in fillings(required, offered, names) if serves(filling)), {})
    alone = tuple(
        name for name in every if any(serves(filling) for filling in fillings(required, offered, (name,)))
    )
    if alone:
        return alone, True
    together = _needed(every, serves)
    return (together, False) if len(together) <= MOST_TOGETHER else ((), False)


def _needed(filling: Filling, serves: Callable[[Filling], bool]) -> tuple[str, ...]:
    """Without any one of these it would not serve; the last in order are left out first."""
    needed = dict(filling)
    for name in reversed(filling):
        without = {other: value for other, value in needed.items() if other != name}
        if serves(without):
            needed = without
    return tuple(needed)
