"""What a part, standing for its position, requires of its replacement."""

from inventory.interchange.requirement import Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.vocabulary import BoreType, PositionRole, RoleKind, ShaftKind
from inventory.standards.tooth_formulas import tip_diameter_max_mm


def requirement_of(part: Sprocket) -> Requirement:
    """What a part requires of its replacement: the same interface and nothing worse.

    The envelope is the part's own size, marked as not measured: the room around it is unknown, so a larger candidate
    is for review.
    """
    return Requirement(
        chain=part.chain,
        strands=part.strands,
        teeth=part.teeth,
        role=PositionRole.IDLER if part.role_kind is RoleKind.IDLER else None,
        single_cut=part.single_cut,
        shaft=shaft_of(part),
        interface=part,
        hub_style=part.hub_style,
        material=part.material,
        material_grade=part.material_grade,
        hardened_teeth=part.hardened_teeth,
        envelope=Envelope(
            outside_diameter_mm=_largest_outside_mm(part),
            hub_diameter_mm=part.widest_hub_mm,
            length_through_bore_mm=part.length_through_bore_mm,
            is_measured=False,
        ),
        food_contact_required=bool(part.food_contact),
        non_sparking_required=bool(part.non_sparking),
    )


def _largest_outside_mm(part: Sprocket) -> float | None:
    """Makers' outside diameters differ lawfully inside the range of the standard: that range is the part's envelope."""
    if part.outside_diameter_mm is None or part.chain is None or part.teeth is None:
        return part.outside_diameter_mm
    return max(
        part.outside_diameter_mm,
        tip_diameter_max_mm(
            part.chain.pitch_mm, teeth=part.teeth, roller_diameter_mm=part.chain.roller_diameter_mm
        ),
    )


def shaft_of(part: Sprocket) -> Shaft | None:
    """The shaft that a part was made for, as far as its record shows."""
    if part.bore_type in {BoreType.FINISHED, BoreType.SPLIT} and part.bore_mm is not None:
        keyed = part.keyway_width_mm is not None
        return Shaft(
            kind=ShaftKind.KEYED if keyed else ShaftKind.PLAIN,
            diameter_mm=part.bore_mm,
            key_width_mm=part.keyway_width_mm,
            keyway_depth_mm=part.keyway_depth_mm,
            key_standard=part.key_standard,
        )
    if part.bore_type is BoreType.HEX:
        return Shaft(kind=ShaftKind.HEX, across_flats_mm=part.hex_across_flats_mm)
    if part.bore_type is BoreType.BEARING:
        return Shaft(kind=ShaftKind.PIN, diameter_mm=part.bore_mm)
    return None
