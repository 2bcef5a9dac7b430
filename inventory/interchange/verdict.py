"""Part for part: every check of a candidate against a requirement; all findings are kept, the worst decides."""

from dataclasses import replace

from inventory.interchange.bushing import BushesAtHand
from inventory.interchange.engagement import check_chain
from inventory.interchange.envelope import check_envelope
from inventory.interchange.findings import Consequences, Verdict
from inventory.interchange.hub import check_hub
from inventory.interchange.material import check_material
from inventory.interchange.mounting import check_mounting
from inventory.interchange.requirement import Envelope, Requirement, Shaft, Sprocket
from inventory.interchange.safety import cautions_for, check_declarations
from inventory.interchange.strands import check_strands
from inventory.interchange.teeth import check_teeth
from inventory.interchange.thresholds import Practice
from inventory.interchange.tooth_hardness import check_tooth_hardness
from inventory.interchange.vocabulary import BoreType, PositionRole, RoleKind, ShaftKind
from inventory.standards.tooth_formulas import tip_diameter_max_mm

SHIPPED = Practice()


def judge(
    required: Requirement,
    offered: Sprocket,
    *,
    practice: Practice = SHIPPED,
    bushes: BushesAtHand | None = None,
) -> Verdict:
    """Whether `offered` can replace what is required, part for part; required and offered do not commute.

    What `required` leaves out is not checked, and the verdict lists it. Without `bushes` a bush change is offered on
    condition; with them, a hub whose bush is on no shelf is refused.

    >>> from inventory.interchange.requirement import Engagement
    >>> from inventory.standards.chains import find_chain
    >>> part = Sprocket(chain=Engagement.of(find_chain("08B")), teeth=17, strands=1, bore_type=BoreType.FINISHED,
    ...                      bore_mm=25.0, keyway_width_mm=8.0)
    >>> judge(requirement_of(part), part).grade.value
    'drop_in'
    """
    findings = (
        *check_chain(required, offered, practice),
        *check_strands(required, offered, practice),
        *check_teeth(required, offered, practice),
        *check_mounting(required, offered, practice, bushes),
        *check_hub(required, offered, practice),
        *check_envelope(required, offered, practice),
        *check_material(required, offered, practice),
        *check_tooth_hardness(required, offered, practice),
        *check_declarations(required, offered),
    )
    verdict = Verdict(
        findings=findings,
        consequences=Consequences(chain_line_shift_mm=_chain_line_shift_mm(required, offered)),
    )
    return replace(
        verdict, cautions=cautions_for(verdict, required=required, offered=offered, practice=practice)
    )


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


def _chain_line_shift_mm(required: Requirement, offered: Sprocket) -> float | None:
    """How far the chain line moves when both parts sit against the same shoulder: the difference of hub lengths."""
    old = required.interface
    if old is None or old.length_through_bore_mm is None or offered.length_through_bore_mm is None:
        return None
    return round(offered.length_through_bore_mm - old.length_through_bore_mm, 3)
