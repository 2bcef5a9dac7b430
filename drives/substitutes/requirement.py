"""What a position asks for: its own record first, then its drive's, then what sits there now; each borrowing is said."""

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from drives.models import Drive, Inspection, Installation, Position, RequirementBasis
from drives.place.duty import Duty
from inventory.catalogue.core_values import attributes_of, engagement_of, number, word_or_none
from inventory.interchange.part_requirement import shaft_of
from inventory.interchange.requirement import Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import (
    Environment,
    HubStyle,
    KeyStandard,
    Material,
    PositionRole,
    ShaftKind,
)

BORROWED = {
    "chain": "chain",
    "strands": "number of strands",
    "teeth": "number of teeth",
    "shaft": "shaft",
    "single_cut": "cut of the teeth",
    "hub_style": "hub style",
    "material": "material",
    "hardened_teeth": "tooth hardness",
}


@dataclass(frozen=True)
class PlaceAsked:
    """A position with everything that its verdicts need."""

    position: Position
    fitted: Installation | None
    required: Requirement
    duty: Duty
    notes: tuple[str, ...]


def place_asked(position: Position) -> PlaceAsked:
    """The requirement and duty of a position, loaded with its drive; four queries with what this asks for itself."""
    fitted = _fitted(position)
    own = _own_requirement(position)
    record = _specification(fitted)
    required, borrowed = _completed(own, record)
    notes = (
        [
            f"Not recorded for this position, taken from the fitted unit: {', '.join(BORROWED[name] for name in borrowed)}."
        ]
        if borrowed
        else []
    )
    if position.requirement_basis == RequirementBasis.COPIED:
        notes.append(
            "The requirement was copied from what was fitted: an answer means equal to that, not to a drawing."
        )
    return PlaceAsked(position, fitted, required, _duty(position), tuple(notes))


def _fitted(position: Position) -> Installation | None:
    return (
        Installation.objects.still_fitted()
        .select_related("item__specification", "specification")
        .filter(position=position)
        .first()
    )


def _specification(fitted: Installation | None) -> Sprocket | None:
    if fitted is None:
        return None
    record = fitted.specification or (fitted.item.specification if fitted.item else None)
    return attributes_of(record) if record is not None and record.kind == "sprocket" else None


def fitted_attributes(position: Position) -> Sprocket | None:
    """The sprocket that sits at a position now, as far as it is recorded."""
    return _specification(_fitted(position))


def _own_requirement(position: Position) -> Requirement:
    drive = position.drive
    hardened = (
        position.hardened_teeth if position.hardened_teeth is not None else drive.hardened_teeth_required
    )
    return Requirement(
        chain=engagement_of(drive),
        strands=drive.strands,
        teeth=position.teeth,
        role=PositionRole(position.role),
        minimum_teeth=position.minimum_teeth,
        shaft=_shaft(position),
        hub_style=word_or_none(HubStyle, position.hub_style),
        material=word_or_none(Material, position.material),
        hardened_teeth=hardened,
        environment=frozenset(Environment(word) for word in drive.environment),
        envelope=Envelope(
            outside_diameter_mm=number(position.envelope_outside_diameter_mm),
            hub_diameter_mm=number(position.envelope_hub_diameter_mm),
            length_through_bore_mm=number(position.envelope_length_through_bore_mm),
            is_measured=position.requirement_basis == RequirementBasis.STATED,
        ),
        food_contact_required=drive.food_contact_required,
        non_sparking_required=drive.non_sparking_required,
        is_shock_loaded=None if not drive.shock else drive.shock != "smooth",
    )


def _shaft(position: Position) -> Shaft | None:
    if not position.shaft_kind:
        return None
    return Shaft(
        kind=ShaftKind(position.shaft_kind),
        diameter_mm=number(position.shaft_diameter_mm),
        key_width_mm=number(position.key_width_mm),
        key_height_mm=number(position.key_height_mm),
        keyway_depth_mm=number(position.keyway_depth_mm),
        key_standard=word_or_none(KeyStandard, position.key_standard),
        across_flats_mm=number(position.hex_across_flats_mm),
        bush_size=position.bush_size or None,
    )


def _completed(own: Requirement, fitted: Sprocket | None) -> tuple[Requirement, list[str]]:
    """What the position does not say, as the unit that sits there has it."""
    if fitted is None:
        return own, []
    offered: dict[str, Any] = {
        "chain": fitted.chain,
        "strands": fitted.strands,
        "teeth": fitted.teeth,
        "single_cut": fitted.single_cut,
        "shaft": shaft_of(fitted),
        "hub_style": fitted.hub_style,
        "material": fitted.material,
    }
    borrowed = {
        name: value for name, value in offered.items() if getattr(own, name) is None and value is not None
    }
    return replace(own, **borrowed), list(borrowed)


def _duty(position: Position) -> Duty:
    drive = position.drive
    return Duty(
        power_kw=number(drive.power_kw),
        speed_rpm=number(drive.driver_speed_rpm),
        service_factor=number(drive.service_factor),
        mating_teeth=_mating_teeth(position),
        centre_distance_mm=number(drive.centre_distance_mm),
        links=drive.links,
        centre_adjustment_mm=_adjustment(drive.centre_adjustment_min_mm, drive.centre_adjustment_max_mm),
        fixed_centres=drive.fixed_centres,
        ratio_tolerance_percent=number(drive.ratio_tolerance_percent),
        lifting=drive.lifting,
        elongation_percent=_elongation_percent(drive),
    )


def _adjustment(least: Decimal | None, most: Decimal | None) -> tuple[float, float] | None:
    return None if least is None or most is None else (float(least), float(most))


def _mating_teeth(position: Position) -> int | None:
    """Teeth of the sprocket that this one drives or is driven by; None when there is none or more than one answer."""
    mate = {PositionRole.DRIVER: PositionRole.DRIVEN, PositionRole.DRIVEN: PositionRole.DRIVER}.get(
        PositionRole(position.role)
    )
    if mate is None:
        return None
    teeth = {
        other.teeth
        for other in position.drive.positions.all()
        if other.role == mate and other.teeth is not None
    }
    return teeth.pop() if len(teeth) == 1 else None


def _elongation_percent(drive: Drive) -> float | None:
    """The last elongation that somebody measured on this drive; a chain renewed since has to be measured again."""
    last = (
        Inspection.objects.filter(position__drive=drive, elongation_percent__isnull=False)
        .order_by("-at", "-id")
        .values_list("elongation_percent", flat=True)
        .first()
    )
    return number(last)
